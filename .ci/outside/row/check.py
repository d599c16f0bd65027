"""Second opinion on the registry rows.

  check.py --schema SCHEMA.json ROWS.csv...
  check.py --package datapackage.json
  check.py --selftest

frictionless, the reference implementation of Table Schema and Data Package,
validates the rows. Beside it, without any CSV library: the shape of RFC 4180
section 2 (CRLF after each record, one field count, quotes doubled), UTF-8
without a byte order mark, and no cell that a spreadsheet would run as a
formula. Exit 0 only when every file was checked and found clean.
"""

import json
import pathlib
import shutil
import sys
import tempfile

from frictionless import Package, Resource, Schema, system

NUMERIC = {"number", "integer", "year"}
# Half-width and full-width signs that start a formula, TAB and CR.
FORMULA = "=+@\t\r\n\uff1d\uff0b\uff20"
MINUS = "-\uff0d\u2212"


def records(data):
    """Splits CSV bytes by RFC 4180 section 2; returns (records, faults).

    A cell is (text, quoted).
    """
    faults = []
    if data.startswith(b"\xef\xbb\xbf"):
        faults.append("byte order mark")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as e:
        return [], [f"not UTF-8 at byte {e.start}"]
    if not text:
        return [], ["empty file"]
    rows, row, i, n = [], [], 0, len(text)
    while i < n:
        if text[i] == '"':
            j, cell = i + 1, []
            while True:
                if j >= n:
                    return rows, faults + [f"record {len(rows) + 1}: quote never closed"]
                if text[j] == '"':
                    if text[j + 1 : j + 2] != '"':
                        break
                    j += 1
                cell.append(text[j])
                j += 1
            row.append("".join(cell))
            i = j + 1
        else:
            j = i
            while j < n and text[j] not in ',\r\n"':
                j += 1
            if j < n and text[j] == '"':
                return rows, faults + [f"record {len(rows) + 1}: bare quote"]
            row.append(text[i:j])
            i = j
        if i >= n:
            faults.append("last record does not end in CRLF")
            rows.append(row)
            return rows, faults
        if text[i] == ",":
            i += 1
            if i >= n or text[i] in "\r\n":
                row.append("")
                if i >= n:
                    continue
            else:
                continue
        if text.startswith("\r\n", i):
            rows.append(row)
            row = []
            i += 2
        elif text[i] in "\r\n":
            return rows, faults + [f"record {len(rows) + 1}: line does not end in CRLF"]
        else:
            return rows, faults + [f"record {len(rows) + 1}: text after a closing quote"]
    return rows, faults


def shape(path, fields):
    """Faults of one CSV file beyond what frictionless looks at."""
    rows, faults = records(path.read_bytes())
    if len(rows) < 2:
        faults.append("no data record")
    if not rows:
        return faults
    names = [f["name"] for f in fields]
    if rows[0] != names:
        faults.append(f"header {rows[0]} is not the schema's field order")
    types = {f["name"]: f.get("type", "string") for f in fields}
    for n, row in enumerate(rows, 1):
        if len(row) != len(rows[0]):
            faults.append(f"record {n}: {len(row)} fields, header has {len(rows[0])}")
            continue
        for name, cell in zip(rows[0], row):
            start = cell.lstrip(" \u00a0\u3000")[:1] or cell[:1]
            numeric = n > 1 and types.get(name) in NUMERIC
            if start and (start in FORMULA or (start in MINUS and not (numeric and start == "-"))):
                faults.append(f"record {n}, {name}: cell starts like a formula")
            if any(ord(c) < 32 or ord(c) == 127 for c in cell):
                faults.append(f"record {n}, {name}: control character")
    return faults


def table_schema_faults(schema):
    faults = []
    names = [f.get("name") for f in schema.get("fields", [])]
    if not names:
        faults.append("schema without fields")
    if len(set(names)) != len(names):
        faults.append("field name twice")
    for f in schema.get("fields", []):
        if "type" not in f:
            faults.append(f"field {f.get('name')} without type")
    return faults


def report_faults(report):
    out = [f"{e.type}: {e.message}" for t in report.tasks for e in t.errors]
    out += [f"{e.type}: {e.message}" for e in report.errors]
    out += [f"warning: {w}" for t in report.tasks for w in t.warnings]
    if not report.valid and not out:
        out.append("not valid")
    if not report.tasks:
        out.append("nothing was validated")
    return out


def check_rows(schema_path, path):
    descriptor = json.loads(schema_path.read_text("utf-8"))
    faults = table_schema_faults(descriptor)
    if faults:
        return faults
    with system.use_context(trusted=True):
        resource = Resource(path=str(path), schema=Schema.from_descriptor(descriptor), format="csv", encoding="utf-8")
        # The schema's own field order is part of the promise: no schema_sync.
        faults += report_faults(resource.validate())
    return faults + shape(path, descriptor["fields"])


