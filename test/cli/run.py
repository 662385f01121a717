#!/usr/bin/env python3
"""Runs command-line cases and prints TAP, one line a fact. The case format is in README.md beside this file.

usage: run.py [--only NAME] PROGRAM FILE.case...
"""
import argparse
import json
import os
import pathlib
import pty
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import threading

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
SINGLE = {"name", "source", "run", "exit", "output"}
BLOCKS = {"stdin", "stdout", "stderr", "file"}
TIMEOUT_S = 120


class CaseError(Exception):
    """The case file itself is wrong."""


# ---- reading cases ---------------------------------------------------------------------------------------------------

def read_cases(path):
    """Yields one dict a case: field -> value, lists for fields that may be repeated; '_line' for messages."""
    case, block = None, None
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        if block is not None and (line[:1] in "|~" and line or line == "..."):
            block.append(line)
            continue
        block = None
        if not line.strip() or line.startswith("#"):
            continue
        field, colon, value = line.partition(":")
        value = value.strip()
        if not colon or not re.fullmatch(r"[a-z]+", field):
            raise CaseError(f"{path.name}:{number}: expected 'field: value', found {line!r}")
        if field == "name":
            if case:
                yield case
            case = {"_line": number, "_file": path.name, "json": [], "file": [], "bytes": [], "big": [],
                    "folder": [], "env": []}
        if case is None:
            raise CaseError(f"{path.name}:{number}: expected 'name:' first")
        if field in SINGLE | (BLOCKS - {"file"}) and field in case:
            raise CaseError(f"{path.name}:{number}: {field} is given twice")
        if field in BLOCKS:
            block = []
            if field == "file":
                case["file"].append((value, block))
            else:
                case[field] = [f"| {value}"] if value else block
        elif field in SINGLE:
            case[field] = value
        elif isinstance(case.get(field), list):
            case[field].append(value)
        else:
            raise CaseError(f"{path.name}:{number}: the field {field!r} is not known")
    if case:
        yield case


def check_case(case):
    where = f"{case['_file']}:{case['_line']}"
    for field in ("name", "run", "exit"):
        if field not in case:
            raise CaseError(f"{where}: the case has no '{field}:'")
    if (case["json"] or case.get("stdout")) and not case.get("source"):
        raise CaseError(f"{where}: the case states a value but names no 'source:'")


def block_text(block):
    """The bytes that a block of '|' lines stands for."""
    for line in block:
        if not line.startswith("|"):
            raise CaseError(f"only '|' lines can be written, found {line!r}")
    return "".join(line[2:] + "\n" for line in block).encode()


# ---- running -----------------------------------------------------------------------------------------------------------

