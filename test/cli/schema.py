#!/usr/bin/env python3
"""Holds doc/events.schema.json, the examples and the program's reader together. Prints TAP.

usage: schema.py PROGRAM

The schema is read by the small checker below (JSON Schema 2020-12, only the keywords used; an unknown one is a failure) and,
where Debian's python3-jsonschema is there, by that as well. Every mutation of a valid file must get the same answer from the
schema and from `mendwright job`, but for what no schema can say: dates that do not exist, days in the wrong order.
"""
import copy
import hashlib
import json
import math
import pathlib
import random
import re
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from run import ROOT, Tap  # noqa: E402

SCHEMA = ROOT / "doc" / "events.schema.json"
MUTATIONS = 500
SEED = 3
WORDS = {"$schema", "$id", "$defs", "title", "description"}  # say nothing about values


# ---- the checker: the sections are those of JSON Schema 2020-12, Core and Validation --------------------------------------

def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def is_integer(value):  # Validation 6.1.1: any number with a zero fraction
    return is_number(value) and math.isfinite(value) and value == int(value)


TYPES = {"object": lambda v: isinstance(v, dict), "array": lambda v: isinstance(v, list), "string": lambda v: isinstance(v, str),
         "boolean": lambda v: isinstance(v, bool), "number": is_number, "integer": is_integer, "null": lambda v: v is None}


def same(a, b):  # Core 4.2.2: true is not 1, 1.0 is 1
    return isinstance(a, bool) == isinstance(b, bool) and a == b


def pattern(text):  # ECMA-262: $ is the end alone, not a line feed before it
    return re.compile(re.sub(r"\$$", r"\\Z", text))


def applies(root, schema, value):
    """Whether value is valid under schema."""
    if isinstance(schema, bool):
        return schema
    return all(RULES[word](root, schema, argument, value) for word, argument in schema.items() if word not in WORDS)


def ref(root, _, argument, value):
    target = root
    for step in argument.removeprefix("#/").split("/"):
        target = target[step]
    return applies(root, target, value)


def properties(root, _, argument, value):
    return not isinstance(value, dict) or all(applies(root, s, value[k]) for k, s in argument.items() if k in value)


def additional(root, schema, argument, value):
    return not isinstance(value, dict) or all(
        applies(root, argument, v) for k, v in value.items() if k not in schema.get("properties", {}))


RULES = {
    "$ref": ref,
    "type": lambda r, s, a, v: TYPES[a](v),
    "const": lambda r, s, a, v: same(a, v),
    "enum": lambda r, s, a, v: any(same(x, v) for x in a),
    "minimum": lambda r, s, a, v: not is_number(v) or v >= a,
    "maximum": lambda r, s, a, v: not is_number(v) or v <= a,
    "minLength": lambda r, s, a, v: not isinstance(v, str) or len(v) >= a,
    "maxLength": lambda r, s, a, v: not isinstance(v, str) or len(v) <= a,
    "pattern": lambda r, s, a, v: not isinstance(v, str) or pattern(a).search(v) is not None,
    "minItems": lambda r, s, a, v: not isinstance(v, list) or len(v) >= a,
    "maxItems": lambda r, s, a, v: not isinstance(v, list) or len(v) <= a,
    "uniqueItems": lambda r, s, a, v: not (a and isinstance(v, list)) or not any(same(x, y) for i, x in enumerate(v) for y in v[:i]),
    "items": lambda r, s, a, v: not isinstance(v, list) or all(applies(r, a, x) for x in v),
    "minProperties": lambda r, s, a, v: not isinstance(v, dict) or len(v) >= a,
    "maxProperties": lambda r, s, a, v: not isinstance(v, dict) or len(v) <= a,
    "propertyNames": lambda r, s, a, v: not isinstance(v, dict) or all(applies(r, a, k) for k in v),
    "required": lambda r, s, a, v: not isinstance(v, dict) or all(k in v for k in a),
    "properties": properties,
    "additionalProperties": additional,
    "dependentSchemas": lambda r, s, a, v: not isinstance(v, dict) or all(applies(r, x, v) for k, x in a.items() if k in v),
    "oneOf": lambda r, s, a, v: sum(applies(r, x, v) for x in a) == 1,
    "not": lambda r, s, a, v: not applies(r, a, v),
}