def check_package(path):
    descriptor = json.loads(path.read_text("utf-8"))
    faults = []
    if not descriptor.get("resources"):
        return ["package without resources"]
    with system.use_context(trusted=True):
        faults += report_faults(Package(str(path)).validate())
    for r in descriptor["resources"]:
        p = r.get("path", "")
        if not isinstance(p, str) or p.startswith("/") or ".." in p.split("/") or "\\" in p or "://" in p:
            faults.append(f"path {p!r} is not relative and inside the package")
            continue
        schema = r.get("schema")
        if isinstance(schema, str):
            schema = json.loads((path.parent / schema).read_text("utf-8"))
        if p.endswith(".csv"):
            if not schema:
                faults.append(f"{p}: no schema")
            else:
                faults += [f"{p}: {f}" for f in shape(path.parent / p, schema["fields"])]
    return faults


def selftest():
    here = pathlib.Path(__file__).parent / "fixtures"
    schema = here / "rows.schema.json"
    good = (here / "rows.csv").read_bytes()
    passed = failed = 0

    def judge(name, faults, want):
        nonlocal passed, failed
        ok = not faults if want is None else any(want in f for f in faults)
        passed, failed = passed + ok, failed + (not ok)
        if not ok:
            print(f"selftest: {name}: expected {want or 'no fault'}, got {faults or 'no fault'}")

    def swap(old, new):
        assert old in good, old
        return good.replace(old, new, 1)

    with tempfile.TemporaryDirectory() as tmp:
        d = pathlib.Path(tmp)
        f = d / "rows.csv"
        cases = [
            ("valid", good, None),
            ("LF only", good.replace(b"\r\n", b"\n"), "CRLF"),
            ("one LF", swap(b"\r\n", b"\n"), "CRLF"),
            ("no final line end", good[:-2], "CRLF"),
            ("byte order mark", b"\xef\xbb\xbf" + good, "byte order mark"),
            ("Latin-1", swap("é".encode(), b"\xe9"), "UTF-8"),
            ("field missing", swap(b",8.25,", b","), "fields, header has"),
            ("field too many", swap(b",8.25,", b",8.25,9,"), "fields, header has"),
            ("open quote", swap(b'"quoted, comma"', b'"quoted, comma'), "quote"),
            ("bare quote", swap(b"8.25", b'8.2"5'), "quote"),
            ("text after quote", swap(b'"quoted, comma"', b'"quoted"x'), "after a closing quote"),
            ("header renamed", swap(b"trephine_mm", b"trephine"), "header"),
            ("header order", swap(b"eye,trephine_mm", b"trephine_mm,eye"), "header"),
            ("outside enum", swap(b",right,", b",both,"), "constraint"),
            ("above maximum", swap(b"8.25", b"82.5"), "constraint"),
            ("text in number", swap(b"8.25", b"eight"), "type-error"),
            ("decimal comma", swap(b"8.25", b'"8,25"'), "type-error"),
            ("required empty", swap(b",right,", b",,"), "constraint"),
            ("key twice", swap(b"R0002", b"R0001"), "key"),
            ("header only", good.split(b"\r\n")[0] + b"\r\n", "no data record"),
            ("empty file", b"", "empty"),
            ("control character", swap(b"plain", b"pl\x07ain"), "control"),
        ]
        for sign in ["=", "+", "@", "-", "\t", "\uff1d", "\uff0b", "\uff20", "\uff0d", " =", "\u2212"]:
            cases.append((f"cell starts with {sign!r}", swap(b"plain", sign.encode() + b"plain"), "formula"))
        cases.append(("cell starts with CR", swap(b"plain", b'"\rplain"'), "formula"))
        cases.append(("plus before a number", swap(b"-1.5", b"+1.5"), "formula"))
        for name, data, want in cases:
            f.write_bytes(data)
            judge(name, check_rows(schema, f), want)

        shutil.copy(schema, d)
        shutil.copy(here / "datapackage.json", d)
        f.write_bytes(good)
        judge("valid package", check_package(d / "datapackage.json"), None)
        f.write_bytes(swap(b"8.25", b"82.5"))
        judge("package with a bad value", check_package(d / "datapackage.json"), "constraint")
        f.write_bytes(good.replace(b"plain", b"plaim", 1))
        judge("package whose hash is stale", check_package(d / "datapackage.json"), "hash")
        f.write_bytes(good)
        (d / "datapackage.json").write_text((here / "datapackage.json").read_text().replace('"rows.csv"', '"../rows.csv"'))
        judge("package path outside", check_package(d / "datapackage.json"), "inside the package")
    print(f"row selftest: {passed} passed, {failed} failed")
    return 1 if failed else 0


def main(argv):
    if argv == ["--selftest"]:
        return selftest()
    if len(argv) >= 3 and argv[0] == "--schema":
        todo = [(p, check_rows(pathlib.Path(argv[1]), pathlib.Path(p))) for p in argv[2:]]
    elif len(argv) >= 2 and argv[0] == "--package":
        todo = [(p, check_package(pathlib.Path(p))) for p in argv[1:]]
    else:
        print(__doc__, file=sys.stderr)
        return 2
    bad = 0
    for name, faults in todo:
        print(f"{'FAIL' if faults else 'ok  '} {pathlib.Path(name).name}")
        for f in faults:
            print(f"  {f}")
        bad += bool(faults)
    print(f"{len(todo)} files, {bad} refused")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