def prepare(case, folder):
    for name in [name for name, _ in case["file"]] + [value.split(" ", 1)[0] for value in case["bytes"]]:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
    for name, block in case["file"]:
        (folder / name).write_bytes(block_text(block))
    for value in case["bytes"]:
        name, _, escaped = value.partition(" ")
        (folder / name).write_bytes(escaped.encode("latin-1").decode("unicode_escape").encode("latin-1"))
    for value in case["big"]:
        name, size, piece = value.split(" ", 2)
        piece = piece.encode().decode("unicode_escape").encode("latin-1")
        (folder / name).write_bytes((piece * (int(size) // len(piece) + 1))[:int(size)])
    for name in case["folder"]:
        (folder / name).mkdir(parents=True)


def environment(case):
    keep = ("PATH", "ASAN_OPTIONS", "UBSAN_OPTIONS", "LSAN_OPTIONS", "LD_LIBRARY_PATH")
    env = {k: v for k, v in os.environ.items() if k in keep}
    env.update({"LC_ALL": "C", "TERM": "dumb"})
    for setting in case["env"]:
        name, _, value = setting.partition("=")
        env[name] = value
    return env


def run_on_terminal(argv, columns, **kwargs):
    """Standard output is a pseudo-terminal of so many columns."""
    import fcntl
    import struct
    import termios
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    pieces = []

    def drain():
        try:
            while piece := os.read(master, 65536):
                pieces.append(piece)
        except OSError:  # the other end closed
            pass
    reader = threading.Thread(target=drain)
    reader.start()
    done = subprocess.run(argv, stdout=slave, stderr=subprocess.PIPE, **kwargs)
    os.close(slave)
    reader.join()
    os.close(master)
    return done.returncode, b"".join(pieces).replace(b"\r\n", b"\n"), done.stderr


def run_case(case, program, folder):
    words = shlex.split(case["run"])
    names = {"{examples}": str(ROOT / "examples"), "{root}": str(ROOT), "{scratch}": str(folder)}
    for i, word in enumerate(words):
        for name, value in names.items():
            word = word.replace(name, value)
        words[i] = word
    argv = [program, *words]
    kwargs = {"cwd": folder, "env": environment(case), "timeout": TIMEOUT_S,
              "input": block_text(case.get("stdin", []))}
    output = case.get("output", "pipe")
    if output.startswith("terminal"):
        return run_on_terminal(argv, int((output.split() + ["80"])[1]), **kwargs)
    if output == "closed":
        done = subprocess.run(["/bin/sh", "-c", 'exec "$@" >&-', "sh", *argv], stderr=subprocess.PIPE, **kwargs)
    elif output == "broken":
        end, start = os.pipe()
        os.close(end)
        done = subprocess.run(argv, stdout=start, stderr=subprocess.PIPE, **kwargs)
        os.close(start)
    elif output.startswith("/"):
        with open(output, "wb", buffering=0) as sink:
            done = subprocess.run(argv, stdout=sink, stderr=subprocess.PIPE, **kwargs)
    elif output == "pipe":
        done = subprocess.run(argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **kwargs)
    else:
        raise CaseError(f"{case['_file']}:{case['_line']}: the output {output!r} is not known")
    return done.returncode, done.stdout or b"", done.stderr


# ---- comparing -----------------------------------------------------------------------------------------------------------

def line_matches(pattern, line):
    if pattern.startswith("~"):
        return re.fullmatch(pattern[2:], line) is not None
    return pattern[2:] == line


def lines_match(patterns, lines):
    """'...' stands for any number of lines; '~ ' lines are regular expressions; '| ' lines are exact."""
    if not patterns:
        return not lines
    if patterns[0] == "...":
        return any(lines_match(patterns[1:], lines[i:]) for i in range(len(lines) + 1))
    return bool(lines) and line_matches(patterns[0], lines[0]) and lines_match(patterns[1:], lines[1:])


def no_duplicates(pairs):
    keys = [key for key, _ in pairs]
    if len(set(keys)) != len(keys):
        raise ValueError(f"a key is given twice in {keys}")
    return dict(pairs)


def no_constant(word):
    raise ValueError(f"{word} is not JSON")


def load_json(text):
    """One value, or the list of the values of the lines."""
    options = {"object_pairs_hook": no_duplicates, "parse_constant": no_constant}
    try:
        return json.loads(text, **options)
    except json.JSONDecodeError:
        return [json.loads(line, **options) for line in text.splitlines()]


MISSING = object()


def look_up(value, path):
    """points[0].verdict, points[id=fore].verdict, [2].vin; '.' is the whole."""
    for part in re.findall(r"\[[^\]]*\]|[^.\[\]]+", path):
        if not part.startswith("["):
            value = value.get(part, MISSING) if isinstance(value, dict) else MISSING
        elif "=" in part:
            key, _, wanted = part[1:-1].partition("=")
            found = [v for v in value if isinstance(v, dict) and v.get(key) == wanted] if isinstance(value, list) else []
            value = found[0] if found else MISSING
        else:
            i = int(part[1:-1])
            value = value[i] if isinstance(value, list) and -len(value) <= i < len(value) else MISSING
        if value is MISSING:
            return MISSING
    return value


ASSERTION = re.compile(r"(?P<path>\S+)\s+(?:(?P<op>==|!=|<|<=|>|>=|contains)\s+(?P<value>.+?)(?:\s+within\s+(?P<tol>\S+))?"
                       r"|has\s+(?P<n>\d+)\s+items?|is\s+(?P<absent>absent)|matches\s+(?P<regex>.+))$")


def same(a, b):
    """Equal and of one kind: true is not 1."""
    return a == b and isinstance(a, bool) == isinstance(b, bool)


def assert_json(root, text):
    """(holds, what was found)"""
    m = ASSERTION.match(text)
    if not m:
        raise CaseError(f"json: cannot be read: {text!r}")
    found = look_up(root, m["path"])
    shown = "nothing there" if found is MISSING else json.dumps(found)
    if m["absent"]:
        return found is MISSING, shown
    if found is MISSING:
        return False, shown
    if m["n"]:
        return isinstance(found, (list, dict)) and len(found) == int(m["n"]), shown
    if m["regex"]:
        return isinstance(found, str) and re.fullmatch(m["regex"], found) is not None, shown
    value, op = json.loads(m["value"]), m["op"]
    if m["tol"]:
        return op == "==" and isinstance(found, (int, float)) and abs(found - value) <= float(m["tol"]), shown
    if op in ("==", "!="):
        return same(found, value) == (op == "=="), shown
    if op == "contains":
        return isinstance(found, (str, list, dict)) and value in found, shown
    if isinstance(found, bool) or not isinstance(found, (int, float)):
        return False, shown
    return {"<": found < value, "<=": found <= value, ">": found > value, ">=": found >= value}[op], shown


# ---- the run -----------------------------------------------------------------------------------------------------------

def check_stream(tap, case, name, data, code, replay):
    """What a stream shows; unsaid, an error is one line on stderr and nothing else, an answer leaves stderr empty."""
    lines = data.decode("utf-8", "replace").splitlines()
    label = f"{case['name']}: {name}"
    patterns = case.get(name)
    if patterns is not None:
        tap.ok(lines_match(patterns, lines), label, "expected", *patterns, "found", *[f"| {x}" for x in lines], replay)
        return
    if code not in (2, 3):
        if name == "stderr":
            tap.ok(not lines, f"{label} is empty", *lines, replay)
        return
    if name == "stdout":
        tap.ok(not lines, f"{label} is empty", *lines, replay)
    else:
        tap.ok(len(lines) == 1 and lines[0].startswith("mendwright"), f"{label} is one line", *lines, replay)


def check_one(tap, case, program):
    folder = pathlib.Path(tempfile.mkdtemp(prefix="mendwright-case-"))
    try:
        prepare(case, folder)
        code, out, err = run_case(case, program, folder)
    except subprocess.TimeoutExpired:
        tap.ok(False, f"{case['name']}: ends within {TIMEOUT_S} s")
        return
    finally:
        shutil.rmtree(folder)
    source = f" ({case['source']})" if case.get("source") else ""
    replay = f"replay: test/cli/run.py --only {shlex.quote(case['name'])} PROGRAM test/cli/{case['_file']}"
    tap.ok(code == int(case["exit"]), f"{case['name']}: exit {case['exit']}{source}", f"found exit {code}",
           err.decode("utf-8", "replace"), replay)
    if case.get("output", "pipe").split()[0] in ("pipe", "terminal"):
        check_stream(tap, case, "stdout", out, code, replay)
    check_stream(tap, case, "stderr", err, code, replay)
    if not case["json"]:
        return
    try:
        root = load_json(out.decode("utf-8"))
    except ValueError as e:
        tap.ok(False, f"{case['name']}: prints JSON", e, out.decode("utf-8", "replace"), replay)
        return
    for text in case["json"]:
        holds, found = assert_json(root, text)
        tap.ok(holds, f"{case['name']}: {text}", f"found {found}", replay)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", help="run only the case of this name")
    parser.add_argument("program")
    parser.add_argument("cases", nargs="+", type=pathlib.Path)
    args = parser.parse_args()
    program = str(pathlib.Path(args.program).resolve())
    tap = Tap()
    names = set()
    try:
        for path in args.cases:
            for case in read_cases(path):
                check_case(case)
                if case["name"] in names:
                    raise CaseError(f"{path.name}: two cases are named {case['name']!r}")
                names.add(case["name"])
                if args.only in (None, case["name"]):
                    check_one(tap, case, program)
    except CaseError as e:
        print(f"Bail out! {e}")
        return 2
    if tap.n == 0:
        print("Bail out! no case was run")
        return 2
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
