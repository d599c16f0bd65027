#!/usr/bin/env bash
# bash check.sh FOLDER: each signed note in it, with other people's programs. The
# code on the page is decoded by zbarimg; the digest in it must be that of the
# entry that pdfdetach and qpdf take out of the file.
set -euo pipefail
shopt -s nullglob
notes=("$1"/*.note.pdf)
((${#notes[@]} > 0)) || { echo 'no note: nothing was checked' >&2; exit 2; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
for f in "${notes[@]}"; do
  id=$(basename "$f" .note.pdf)
  qpdf --check "$f" >/dev/null
  rm -rf "$work/x"
  mkdir "$work/x"
  pdfdetach -saveall -o "$work/x" "$f" >/dev/null
  qpdf --show-attachment=entry.json "$f" | cmp - "$work/x/entry.json"
  sum=$(sha256sum <"$work/x/entry.json" | cut -d' ' -f1)
  pages=$(pdfinfo "$f" | sed -n 's/^Pages: *//p')
  code=
  for ((p = pages; p > 0 && ${#code} == 0; p--)); do
    pdftoppm -r 200 -png -f "$p" -l "$p" -singlefile "$f" "$work/x/page"
    code=$(zbarimg -q --raw "$work/x/page.png" 2>/dev/null || true)
  done
  [[ $code == "graftnote 1 / $id / rev "*" / sha256:$sum / size "*" / root "* ]] || { echo "$id: the code says: $code" >&2; exit 1; }
  if pdfinfo "$f" | grep -E '^(Author|Subject|Keywords):'; then echo "$id: metadata" >&2; exit 1; fi
  echo "ok   $id: code, entry and attachment agree"
done
echo "${#notes[@]} signed notes"
