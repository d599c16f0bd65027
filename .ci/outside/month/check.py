"""Second opinion on registry packages.

  check.py FOLDER...        folders that hold packages at any depth
  check.py --selftest FOLDER

frictionless, the reference implementation of Data Package and Table Schema,
validates every package with its keys and digests. DuckDB, an engine that shares
no code with the program, reads the Parquet and NDJSON files; both must equal the
CSV file cell by cell. Then the Parquet folders of all packages beside each other
are read in place as one pool, and the state worked out by a query (the highest
revision of each key stands) must equal the one worked out from the CSV files.
Exit 0 only when every package was checked and found clean.
"""

import csv
import hashlib
import json
import pathlib
import shutil
import sys
import tempfile
from decimal import Decimal

import duckdb
from frictionless import Package, system

NUMERIC = {"number", "integer", "year"}


def rows_of(path):
    """Header and records of a CSV file by Python's own reader."""
    with open(path, encoding="utf-8", newline="") as f:
        records = list(csv.reader(f, strict=True))
    return records[0], records[1:]


def shape(path):
    """RFC 4180 section 2, as far as a reader forgives it."""
    data = path.read_bytes()
    faults = []
    if data.startswith(b"\xef\xbb\xbf"):
        faults.append("byte order mark")
    if data.count(b"\n") != data.count(b"\r\n") or not data.endswith(b"\r\n"):
        faults.append("lines do not end in CR and LF")
    header, records = rows_of(path)
    for n, r in enumerate(records, 2):
        if len(r) != len(header):
            faults.append(f"record {n} has {len(r)} cells")
        for cell in r:
            if cell[:1] in "=+@\t\r\uff1d\uff0b\uff20" and cell:
                faults.append(f"record {n}: a cell starts like a formula")
    return faults


def same(cell, value, numeric, missing, why):
    """Whether a value of an engine is the cell of the CSV file."""
    if not numeric:
        return value == cell
    if cell in missing:
        return value is None and (why == cell or (cell == "" and why == "missing"))
    return value is not None and Decimal(str(value)) == Decimal(cell)


def equal(engine, path, fields, missing, kind):
    """Faults of a Parquet or NDJSON file against the CSV file."""
    header, records = rows_of(path)
    source = f"read_parquet('{engine}', hive_partitioning=false)" if kind == "parquet" else None
    if kind == "parquet":
        relation = duckdb.sql(f"select * from {source}")
        names, values = relation.columns, relation.fetchall()
    else:
        lines = [json.loads(line, parse_float=Decimal) for line in engine.read_text("utf-8").splitlines()]
        names = list(dict.fromkeys(k for line in lines for k in line))
        values = [[line.get(n) for n in names] for line in lines]
    if len(values) != len(records):
        return [f"{engine.name}: {len(values)} rows, the CSV file has {len(records)}"]
    at = {n: i for i, n in enumerate(names)}
    faults = []
    for n, (record, value) in enumerate(zip(records, values), 2):
        for cell, name in zip(record, header):
            if name not in at:
                faults.append(f"{engine.name}: no column {name}")
                continue
            why = value[at[name + "_missing"]] if name + "_missing" in at else None
            if not same(cell, value[at[name]], fields[name]["type"] in NUMERIC, missing, why):
                faults.append(f"{engine.name}: record {n}, column {name} differs from the CSV file")
        if len(faults) > 20:
            break
    return faults


def check_package(path):
    """Faults of one package; path is its datapackage.json."""
    folder = path.parent
    descriptor = json.loads(path.read_text("utf-8"))
    faults = []
    with system.use_context(trusted=True):
        report = Package(str(path)).validate()
    faults += [f"{e.type}: {e.message}" for t in report.tasks for e in t.errors] + [f"{e.type}: {e.message}" for e in report.errors]
    if not report.tasks or (not report.valid and not faults):
        faults.append("not valid")
    manifest = json.loads((folder / "manifest.json").read_text("utf-8"))
    for f in manifest["files"]:
        p = folder / f["path"]
        if not p.is_file() or hashlib.sha256(p.read_bytes()).hexdigest() != f["sha256"] or p.stat().st_size != f["bytes"]:
            faults.append(f"{f['path']}: not the file of the manifest")
    counts = manifest["counts"]
    if counts["sent"] + sum(counts["held_back"].values()) != counts["entered"]:
        faults.append("the counts do not add up")
    for r in descriptor["resources"]:
        faults += [f"{r['path']}: {f}" for f in shape(folder / r["path"])]
        fields = {f["name"]: f for f in r["schema"]["fields"]}
        for a in r.get("alternatives", []):
            faults += equal(folder / a["path"], folder / r["path"], fields, set(r["schema"]["missingValues"]), a["format"])
    return faults


def role(resource, name):
    return next(f["name"] for f in resource["schema"]["fields"] if f.get("role") == name)


