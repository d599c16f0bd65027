#!/usr/bin/env python3
"""Write check-digit vectors worked out by the general-purpose library python-stdnum.

Usage: ident_vectors.py OUTPUT.tsv

The file is an outside yardstick for package schema/ident. Run it again with the
library version named in the header of schema/ident/testdata/stdnum_vectors.tsv
and the result is byte for byte the same:

    pip install python-stdnum==2.2
    python3 .ci/outside/ident_vectors.py vectors.tsv
    cmp vectors.tsv schema/ident/testdata/stdnum_vectors.tsv

All numbers are random; none belongs to a person, a donation or an item.
"""

import random
import string
import sys

import stdnum
from stdnum import ean, gs1_128
from stdnum.exceptions import ValidationError
from stdnum.gb import nhs
from stdnum.iso7064 import mod_37_2

SEED = 371_002
ROWS_PER_KIND = 80
GS = "\x1d"

# random() is the one method whose sequence the Python documentation promises to
# keep from version to version, so everything is drawn from it.
rng = random.Random(SEED)


def pick(chars):
    return chars[int(rng.random() * len(chars))]


def text(chars, length):
    return "".join(pick(chars) for _ in range(length))


def one_changed(number):
    at = int(rng.random() * len(number))
    other = string.digits.replace(number[at], "")
    return number[:at] + pick(other) + number[at + 1:]


def mod_37_2_rows():
    """ISO/IEC 7064 check character of donation-shaped and of free texts."""
    for i in range(ROWS_PER_KIND):
        if i % 2:
            data = pick("ABCDEFGHJKLMNPQRSTUVWXYZ") + text(string.digits, 12)
        else:
            data = text(string.digits + string.ascii_uppercase, 1 + i % 20)
        yield data, mod_37_2.calc_check_digit(data)


def gs1_digit_rows():
    """Check digit of the data part of each GTIN length."""
    for i in range(ROWS_PER_KIND):
        data = text(string.digits, (7, 11, 12, 13)[i % 4])
        yield data, ean.calc_check_digit(data)


def gtin_rows():
    """Whole GTINs, every second one with one digit changed."""
    for i in range(ROWS_PER_KIND):
        data = text(string.digits, (7, 11, 12, 13)[i % 4])
        number = data + ean.calc_check_digit(data)
        if (i // 4) % 2:
            number = one_changed(number)
        yield number, "valid" if ean.is_valid(number) else "invalid"


def nhs_rows():
    """Ten digits: random, completed to valid, or valid with one changed."""
    for i in range(ROWS_PER_KIND):
        number = text(string.digits, 10)
        if i % 4:
            fitting = [number[:9] + d for d in string.digits if nhs.is_valid(number[:9] + d)]
            number = fitting[0] if fitting else number
        if i % 4 == 3:
            number = one_changed(number)
        yield number, "valid" if nhs.is_valid(number) else "invalid"


def gs1_element_rows():
    """Element strings as scanned; the separator is written as <GS>."""
    symbols = string.digits + string.ascii_letters
    for i in range(ROWS_PER_KIND):
        data = text(string.digits, 13)
        raw = "01" + data + ean.calc_check_digit(data)
        year, month = 20 + int(rng.random() * 12), 1 + int(rng.random() * 12)
        raw += "11%02d%02d%02d" % (year, month, int(rng.random() * 29))
        raw += "17%02d%02d%02d" % (year + 1 + i % 10, month, int(rng.random() * 29))
        lot, serial = text(symbols, 1 + i % 20), text(symbols, 1 + (i * 7) % 20)
        raw += "10" + lot + GS + "21" + serial
        try:
            parts = gs1_128.info(raw, GS)
        except ValidationError as refused:
            sys.exit("the library refused a vector: %r" % refused)
        fields = [parts["01"], parts["10"], parts["21"], parts["11"].isoformat(), parts["17"].isoformat()]
        yield raw.replace(GS, "<GS>"), "|".join(fields)


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    kinds = [
        ("mod37_2", mod_37_2_rows),
        ("gs1_digit", gs1_digit_rows),
        ("gtin", gtin_rows),
        ("nhs", nhs_rows),
        ("gs1_elements", gs1_element_rows),
    ]
    with open(sys.argv[1], "w", encoding="ascii", newline="\n") as out:
        out.write("# python-stdnum %s, seed %d, written by .ci/outside/ident_vectors.py\n" % (stdnum.__version__, SEED))
        out.write("kind\tinput\tresult\n")
        for kind, rows in kinds:
            for data, result in rows():
                out.write("%s\t%s\t%s\n" % (kind, data, result))


if __name__ == "__main__":
    main()
