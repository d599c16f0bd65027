#!/usr/bin/env python3
"""Write which eye each code of ICD-10-CM names, read from the words of the list.

Usage: eye_codes.py TABLE.tsv VECTORS.tsv

TABLE is fhir/data/icd10cm-eyes.tsv, which the program reads: the shortest
beginnings of codes below which all codes name the same eye. VECTORS is
fhir/testdata/icd10cm-eyes.tsv: every code whose words name a side of the eye,
with those words; the test in package fhir reads the words by itself. Run again
with the version named in their headers, both are byte for byte the same:

    pip install simple-icd-10-cm==1.5.0
    python3 .ci/outside/eye_codes.py table.tsv vectors.tsv
    cmp table.tsv fhir/data/icd10cm-eyes.tsv

The list is the April 2026 edition of the National Center for Health Statistics,
a work of the United States government.
"""

import re
import sys

import simple_icd_10_cm as icd

VERSION = "1.5.0"
CHAPTER = re.compile(r"^H[0-5]")  # diseases of the eye and adnexa
PARTS = re.compile(
    r"\b(eyes?|eyelids?|periocular|eyeballs?|globe|ocular|intraocular|orbit(al|s)?|corneal?|conjunctiva|conjunctival"
    r"|lacrimal|retinal?|choroid|ciliary|optic|cataract|iris|lens)\b", re.I)
SIDE = re.compile(r"\b(right|left|bilateral|both)\b", re.I)
SOUND = re.compile(r"normal vision (right|left) eye", re.I)


def sides(words):
    return {w.lower() for w in SIDE.findall(SOUND.sub("", words))}


def eye(code):
    """right, left, both, unspecified, or none."""
    words = icd.get_description(code)
    said = sides(words)
    if not CHAPTER.match(code) and not (said and PARTS.search(words)):
        return "none"
    if said == {"right"} or said == {"left"}:
        return said.pop()
    if said:
        return "both"
    siblings = icd.get_children(icd.get_parent(code))
    if "unspecified" in words.lower() and any(sides(icd.get_description(s)) for s in siblings):
        return "unspecified"
    return "none"


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    codes = [c for c in icd.get_all_codes(True) if re.match(r"^[A-Z]\d", c) and "-" not in c]
    leaves = {c.replace(".", ""): eye(c) for c in codes if icd.is_leaf(c)}
    below = {}
    for code, says in leaves.items():
        for n in range(3, len(code) + 1):
            below.setdefault(code[:n], set()).add(says)
    rows = []
    for stem, says in sorted(below.items()):
        if len(says) > 1 or len(stem) > 3 and len(below[stem[:-1]]) == 1:
            continue
        only = next(iter(says))
        if only != "none" or CHAPTER.match(stem):
            rows.append((stem, only))
    with open(sys.argv[1], "w", encoding="ascii", newline="\n") as out:
        out.write("# ICD-10-CM, April 2026, by simple-icd-10-cm %s; written by .ci/outside/eye_codes.py\n" % VERSION)
        for row in rows:
            out.write("%s\t%s\n" % row)
    with open(sys.argv[2], "w", encoding="utf-8", newline="\n") as out:
        out.write("# ICD-10-CM, April 2026, by simple-icd-10-cm %s; written by .ci/outside/eye_codes.py\n" % VERSION)
        for c in codes:
            words = icd.get_description(c)
            if not SIDE.search(words) or not CHAPTER.match(c) and not PARTS.search(words):
                continue
            # "Blindness right eye" above codes that each go on with the left eye
            # says less than they do.
            if below[c.replace(".", "")] == {eye(c)}:
                out.write("%s\t%s\n" % (c, words))


if __name__ == "__main__":
    main()
