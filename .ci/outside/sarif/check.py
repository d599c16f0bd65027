"""Second opinion on SARIF files (OASIS Static Analysis Results Interchange Format).

  check.py FILE.sarif...
  check.py --selftest

1. The published JSON schema of SARIF 2.1.0 (draft-04 edition carried by npm
   @microsoft/jest-sarif, 2020-12 edition carried by the SARIF multitool), judged
   by Python jsonschema with formats asserted.
2. The multitool's own rules on files (npm @microsoft/sarif-multitool-linux):
   no result of level error.
3. Cross references the schema cannot state: rule ids and indexes agree.
Exit 0 only when every file was checked and found clean.
"""

import json
import os
import pathlib
import subprocess
import sys
import tempfile

from jsonschema import Draft4Validator, Draft202012Validator

HERE = pathlib.Path(__file__).resolve().parent
MODULES = HERE / "node_modules" / "@microsoft"


def unique(pairs):
    d = dict(pairs)
    if len(d) != len(pairs):
        raise ValueError("duplicate JSON key")
    return d


def schemas():
    old = json.loads((MODULES / "jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json").read_text("utf-8"))
    new = json.loads((MODULES / "sarif-multitool-linux/sarif-2.1.0.json").read_text("utf-8"))
    Draft4Validator.check_schema(old)
    Draft202012Validator.check_schema(new)
    return [
        Draft4Validator(old, format_checker=Draft4Validator.FORMAT_CHECKER),
        Draft202012Validator(new, format_checker=Draft202012Validator.FORMAT_CHECKER),
    ]


def multitool(path, tmp):
    """Error results of the SARIF authors' validator."""
    tool = MODULES / "sarif-multitool-linux/Sarif.Multitool"
    out = pathlib.Path(tmp) / "verdict.sarif"
    out.unlink(missing_ok=True)
    os.chmod(tool, 0o755)
    # The invariant culture spares the ICU library, which a bare machine lacks.
    env = {**os.environ, "DOTNET_SYSTEM_GLOBALIZATION_INVARIANT": "1", "DOTNET_BUNDLE_EXTRACT_BASE_DIR": str(tmp)}
    run = subprocess.run(
        [str(tool), "validate", "--level", "Error;Warning", "--rule-kind", "Sarif", "--output", str(out), str(path)],
        env=env, capture_output=True, text=True, timeout=120,
    )
    if not out.exists():
        return [f"multitool did not run: exit {run.returncode} {run.stdout[-400:]} {run.stderr[-400:]}"]
    verdict = json.loads(out.read_text("utf-8-sig"))
    faults = []
    for r in verdict["runs"]:
        for inv in r.get("invocations", []):
            for n in inv.get("toolExecutionNotifications", []) + inv.get("toolConfigurationNotifications", []):
                if n.get("level") == "error":
                    faults.append(f"multitool: {n['message'].get('text')}")
            if not inv.get("executionSuccessful", True) and not faults:
                faults.append("multitool: execution failed")
        for x in r.get("results", []):
            text = f"multitool {x.get('ruleId')}: {' | '.join(x['message'].get('arguments', [])) or x['message'].get('text')}"
            if x.get("level", "warning") == "error":
                faults.append(text)
            else:
                print(f"  warning {text}")
    return faults


def cross(log):
    faults = []
    for r in log.get("runs", []):
        rules = r["tool"]["driver"].get("rules", [])
        ids = [x["id"] for x in rules]
        if len(set(ids)) != len(ids):
            faults.append("rule id twice")
        for n, x in enumerate(r.get("results", [])):
            i = x.get("ruleIndex", -1)
            if i >= len(ids) or (i >= 0 and x.get("ruleId", ids[i]) != ids[i]):
                faults.append(f"result {n}: ruleIndex {i} does not lead to ruleId {x.get('ruleId')}")
            elif i < 0 and ids and x.get("ruleId") not in ids:
                faults.append(f"result {n}: ruleId {x.get('ruleId')} is not among the rules")
    return faults


def check(path, validators, tmp):
    try:
        log = json.loads(pathlib.Path(path).read_text("utf-8"), object_pairs_hook=unique)
    except ValueError as e:
        return [f"not readable: {e}"]
    faults = []
    for v in validators:
        faults += [f"schema {e.json_path}: {e.message[:200]}" for e in v.iter_errors(log)]
    if faults:
        return sorted(set(faults))
    if log.get("version") != "2.1.0":
        faults.append("version is not 2.1.0")
    if not log["runs"]:
        faults.append("no run")
    return faults + cross(log) + multitool(path, tmp)


def selftest(validators):
    good = (HERE / "fixtures" / "valid.sarif").read_text("utf-8")
    passed = failed = 0
    with tempfile.TemporaryDirectory() as tmp:
        f = pathlib.Path(tmp) / "case.sarif"
        for name, old, new, want in [
            ("valid", "", "", None),
            ("level outside the list", '"level": "error"', '"level": "fatal"', "level"),
            ("result without message", '"message": {"text": "Side not stated."},', "", "message"),
            ("unknown property", '"version": "2.1.0"', '"version": "2.1.0", "note": 1', "note"),
            ("driver without name", '"name": "sample",', "", "name"),
            ("line number 0", '"startLine": 4', '"startLine": 0', "startLine"),
            ("version 2.0", '"version": "2.1.0"', '"version": "2.0"', "version"),
            ("rule index past the end", '"ruleIndex": 0', '"ruleIndex": 7', "ruleIndex"),
            ("rule id unknown", '"ruleId": "side-missing"', '"ruleId": "x"', "ruleId"),
            ("duplicate key", '"version": "2.1.0"', '"version": "2.1.0", "version": "2.1.0"', "duplicate"),
            ("end line before start line", '"endLine": 4', '"endLine": 3', "SARIF1007"),
            ("truncated", good[-40:], "", "not readable"),
        ]:
            if old not in good:
                raise SystemExit(f"selftest {name}: the change found no place")
            f.write_text(good.replace(old, new, 1) if old else good, "utf-8")
            faults = check(f, validators, tmp)
            ok = not faults if want is None else any(want in x for x in faults)
            passed, failed = passed + ok, failed + (not ok)
            if not ok:
                print(f"selftest: {name}: expected {want or 'no fault'}, got {faults or 'no fault'}")
    print(f"sarif selftest: {passed} passed, {failed} failed")
    return 1 if failed else 0


def main(argv):
    if not argv:
        print(__doc__, file=sys.stderr)
        return 2
    validators = schemas()
    if argv == ["--selftest"]:
        return selftest(validators)
    bad = 0
    with tempfile.TemporaryDirectory() as tmp:
        for path in argv:
            faults = check(path, validators, tmp)
            print(f"{'FAIL' if faults else 'ok  '} {pathlib.Path(path).name}")
            for x in faults:
                print(f"  {x}")
            bad += bool(faults)
    print(f"{len(argv)} files, {bad} refused")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
