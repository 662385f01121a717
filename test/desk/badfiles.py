#!/usr/bin/env python3
"""Files that are no answer, for the verbs that need a store (test/cli/badproof.case has the others): every one refuses them, exit 2
and one line that names the file and nothing else; for taking in, what is no bag is a refusal, exit 1. The store stays as it was.
TAP.

usage: badfiles.py PROGRAM
"""
import json
import pathlib
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "cli"))
from run import ROOT, Tap  # noqa: E402

# name: bytes; None: not there; "folder": a folder
FILES = {
    "nowhere": None,
    "here": "folder",
    "/dev/null": None,
    "empty": b"",
    "binary": b"\x7fELF\x02\x01\x01\x00\x00\x00" * 9,
    "nul": b"a: b\x00c\n",
    "wide": "shop,kind\nfern,shop\n".encode("utf-16"),
    "latin": "shop,kind\nf\u00e9rn,shop\n".encode("latin-1"),
    "cut": b'vin,station,label\n"1G4AH59H45G11',
    "json": b'{"mendwright_events":1}\n',
}
CALLS = [
    ["store", "builds", "FILE"],
    ["store", "keep", "bulletin", "FILE"],
    ["store", "keep", "shops", "FILE"],
    ["store", "keep", "keys", "FILE"],
    ["rule", "--bulletin", "FILE"],
    ["rule", "--shops", "FILE"],
    ["take", "good", "--keys", "FILE"],
    ["take", "--arrivals", "FILE"],
    ["take", "FILE"],
]


def expected(call, name):
    if call == ["take", "FILE"] and name not in ("nowhere", "/dev/null"):
        return 1
    return 2


def is_an_answer(call, name):
    """A folder of keys, and a keyring of nobody, may be given to take."""
    return call[:2] == ["take", "good"] and name in ("here", "empty")


def counts(store):
    db = sqlite3.connect(f"file:{store}/store.db?mode=ro", uri=True)
    found = [db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "papers", "builds", "claims")]
    db.close()
    return found


def main():
    program, tap = pathlib.Path(sys.argv[1]).resolve(), Tap()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)

        def call(*words):
            done = subprocess.run([program, *words], capture_output=True, timeout=120, cwd=folder)
            return done.returncode, done.stdout.decode(), done.stderr.decode()

        call("store", "init", "--store", "claims")
        call("store", "keep", "bulletin", ROOT / "examples" / "OV-26-03.yaml", "--store", "claims")
        (folder / "good").mkdir()
        for path, data in FILES.items():
            if data == "folder":
                (folder / path).mkdir()
            elif data is not None:
                (folder / path).write_bytes(data)
        before = counts(folder / "claims")
        for words in CALLS:
            for path in FILES:
                if is_an_answer(words, path):
                    continue
                code, out, err = call(*[path if w == "FILE" else w for w in words], "--store", "claims", "--json")
                wanted, what = expected(words, path), " ".join(words).replace("FILE", path)
                if wanted == 1:
                    tap.ok(code == 1 and json.loads(out)["result"] == "refused" and err == "", f"{what}: refused, exit 1",
                           f"exit {code}", out, err)
                else:
                    tap.ok(code == 2 and out == "" and err.count("\n") == 1 and err.startswith(f"mendwright {words[0]}: {path}"),
                           f"{what}: exit 2, one line that names the file", f"exit {code}", out, err)
        tap.ok(counts(folder / "claims") == before, "the store holds what it held before (Python's sqlite3)")
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
