#!/usr/bin/env python3
"""Holds base/csv to another reader and writer: the csv module of Python's standard library. Random tables with quotes, commas,
line ends, blanks, UTF-8 and empty fields; both must read the same fields from what either wrote. Prints TAP.

usage: peer.py CSV_COPY
"""
import csv
import io
import json
import pathlib
import random
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "cli"))
from run import Tap  # noqa: E402

SEED = 4180
TABLES = 150
PIECES = ['"', '""', ",", "\n", "\r\n", "\r", " ", "a", "Zz", "0", "é", "€", "\U0001F527", "\ufeff", ";", "\t", "'", "\x01", "=1+1"]


def random_field(rnd):
    return "".join(rnd.choice(PIECES) for _ in range(rnd.choice([0, 0, 1, 1, 2, 3, 8])))


def random_table(rnd):
    n = rnd.choice([1, 1, 2, 3, 7, 40])
    names = []
    while len(names) < n:
        name = random_field(rnd)
        if name not in names:
            names.append(name)
    return [names] + [[random_field(rnd) for _ in range(n)] for _ in range(rnd.choice([0, 1, 5, 60]))]


def by_python(table, line_end, quoting):
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator=line_end, quoting=quoting, strict=True).writerows(table)
    text = out.getvalue()
    # A byte order mark at the very start is none of the first field: Python's writer leaves one in place, so it is quoted here.
    if text.startswith("\ufeff"):
        head = io.StringIO(newline="")
        csv.writer(head, lineterminator=line_end, quoting=csv.QUOTE_ALL).writerow(table[0])
        out = io.StringIO(newline="")
        csv.writer(out, lineterminator=line_end, quoting=quoting).writerows(table[1:])
        text = head.getvalue() + out.getvalue()
    return text.encode()


def read_by_python(data):
    return [row for row in csv.reader(io.StringIO(data.decode(), newline=""), strict=True) if row]


def read_by_us(program, data, scratch):
    path, told = scratch / "t.csv", scratch / "told"
    path.write_bytes(data)
    done = subprocess.run(["sh", "-c", 'exec "$0" "$1" 3>"$2"', program, path, told], capture_output=True, timeout=60)
    fields = [json.loads(line) for line in told.read_text(encoding="utf-8").split("\n") if line]
    return done.returncode, fields, done.stdout, done.stderr.decode()


def check_table(tap, program, scratch, i, table, data, how):
    theirs = read_by_python(data)
    code, ours, written, said = read_by_us(program, data, scratch)
    tap.ok(code == 0 and ours == table, f"table {i}, {how}: we read what Python wrote", said, json.dumps(table)[:300],
           json.dumps(ours)[:300])
    tap.ok(theirs == table and read_by_python(written) == table, f"table {i}, {how}: Python reads what we wrote",
           repr(written)[:300])
    again = read_by_us(program, written, scratch)
    tap.ok(again[0] == 0 and again[1] == table and again[2] == written,
           f"table {i}, {how}: written again it is the same to the byte", again[3])


def ragged(tap, program, scratch):
    """What Python's strict reader refuses, so do we; the text is cut and bent at random places."""
    rnd, n_refused, n_both = random.Random(SEED + 1), 0, 0
    for _ in range(400):
        data = bytearray(by_python(random_table(rnd)[:4], "\r\n", csv.QUOTE_MINIMAL))
        at = rnd.randrange(len(data))
        if rnd.random() < 0.5:
            del data[at:]
        else:
            data[at:at + 1] = rnd.choice([b'"', b',', b"\n", b'x', b'"x'])
        code, ours, _, said = read_by_us(program, bytes(data), scratch)
        try:
            theirs = read_by_python(bytes(data))
        except (csv.Error, UnicodeDecodeError):
            theirs = None
        n_refused += code != 0
        n_both += code != 0 and theirs is None
        if code == 0:
            # What we take, Python takes, and reads as the same: we are the stricter one.
            if not (theirs == ours or (theirs and theirs[0][0].startswith("\ufeff"))):
                tap.ok(False, "a bent table that both take reads the same", repr(bytes(data))[:300], json.dumps(ours)[:300])
        elif code != 1 or not said.strip():
            tap.ok(False, "a bent table is refused in words", f"exit {code}: {said}", repr(bytes(data))[:300])
    tap.ok(n_both > 20 and n_refused < 400, f"400 bent tables: {n_refused} refused by us, {n_both} of them by Python too; "
           "those we take read the same")


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    tap, rnd = Tap(), random.Random(SEED)
    with tempfile.TemporaryDirectory() as folder:
        scratch = pathlib.Path(folder)
        for i in range(TABLES):
            table = random_table(rnd)
            line_end, end_name = rnd.choice([("\r\n", "CRLF"), ("\n", "LF")])
            # Older Pythons leave a lone CR unquoted when their lines end in LF, which is no TEXTDATA of RFC 4180's grammar.
            has_cr = any("\r" in field for row in table for field in row)
            quoting, name = rnd.choice([(csv.QUOTE_MINIMAL, "quotes where needed"), (csv.QUOTE_ALL, "all quoted")])
            if has_cr and end_name == "LF":
                quoting, name = csv.QUOTE_ALL, "all quoted"
            check_table(tap, program, scratch, i, table, by_python(table, line_end, quoting), f"{end_name}, {name}")
        ragged(tap, program, scratch)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