def check_pool(packages):
    """The state of the packages of one folder, from CSV and from the pool."""
    faults = []
    for name, key in [("operations", "row-key"), ("followups", "visit-key")]:
        standing = {}
        for p in packages:
            resource = next(r for r in json.loads(p.read_text("utf-8"))["resources"] if r["name"] == name)
            k, rev, change = (role(resource, x) for x in (key, "revision", "change"))
            header, records = rows_of(p.parent / resource["path"])
            for r in records:
                row = dict(zip(header, r))
                if row[k] not in standing or int(row[rev]) > standing[row[k]][0]:
                    standing[row[k]] = (int(row[rev]), row[change] == "withdrawn")
        want = {(k, v[0]) for k, v in standing.items() if not v[1]}
        pool = str(packages[0].parent.parent / "*" / "parquet" / name / "*" / "*.parquet")
        got = duckdb.sql(f"""
            select "{k}", "{rev}" from (
              select *, row_number() over (partition by "{k}" order by "{rev}" desc, period desc) as place
              from read_parquet('{pool}', hive_partitioning=true, hive_types={{'period': varchar}}, union_by_name=true))
            where place = 1 and "{change}" <> 'withdrawn'""").fetchall()
        if set(got) != want or len(got) != len(want) or (name == "operations" and not want):
            faults.append(f"{name}: the pool holds {len(got)} standing rows, the CSV files {len(want)}")
    return faults


def check(folders):
    bad = checked = 0
    pools = {}
    for folder in folders:
        for path in sorted(pathlib.Path(folder).rglob("datapackage.json")):
            faults = check_package(path)
            pools.setdefault(path.parent.parent, []).append(path)
            checked, bad = checked + 1, bad + bool(faults)
            print(f"{'FAIL' if faults else 'ok  '} {path.parent.parent.name}/{path.parent.name}")
            for f in faults[:20]:
                print(f"  {f}")
    for folder, packages in pools.items():
        faults = check_pool(packages)
        bad += bool(faults)
        print(f"{'FAIL' if faults else 'ok  '} pool {folder.name}")
        for f in faults:
            print(f"  {f}")
    print(f"{checked} packages, {len(pools)} pools, {bad} refused")
    return 1 if bad or not checked else 0


def selftest(folder):
    """Each fault put into a good package must be found."""
    source = next(p.parent for p in sorted(pathlib.Path(folder).rglob("datapackage.json")) if "own-pseudonymised" in str(p))
    passed = failed = 0

    def swap(name, old, new, count=1):
        def change(d):
            data = (d / name).read_bytes()
            assert old in data, (name, old)
            (d / name).write_bytes(data.replace(old, new, count))
        return change

    def reparquet(query):
        def change(d):
            path = next((d / "parquet" / "operations").rglob("*.parquet"))
            duckdb.sql(f"copy (select {query} from read_parquet('{path}', hive_partitioning=false)) to '{d}/new.parquet' (format parquet)")
            (d / "new.parquet").replace(path)
        return change

    def orphan(d):
        header, records = rows_of(d / "followups.csv")
        key = records[0][header.index("row_key")].encode()
        swap("followups.csv", key, b"r" + b"a" * 26)(d)

    cases = [
        ("good", lambda d: None, None),
        ("CSV value", swap("operations.csv", b",air-big-bubble,", b",manual-layered,"), "differs from the CSV file"),
        ("code not in the list", swap("operations.csv", b",air-big-bubble,", b",balloon,"), "constraint"),
        ("NDJSON value", swap("operations.ndjson", b'"air-big-bubble"', b'"manual-layered"'), "ndjson: record"),
        ("NDJSON row gone", lambda d: (d / "operations.ndjson").write_bytes(b"\n".join((d / "operations.ndjson").read_bytes().split(b"\n")[1:])), "rows, the CSV file has"),
        ("Parquet value", reparquet("* replace (host_diameter_mm + 0.01 as host_diameter_mm)"), "column host_diameter_mm differs"),
        ("Parquet column gone", reparquet("* exclude (sex)"), "no column sex"),
        ("Parquet reason gone", reparquet("* replace (null::varchar as kc_stage_missing)"), "column kc_stage differs"),
        ("row twice", lambda d: (d / "operations.csv").write_bytes((d / "operations.csv").read_bytes() + (d / "operations.csv").read_bytes().split(b"\r\n")[1] + b"\r\n"), "key"),
        ("visit of nobody", orphan, "foreign-key"),
        ("line ends", lambda d: (d / "operations.csv").write_bytes((d / "operations.csv").read_bytes().replace(b"\r\n", b"\n")), "CR and LF"),
        ("cover changed", swap("cover.txt", b"Registry", b"registry"), "not the file of the manifest"),
        ("counts", swap("manifest.json", b'"entered": ', b'"entered": 9'), "do not add up"),
    ]
    for name, change, want in cases:
        with tempfile.TemporaryDirectory() as tmp:
            d = pathlib.Path(tmp) / "package"
            shutil.copytree(source, d)
            change(d)
            faults = check_package(d / "datapackage.json")
            ok = not faults if want is None else any(want in f for f in faults)
            passed, failed = passed + ok, failed + (not ok)
            if not ok:
                print(f"selftest: {name}: expected {want or 'no fault'}, got {faults[:3] or 'no fault'}")
    with tempfile.TemporaryDirectory() as tmp:
        d = pathlib.Path(tmp) / "pool"
        shutil.copytree(source.parent, d)
        packages = sorted(d.rglob("datapackage.json"))
        ok = not check_pool(packages)
        largest = max(d.rglob("parquet/operations/*/*.parquet"), key=lambda p: (p.parent.name, p.stat().st_size))
        largest.unlink()
        ok = ok and bool(check_pool(packages))
        passed, failed = passed + ok, failed + (not ok)
        if not ok:
            print("selftest: a pool without one of its files was not found out")
    print(f"month selftest: {passed} passed, {failed} failed")
    return 1 if failed else 0


def main(argv):
    if len(argv) == 2 and argv[0] == "--selftest":
        return selftest(argv[1])
    if argv and not argv[0].startswith("-"):
        return check(argv)
    print(__doc__, file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