# Rows for the checker itself, from the wording of the specification.
CHECKER_ROWS = [
    ("6.1.1: 1.0 is an integer", {"type": "integer"}, 1.0, True),
    ("6.1.1: true is no integer", {"type": "integer"}, True, False),
    ("6.1.3: const 1 is not true", {"const": 1}, True, False),
    ("6.3.2: length counts characters", {"maxLength": 1}, "\U0001F527", True),
    ("6.3.3: a pattern is not anchored", {"pattern": "b"}, "abc", True),
    ("6.3.3: $ is the very end", {"pattern": "^a$"}, "a\n", False),
    ("6.4.3: uniqueItems, 1 and true differ", {"uniqueItems": True}, [1, True], True),
    ("6.4.3: uniqueItems, 1 and 1.0 do not", {"uniqueItems": True}, [1, 1.0], False),
    ("6.5.3: required", {"required": ["a"]}, {"b": 1}, False),
    ("10.2.1.3: oneOf takes exactly one", {"oneOf": [{"type": "integer"}, {"minimum": 2}]}, 3, False),
    ("10.2.2.4: dependentSchemas", {"dependentSchemas": {"a": {"required": ["b"]}}}, {"a": 1}, False),
    ("10.2.2.4: dependentSchemas of what is not there", {"dependentSchemas": {"a": {"required": ["b"]}}}, {"c": 1}, True),
    ("10.3.2.3: additionalProperties", {"properties": {"a": True}, "additionalProperties": False}, {"b": 1}, False),
    ("10.3.2.4: propertyNames", {"propertyNames": {"maxLength": 1}}, {"ab": 1}, False),
]


# ---- a file with every type, and what may be wrong with it ----------------------------------------------------------------

def every_type():
    def event(i, kind, station, payload):
        head = {"id": f"01KQRX6ZQ6V6SG51K2G8Q1Z0{i:02d}", "type": kind, "at_ms": 1777878720000 + i, "technician": "ines",
                "shop": "fern-2"}
        return head | ({"station": station} if station else {}) | {"payload": payload}
    return {"mendwright_events": 1, "invented": True,
            "bulletin": {"id": "OV-26-03", "revision": 2, "sha256": "0" * 64}, "vin": "ZZZFM24T5R0001234",
            "events": [
                event(0, "opened", None, {"software": "hand"}),
                event(1, "label_read", "fore", {"text": "WD40 2024-W13", "variant": "WD40", "built_first": "2024-03-25",
                                                "built_last": "2024-03-31"}),
                event(2, "scope_found", "fore", {"verdict": "in", "reason": "in the window"}),
                event(3, "rack_measured", "fore", {"rack": "inboard", "length_nm": 1203500000, "instrument": "tape"}),
                event(4, "kit_chosen", "fore", {"kit": "left-upper", "with": {"hand": "left"}}),
                event(5, "cut", "fore", {"rack": "inboard", "needed_nm": 1, "stock_nm": 3, "mark_nm": 1, "offcut_nm": 0,
                                         "from_end": "upper"}),
                event(6, "hold_confirmed", "fore", {"step": "cut-racks"}),
                event(7, "reading_taken", "fore", {"point": "fore-upper-in", "value_nm": -5, "instrument": "gap-gauge",
                                                   "step": "true-room"}),
                event(8, "reading_taken", None, {"point": "supply-load", "value": 13.1, "unit": "V"}),
                event(9, "moved", "fore", {"target": "adjuster", "name": "fore-toe", "steps": -2}),
                event(10, "photo_taken", "fore", {"photo": "label", "path": "photos/a-1.jpg", "sha256": "a" * 64}),
                event(11, "note", "fore", {"text": "two\nlines"}) | {"corrects": "01KQRX6ZQ6V6SG51K2G8Q1Z009"},
                event(12, "expense_claimed", "fore", {"what": "parts", "amount_minor": 1250, "part": "cover-strip", "count": 2,
                                                      "why": "torn when taken off"}),
                event(13, "expense_claimed", None, {"what": "travel", "amount_minor": 0}),
                event(14, "finished", None, {"minutes": 385})]}


# No reals with an exponent or a fraction that JSON readers may round in their own way.
VALUES = [None, True, 0, 1, -1, 1.5, 2.0, 10 ** 15, 10 ** 15 + 1, 7258118400000, "", "x", "X", "a b", "a\n", "-a", "a--b", "in",
          "rack", "travel", "V", "mm", "a" * 48, "a" * 49, "\u00e9" * 120, "\u00e9" * 121, "\u00e9" * 2000, "\u00e9" * 2001, "../a",
          "a/../b", "a//b", "/a", ".a/b", "a.jpg", "A*", "01KQRX6ZQ6V6SG51K2G8Q1Z0I0", "01kqrx6zq6v6sg51k2g8q1z000",
          "81KQRX6ZQ6V6SG51K2G8Q1Z000", "2024-13-01", "2024-02-28", "1899-12-31", "2200-01-01", "ZZZFM24T5R000123I", "f" * 64,
          "F" * 64, [], {}, {"a": "b"}, {"A": "b"}, {f"k{i}": "v" for i in range(9)}]


def places(value, path=()):
    """Paths of everything in value."""
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from places(inner, (*path, key))


def mutate(rnd, base):
    """(what was done, the file)"""
    doc = copy.deepcopy(base)
    path = rnd.choice([p for p in places(doc) if p])
    owner = doc
    for step in path[:-1]:
        owner = owner[step]
    where = ".".join(map(str, path))
    kind = rnd.random()
    if kind < 0.15:
        del owner[path[-1]]
        return f"{where} taken out", doc
    if kind < 0.3 and isinstance(owner, dict):
        name = rnd.choice(["extra", "station", "corrects", "value", "value_nm", "unit", "note"])
        value = rnd.choice(["fore", "01KQRX6ZQ6V6SG51K2G8Q1Z001", 5, "V"])
        owner.setdefault(name, value)
        return f"{name} {json.dumps(value)} put beside {where}", doc
    if kind < 0.4 and path[-1] == "type" or kind < 0.33:
        event = rnd.choice(doc["events"])
        event["type"] = rnd.choice(doc["events"])["type"]
        return f"an event's type turned to {event['type']}", doc
    value = rnd.choice(VALUES)
    owner[path[-1]] = value
    return f"{where} = {json.dumps(value)[:60]}", doc


