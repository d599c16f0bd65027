#!/usr/bin/env bash
# Second opinion on PDF files with independent readers: poppler, qpdf and, for
# the two-dimensional code, zbar.
#
#   check.sh [--expect DIR] OUTDIR...
#
# Every *.pdf below each OUTDIR is judged. What it must hold is recorded in side
# files named after it, looked for in DIR first, then beside the PDF:
#   NAME.values.txt   values that the page text must show, one per line
#   NAME.private.txt  patient data that no metadata, attachment or file name and no
#                     two-dimensional code may show
#   NAME.eye.txt      RIGHT EYE, LEFT EYE, or - for a page that belongs to no eye
#   NAME.attach.txt   attachment name, TAB, file it must equal (path from OUTDIR);
#                     an empty file means: no attachment
#   NAME.code.txt     the text of the one two-dimensional code on the pages, where
#                     it is known beforehand
# Another missing side file is a failure, not a pass. Exit 0 only when at least one PDF
# was judged and all are clean.
set -euo pipefail
export LC_ALL=C.UTF-8

expect=
if [[ ${1:-} == --expect ]]; then expect=$2; shift 2; fi
if [[ $# -eq 0 ]]; then echo "no folder given: nothing was checked" >&2; exit 2; fi
for tool in qpdf pdffonts pdfinfo pdfdetach pdftotext pdftoppm zbarimg python3; do
  command -v "$tool" >/dev/null || { echo "$tool is missing" >&2; exit 2; }
done

tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
limit=300000 # bytes; larger bodies are refused by common FHIR servers
count=0
bad=0
faults=0
fault() { faults=$((faults + 1)); echo "  $*"; }
bare() { tr -d '[:space:]\f'; }
squeeze() { tr -s '[:space:]\f' ' '; }

side() { # side PDF KIND: path of a side file, or nothing
  local stem; stem=$(basename "$1" .pdf)
  local d
  for d in ${expect:+"$expect"} "$(dirname "$1")"; do
    if [[ -f $d/$stem.$2.txt ]]; then echo "$d/$stem.$2.txt"; return; fi
  done
}

check_one() { # check_one PDF OUTDIR
  local pdf=$1 out=$2 values private eye attach
  values=$(side "$pdf" values); private=$(side "$pdf" private)
  eye=$(side "$pdf" eye); attach=$(side "$pdf" attach)
  local kind
  for kind in values private eye attach; do
    [[ -n ${!kind} ]] || { fault "no side file .$kind.txt"; return; }
  done
  [[ -s $values ]] || fault "no recorded value to look for"

  local size; size=$(stat -c %s "$pdf")
  ((size <= limit)) || fault "$size bytes, limit $limit"

  # Structure. qpdf exits 2 on errors and 3 on warnings; both are faults here.
  qpdf --check "$pdf" >"$tmp/qpdf" 2>&1 || { fault "qpdf --check: $(grep -v '^checking' "$tmp/qpdf" | head -n 3 | tr '\n' ' ')"; return; }
  pdfinfo "$pdf" >"$tmp/info" 2>"$tmp/err" || { fault "pdfinfo cannot read it"; return; }
  [[ ! -s $tmp/err ]] || fault "pdfinfo complains: $(head -n 1 "$tmp/err")"
  grep -qE '^Encrypted: +no' "$tmp/info" || fault "encrypted"
  grep -qE '^JavaScript: +no' "$tmp/info" || fault "holds JavaScript"

  # Fonts: embedded, subset, with a ToUnicode map.
  pdffonts "$pdf" >"$tmp/fonts" 2>"$tmp/err"
  [[ ! -s $tmp/err ]] || fault "pdffonts complains: $(head -n 1 "$tmp/err")"
  tail -n +3 "$tmp/fonts" >"$tmp/fontrows"
  [[ -s $tmp/fontrows ]] || fault "no font"
  while read -r row; do fault "font not embedded, subset and mapped: $row"; done \
    < <(awk '$(NF-4) != "yes" || $(NF-3) != "yes" || $(NF-2) != "yes" {print $1, "emb", $(NF-4), "sub", $(NF-3), "uni", $(NF-2)}' "$tmp/fontrows")

  # The code, read from pictures of the pages at a coarse scanner's resolution.
  # zbarimg exits 4 when a picture holds none; anything else is a fault.
  local code picture rc
  code=$(side "$pdf" code)
  rm -f "$tmp"/picture-*.png; : >"$tmp/codes"
  pdftoppm -r 150 -gray -png "$pdf" "$tmp/picture"
  for picture in "$tmp"/picture-*.png; do
    rc=0
    zbarimg --quiet --raw -Sdisable -Sqrcode.enable "$picture" >>"$tmp/codes" 2>"$tmp/err" || rc=$?
    ((rc == 0 || rc == 4)) || fault "zbarimg: $(head -n 1 "$tmp/err")"
  done
  if [[ -n $code ]]; then
    [[ -s $code ]] || fault "no code to look for"
    [[ $(<"$tmp/codes") == "$(<"$code")" ]] || fault "the code on the page reads otherwise"
  fi

  # Privacy: document information, XMP packet, attachment names, file name, code.
  pdfdetach -list "$pdf" >"$tmp/list"
  { pdfinfo -meta "$pdf"; pdfinfo -custom "$pdf"; cat "$tmp/info" "$tmp/list" "$tmp/codes"; qpdf --list-attachments --verbose "$pdf"; basename "$pdf"; } 2>&1 | squeeze >"$tmp/public"
  local line n=0
  while IFS= read -r line || [[ -n $line ]]; do
    n=$((n + 1))
    line=$(squeeze <<<"$line"); line=${line% }
    [[ -n $line ]] || continue
    # The value itself is not printed: CI logs are public too.
    if grep -qiF -- "$line" "$tmp/public"; then fault "metadata or a name shows private value $n"; fi
  done <"$private"
  ((n > 0)) || fault "no private value to look for"

  # Attachments: equal byte for byte through both readers, and none beside them.
  local want=0 name file
  while IFS=$'\t' read -r name file || [[ -n $name ]]; do
    [[ -n $name ]] || continue
    want=$((want + 1))
    [[ -f $out/$file ]] || { fault "attachment $want: nothing to compare with"; continue; }
    rm -f "$tmp/poppler" "$tmp/byqpdf"
    pdfdetach -savefile "$name" -o "$tmp/poppler" "$pdf" 2>/dev/null || true
    cmp -s "$tmp/poppler" "$out/$file" || fault "attachment $name differs (poppler)"
    local key
    key=$(qpdf --json --json-key=attachments "$pdf" | python3 -c '
import json, sys
for key, a in json.load(sys.stdin)["attachments"].items():
    if a.get("preferredname") == sys.argv[1]:
        print(key)' "$name")
    { [[ -n $key ]] && qpdf --show-attachment="$key" "$pdf" >"$tmp/byqpdf" 2>/dev/null && cmp -s "$tmp/byqpdf" "$out/$file"; } || fault "attachment $name differs (qpdf)"
  done <"$attach"
  local have; have=$(sed -n 's/^\([0-9]*\) embedded files\?$/\1/p' "$tmp/list")
  [[ ${have:-0} -eq $want ]] || fault "${have:-0} attachments, expected $want"

  # Text. A value may wrap, also at its hyphens, and may begin a sentence, so it is
  # looked for without blanks and without regard to capitals; both reading orders
  # count, because -layout splits what is wrapped beside something else.
  pdftotext -layout "$pdf" - | bare >"$tmp/layout"
  pdftotext "$pdf" - | bare >"$tmp/reading"
  n=0
  while IFS= read -r line || [[ -n $line ]]; do
    line=$(bare <<<"$line")
    n=$((n + 1))
    [[ -n $line ]] || continue
    grep -qiF -- "$line" "$tmp/layout" || grep -qiF -- "$line" "$tmp/reading" || fault "recorded value $n of $(basename "$values") is not on the page"
  done <"$values"

  # Every page names the eye and its own number.
  local pages p mark other=
  pages=$(sed -n 's/^Pages: *//p' "$tmp/info")
  mark=$(head -n 1 "$eye"); mark=${mark%$'\r'}
  case $mark in
    'RIGHT EYE') other='LEFT EYE' ;;
    'LEFT EYE') other='RIGHT EYE' ;;
    -) ;;
    *) fault "side file .eye.txt holds neither RIGHT EYE, LEFT EYE nor -" ;;
  esac
  for ((p = 1; p <= pages; p++)); do
    pdftotext -layout -f "$p" -l "$p" "$pdf" - | squeeze >"$tmp/page"
    grep -qiE "page $p of $pages([^0-9]|\$)" "$tmp/page" || fault "page $p: no \"page $p of $pages\""
    [[ $mark == - ]] || grep -qF "$mark" "$tmp/page" || fault "page $p: no $mark"
    [[ -z $other ]] || ! grep -qF "$other" "$tmp/page" || fault "page $p: $other on a page of the $mark"
  done
}

for out in "$@"; do
  [[ -d $out ]] || { echo "$out is no folder" >&2; exit 2; }
  while IFS= read -r -d '' pdf; do
    count=$((count + 1))
    faults=0
    echo "     $(basename "$pdf")"
    check_one "$pdf" "$out"
    if ((faults)); then bad=$((bad + 1)); echo "FAIL $(basename "$pdf"): $faults faults"; else echo "ok   $(basename "$pdf")"; fi
  done < <(find "$out" -name '*.pdf' -type f -print0 | sort -z)
done
echo "$count PDF files, $bad refused"
((count > 0)) || { echo "no PDF was found: nothing was checked" >&2; exit 2; }
((bad == 0))
