#!/usr/bin/env bash
# The PDF check is itself checked: the valid fixture must pass, every broken
# variant must be refused for the reason given.
set -euo pipefail
export LC_ALL=C.UTF-8
here=$(cd "$(dirname "$0")" && pwd)
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
passed=0
failed=0

fresh() { rm -rf "$tmp/out"; mkdir "$tmp/out"; cp "$here"/fixtures/note.* "$here/fixtures/entry.json" "$tmp/out/"; }
judge() { # judge NAME WANT: run the check; WANT "" means it must pass
  local out rc=0
  out=$(bash "$here/check.sh" "$tmp/out" 2>&1) || rc=$?
  if { [[ -z $2 && $rc -eq 0 ]] || [[ -n $2 && $rc -ne 0 && $out == *"$2"* ]]; }; then
    passed=$((passed + 1))
  else
    failed=$((failed + 1))
    printf 'selftest: %s: expected %s, got exit %d\n%s\n' "$1" "${2:-a pass}" "$rc" "$out"
  fi
}

fresh; judge 'valid' ''
fresh; printf '8.75 mm\n' >>"$tmp/out/note.values.txt"; judge 'recorded value missing' 'is not on the page'
fresh; printf 'LEFT EYE\n' >"$tmp/out/note.eye.txt"; judge 'wrong eye' 'no LEFT EYE'
fresh; printf 'BOTH\n' >"$tmp/out/note.eye.txt"; judge 'no eye' 'neither RIGHT EYE'
fresh; printf ' ' >>"$tmp/out/entry.json"; judge 'attachment one byte longer' 'differs (qpdf)'
fresh; : >"$tmp/out/note.attach.txt"; judge 'attachment nobody expects' '1 attachments, expected 0'
fresh; printf 'other.json\tentry.json\n' >"$tmp/out/note.attach.txt"; judge 'attachment of another name' 'differs (poppler)'
fresh; rm "$tmp/out/note.private.txt"; judge 'side file missing' 'no side file'
fresh; : >"$tmp/out/note.values.txt"; judge 'no value recorded' 'no recorded value'
fresh; cp "$here/fixtures/plain.pdf" "$tmp/out/note.pdf"; judge 'font not embedded' 'font not embedded'
fresh; cp "$here/fixtures/titled.pdf" "$tmp/out/note.pdf"; judge 'patient in the title' 'shows private value'
coded() { fresh; cp "$here/fixtures/coded.pdf" "$tmp/out/note.pdf"; cp "$here/fixtures/coded.code.txt" "$tmp/out/note.code.txt"; }
coded; judge 'code' ''
coded; printf 'graftnote:2\n' >"$tmp/out/note.code.txt"; judge 'another code' 'reads otherwise'
coded; : >"$tmp/out/note.code.txt"; judge 'no code recorded' 'no code to look for'
coded; rm "$tmp/out/note.code.txt"; judge 'code not known beforehand' ''
coded; printf 'graftnote:1:fixture\n' >>"$tmp/out/note.private.txt"; judge 'private value in the code' 'shows private value'
fresh; cp "$here/fixtures/coded.code.txt" "$tmp/out/note.code.txt"; judge 'code missing' 'reads otherwise'
fresh; head -c 4000 "$here/fixtures/note.pdf" >"$tmp/out/note.pdf"; judge 'truncated' 'qpdf --check'
fresh; head -c 310000 /dev/zero | tr '\0' '\n' >>"$tmp/out/note.pdf"; judge 'too large' 'limit 300000'
fresh; qpdf --pages . 1 -- "$here/fixtures/note.pdf" "$tmp/out/note.pdf"; judge 'page taken away' 'page 1 of 1'
fresh; qpdf --encrypt '' owner 256 -- "$here/fixtures/note.pdf" "$tmp/out/note.pdf"; judge 'encrypted' 'encrypted'
fresh; mv "$tmp/out/note.pdf" "$tmp/out/Ashdown.pdf"; for k in values private eye attach; do mv "$tmp/out/note.$k.txt" "$tmp/out/Ashdown.$k.txt"; done; judge 'patient in the file name' 'shows private value'
rm -rf "$tmp/out"; mkdir "$tmp/out"; judge 'empty folder' 'nothing was checked'

echo "pdf selftest: $passed passed, $failed failed"
((failed == 0))
