"""Second opinion on the entry schema, with Python jsonschema.

  check.py SCHEMA.json ENTRY...        every entry must be valid
  check.py --reject SCHEMA.json ENTRY...   every entry must be invalid
  check.py --selftest

ENTRY is .json, or .yaml/.yml read by the YAML 1.2 core schema (section 10.3.2):
no dates, no octal, no yes/no; a repeated key, an anchor, an alias and a tag are
refused. A plain scalar is a number only where the schema wants one, so numbers
that the schema types as text are compared as text.
Exit 0 only when every file was checked with the verdict asked for.
"""

import json
import pathlib
import re
import sys
import tempfile

import yaml
from jsonschema import validators

INT = re.compile(r"[-+]?[0-9]+")
FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")


class Refused(Exception):
    pass


def unique(pairs):
    d = dict(pairs)
    if len(d) != len(pairs):
        raise Refused("duplicate key")
    return d


def scalar(node, wanted):
    v = node.value
    if node.style in ("'", '"', "|", ">") or "string" in wanted:
        # A plain null stays null only where the schema allows null.
        return None if node.style is None and v in ("", "~", "null") and "null" in wanted else v
    if v in ("", "~", "null", "Null", "NULL"):
        return None
    if v in ("true", "True", "TRUE"):
        return True
    if v in ("false", "False", "FALSE"):
        return False
    if INT.fullmatch(v):
        return int(v)
    if FLOAT.fullmatch(v):
        return float(v)
    return v


class Reader:
    """Builds plain data from YAML nodes, asking the schema for scalar types."""

    def __init__(self, root):
        self.root = root

    def spread(self, schemas):
        """All subschemas that apply in place to the same value."""
        out, todo = [], list(schemas)
        while todo:
            s = todo.pop()
            if not isinstance(s, dict) or any(s is o for o in out):
                continue
            out.append(s)
            ref = s.get("$ref")
            if isinstance(ref, str) and ref.startswith("#"):
                target = self.root
                for part in ref[1:].strip("/").split("/") if ref != "#" else []:
                    target = target[part.replace("~1", "/").replace("~0", "~")]
                todo.append(target)
            for k in ("allOf", "anyOf", "oneOf"):
                todo += s.get(k, [])
            todo += [s[k] for k in ("then", "else") if k in s]
        return out

    def build(self, node, schemas):
        schemas = self.spread(schemas)
        if isinstance(node, yaml.ScalarNode):
            wanted = set()
            for s in schemas:
                t = s.get("type", [])
                wanted |= {t} if isinstance(t, str) else set(t)
                values = s.get("enum", []) + ([s["const"]] if "const" in s else [])
                if any(isinstance(v, str) for v in values):
                    wanted.add("string")
            return scalar(node, wanted)
        if isinstance(node, yaml.SequenceNode):
            items = [s["items"] for s in schemas if isinstance(s.get("items"), dict)]
            return [self.build(n, items) for n in node.value]
        out = {}
        for k, v in node.value:
            if not isinstance(k, yaml.ScalarNode):
                raise Refused("key is not a scalar")
            if k.value in out:
                raise Refused(f"duplicate key at line {k.start_mark.line + 1}")
            sub = []
            for s in schemas:
                hit = s.get("properties", {}).get(k.value)
                if hit is not None:
                    sub.append(hit)
                elif isinstance(s.get("additionalProperties"), dict):
                    sub.append(s["additionalProperties"])
            out[k.value] = self.build(v, sub)
        return out


def load(path, schema):
    text = pathlib.Path(path).read_text("utf-8")
    if str(path).endswith(".json"):
        return json.loads(text, object_pairs_hook=unique)
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise Refused("anchor or alias")
        if getattr(event, "tag", None) not in (None, "!"):
            raise Refused("tag")
    node = yaml.compose(text, Loader=yaml.SafeLoader)
    if node is None:
        raise Refused("empty document")
    return Reader(schema).build(node, [schema])


def check(schema, path):
    cls = validators.validator_for(schema, default=None)
    if cls is None:
        raise SystemExit("the schema names no known $schema dialect")
    cls.check_schema(schema)
    try:
        entry = load(path, schema)
    except (Refused, ValueError, yaml.YAMLError) as e:
        return [f"not readable: {str(e).splitlines()[0]}"]
    v = cls(schema, format_checker=cls.FORMAT_CHECKER)
    return [f"{e.json_path}: {e.validator}" for e in v.iter_errors(entry)]


def selftest():
    here = pathlib.Path(__file__).parent / "fixtures"
    schema = json.loads((here / "schema.json").read_text("utf-8"))
    good = (here / "valid.yaml").read_text("utf-8")
    passed = failed = 0
    cases = [
        ("valid", "", "", None),
        ("required missing", "eye: right\n", "", "required"),
        ("outside enum", "eye: right", "eye: both", "enum"),
        ("unknown key", "eye: right", "eye: right\neyes: left", "additionalProperties"),
        ("wrong type", "bites: 16", "bites: many", "type"),
        ("below minimum", "bites: 16", "bites: 0", "minimum"),
        ("pattern", 'id: 0123', "id: A123", "pattern"),
        ("date that does not exist", "2026-01-02", "2026-02-30", "format"),
        ("then branch", "air_ml: 0.4\n", "", "required"),
        ("duplicate key", "eye: right", "eye: right\neye: left", "duplicate"),
        ("alias", "eye: right", "eye: &a right\nplanned: *a", "anchor"),
        ("tag", "eye: right", "eye: !!str right", "tag"),
        ("tab indentation", "eye: right", "\teye: right", "not readable"),
    ]
    with tempfile.TemporaryDirectory() as tmp:
        f = pathlib.Path(tmp) / "entry.yaml"
        for name, old, new, want in cases:
            assert old in good, name
            f.write_text(good.replace(old, new, 1) if old else good, "utf-8")
            faults = check(schema, f)
            ok = not faults if want is None else any(want in x for x in faults)
            passed, failed = passed + ok, failed + (not ok)
            if not ok:
                print(f"selftest: {name}: expected {want or 'no fault'}, got {faults or 'no fault'}")
        # The same entry as JSON: text stays text, so both carriers must agree.
        j = pathlib.Path(tmp) / "entry.json"
        entry = load(here / "valid.yaml", schema)
        ok = entry["id"] == "0123" and entry["bites"] == 16 and entry["diameter"] == "8.50" and entry["date"] == "2026-01-02"
        j.write_text(json.dumps(entry), "utf-8")
        ok = ok and not check(schema, j)
        passed, failed = passed + ok, failed + (not ok)
        if not ok:
            print("selftest: JSON carrier differs from YAML")
    print(f"schema selftest: {passed} passed, {failed} failed")
    return 1 if failed else 0


def main(argv):
    if argv == ["--selftest"]:
        return selftest()
    reject = argv[:1] == ["--reject"]
    argv = argv[1:] if reject else argv
    if len(argv) < 2:
        print(__doc__, file=sys.stderr)
        return 2
    schema = json.loads(pathlib.Path(argv[0]).read_text("utf-8"), object_pairs_hook=unique)
    bad = 0
    for path in argv[1:]:
        faults = check(schema, path)
        wrong = bool(faults) != reject
        print(f"{'FAIL' if wrong else 'ok  '} {pathlib.Path(path).name}{' (refused as it should be)' if reject and faults else ''}")
        if wrong:
            for x in faults or ["accepted, but must be refused"]:
                print(f"  {x}")
        bad += wrong
    print(f"{len(argv) - 1} entries, {bad} with the wrong verdict")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