def is_stricter(doc):
    """What only the program can see: the last day before the first (the dates above all exist)."""
    for event in doc["events"]:
        payload = event["payload"] if isinstance(event, dict) and isinstance(event.get("payload"), dict) else {}
        if payload.get("built_first", "") > payload.get("built_last", "9"):
            return True
    return False


def program_takes(program, doc):
    done = subprocess.run([program, "job", "--json", "-"], input=json.dumps(doc).encode(), capture_output=True, timeout=60)
    if done.returncode not in (0, 2, 4):
        raise RuntimeError(f"exit {done.returncode}: {done.stderr.decode()}")
    return done.returncode != 2, done.stderr.decode().strip()


# ---- what must hold --------------------------------------------------------------------------------------------------------

def known_words(schema, inside=False):
    """Every keyword of a schema; inside: schema maps names to schemas."""
    for key, value in schema.items() if isinstance(schema, dict) else ():
        if not inside:
            yield key
        if key in ("properties", "$defs", "dependentSchemas") and not inside:
            yield from known_words(value, True)
        elif isinstance(value, dict):
            yield from known_words(value)
        elif key == "oneOf":
            for part in value:
                yield from known_words(part)


def outside_checker(schema):
    try:
        import jsonschema
        jsonschema.Draft202012Validator.check_schema(schema)
        return jsonschema.Draft202012Validator(schema)
    except (ImportError, AttributeError):
        return None


def say_outside(tap, outside, holds, what):
    if outside is not None:
        tap.ok(holds, what)
        return
    tap.skip(what, "python3-jsonschema is not installed")


def examples(tap, schema, outside, program):
    files = sorted((ROOT / "examples" / "jobs").rglob("events.json"))
    tap.ok(bool(files), "there are example jobs")
    for path in files:
        name = path.relative_to(ROOT)
        doc = json.loads(path.read_text(encoding="utf-8"))
        tap.ok(applies(schema, schema, doc), f"{name} is valid under the schema")
        say_outside(tap, outside, outside is None or outside.is_valid(doc), f"{name}: python3-jsonschema says the same")
        tap.ok(program_takes(program, doc)[0], f"{name} is taken by the program")
        for event in doc["events"]:
            if event["type"] == "photo_taken":
                data = (path.parent / event["payload"]["path"]).read_bytes()
                tap.ok(hashlib.sha256(data).hexdigest() == event["payload"]["sha256"],
                       f"{name}: {event['payload']['path']} has the digest that its event names (hashlib)")
        bulletin = ROOT / "examples" / f"{doc['bulletin']['id']}.yaml"
        digest = hashlib.sha256(bulletin.read_bytes()).hexdigest()
        tap.ok(doc["bulletin"]["sha256"] == digest, f"{name} names the digest of examples/{bulletin.name} (hashlib)",
               f"the bulletin is now {digest}: put that into the example")


def mutations(tap, schema, outside, program):
    rnd, base = random.Random(SEED), every_type()
    tap.ok(applies(schema, schema, base) and program_takes(program, base)[0], "a file with every type is taken by both")
    n_taken = n_outside = 0
    for _ in range(MUTATIONS):
        what, doc = mutate(rnd, base)
        valid = applies(schema, schema, doc)
        taken, said = program_takes(program, doc)
        n_taken += taken
        # That library lets Python's $ match before a line feed; see pattern() above.
        if outside is not None and "\\n" not in json.dumps(doc).replace("two\\nlines", ""):
            n_outside += outside.is_valid(doc) != valid
        tap.ok(taken == valid or (valid and is_stricter(doc)), f"{what}: {'valid' if valid else 'invalid'} to both",
               f"schema: {valid}, program: {taken} {said}")
    tap.ok(MUTATIONS // 20 < n_taken < MUTATIONS * 19 // 20, f"{n_taken} of {MUTATIONS} mutations are still valid, the others not")
    say_outside(tap, outside, n_outside == 0, "python3-jsonschema agrees on every one")


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    tap = Tap()
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    tap.ok(schema["$schema"] == "https://json-schema.org/draft/2020-12/schema", "the schema says its draft")
    strange = {w for w in known_words(schema) if w not in RULES and w not in WORDS}
    tap.ok(not strange, "the checker knows every keyword of the schema", *sorted(strange))
    for name, rule, value, expected in CHECKER_ROWS:
        tap.ok(applies(rule, rule, value) == expected, f"checker, {name} (JSON Schema 2020-12)")
    outside = outside_checker(schema)
    examples(tap, schema, outside, program)
    mutations(tap, schema, outside, program)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
