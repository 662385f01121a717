#!/usr/bin/env python3
"""`store builds` and `store keep` from the outside: exit codes, words, JSON, and what then stands in the database, read by Python's
sqlite3. Digests by Python's hashlib. The VIN whose check digit is right is the worked example of 49 CFR 565.15. TAP.

usage: keep.py PROGRAM
"""
import hashlib
import json
import pathlib
import re
import sqlite3
import struct
import subprocess
import sys
import tempfile
import zlib

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "cli"))
from run import ROOT, Tap  # noqa: E402

LIST = b'vin,station,label\n1G4AH59H45G118341,fore,"WD40, 2024-W13"\n1G4AH59H55G118341,aft,\n'


class Desk:
    def __init__(self, program, folder):
        self.program, self.folder, self.store = program, folder, folder / "claims"
        self.call("init")

    def call(self, *words, stdin=b"", store=None):
        """(exit code, stdout, stderr)"""
        done = subprocess.run([self.program, "store", *words, "--store", store or self.store], input=stdin, capture_output=True,
                              timeout=120, cwd=self.folder)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def rows(self, query):
        db = sqlite3.connect(f"file:{self.store}/store.db?mode=ro", uri=True)
        found = db.execute(query).fetchall()
        db.close()
        return found

    def write(self, name, data):
        (self.folder / name).write_bytes(data)
        return name


def builds(tap, desk):
    path = desk.write("b.csv", LIST)
    code, out, err = desk.call("builds", path, "--json")
    tap.ok((code, err) == (0, "") and json.loads(out) == {
        "file": "b.csv", "rows": 2, "wrong_check_digits": 1, "first_wrong": {"vin": "1G4AH59H55G118341", "line": 3}},
        "builds --json: two rows, one check digit wrong", out, err)
    tap.ok(desk.rows("SELECT vin, station, label FROM builds ORDER BY vin") == [
        ("1G4AH59H45G118341", "fore", "WD40, 2024-W13"), ("1G4AH59H55G118341", "aft", None)],
        "and they stand in the database (Python's sqlite3)")
    code, out, err = desk.call("builds", path)
    tap.ok((code, err) == (0, "") and out.startswith("[=] Put 2 rows of the build list into the store.\n    1 of them has a VIN"),
           "builds, to read", out, err)
    code, out, err = desk.call("builds", "-", stdin=LIST.replace(b"fore", b"mid"))
    tap.ok(code == 0 and len(desk.rows("SELECT 1 FROM builds")) == 3, "builds from standard input", out, err)
    bad = desk.write("bad.csv", LIST + b"1G4AH59H45G118341,Fore,x\n")
    n = desk.rows("SELECT count(*) FROM builds")
    code, out, err = desk.call("builds", bad, "--json")
    tap.ok((code, out) == (2, "") and err ==
           "mendwright store: bad.csv:4:19: station: an id is lower-case words with dashes: write 'fore' instead of 'Fore'\n",
           "a row that is wrong: exit 2, its line, column and column's name", err)
    tap.ok(desk.rows("SELECT count(*) FROM builds") == n, "and nothing of that list was put")
    tap.ok(desk.call("builds", desk.write("bin", bytes(range(256)) * 40))[0] == 2, "bytes that are no list: exit 2")
    tap.ok(desk.call("builds", desk.write("empty", b""))[0] == 2, "an empty file: exit 2")
    tap.ok(desk.call("builds", "none.csv")[0] == 2, "a file that is not there: exit 2")
    tap.ok(desk.call("builds", path, store=desk.folder / "nowhere")[0] == 2, "a store that is not there: exit 2")


def keep(tap, desk):
    bulletin = ROOT / "examples" / "OV-26-03.yaml"
    digest = hashlib.sha256(bulletin.read_bytes()).hexdigest()
    code, out, err = desk.call("keep", "bulletin", bulletin, "--json")
    tap.ok((code, err) == (0, "") and json.loads(out) == {"kind": "bulletin", "name": "OV-26-03", "revision": 2, "new": True,
                                                          "sha256": digest, "pictures": 0},
           "keep bulletin --json: its own id and revision, its digest (hashlib)", out, err)
    code, out, err = desk.call("keep", "bulletin", bulletin)
    tap.ok(code == 0 and out.startswith('[=] Nothing to do: bulletin "OV-26-03", revision 2 is the one that holds.\n'),
           "kept again, to read", out, err)
    shops = desk.write("shops.csv", b"shop,kind,rate,from\r\nfern-2,mobile,68.00,2026-01-01\r\n")
    code, out, err = desk.call("keep", "shops", shops)
    tap.ok(code == 0 and out == '[=] Kept shops "shops".\n    1 row.\n', "keep shops, to read", out, err)
    code, out, err = desk.call("keep", "shops", shops, "--name", "north", "--revision", "3", "--json")
    tap.ok(code == 0 and json.loads(out)["name"] == "north" and json.loads(out)["revision"] == 3, "under a name of its own", out, err)
    # The public key of RFC 8032, section 7.1, test 1.
    ring = desk.write("ring", b"fern-2 d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a\n")
    tap.ok(desk.call("keep", "keys", ring)[:2] == (0, '[=] Kept keys "keys".\n    1 key.\n'), "keep keys")
    tap.ok(desk.rows("SELECT kind, name, revision FROM papers ORDER BY kind, name") == [
        ("bulletin", "OV-26-03", 2), ("keys", "keys", None), ("shops", "north", 3), ("shops", "shops", None)],
        "they stand in the database (Python's sqlite3)")
    n = desk.rows("SELECT count(*) FROM papers")
    refused = [
        (("keep", "bulletins", bulletin), "the kind 'bulletins' is not known; did you mean 'bulletin'?"),
        (("keep", "shops"), "found no paper; expected bulletin, shops, keys, failures, reserve or stock after keep, and its file"),
        (("keep", "shops", shops, "x"), "found one word too many, 'x'"),
        (("keep", "shops", shops, "--revision", "0"), "--revision '0': expected a whole number 1..1000000"),
        (("keep", "bulletin", bulletin, "--name", "x"), "a bulletin's own id and revision are its name; expected no other"),
        (("keep", "keys", shops), "shops.csv:1: "),
        (("keep", "shops", ring), "ring:1: no column \"shop\""),
        (("keep", "bulletin", shops), "shops.csv"),
        (("keep", "bulletin", desk.write("two.yaml", b"bulletin:\n  id: X-1\n")), "more; `mendwright check` lists them)"),
        (("verify", "--name", "x"), "--name and --revision belong to keep alone"),
    ]
    for words, said in refused:
        code, out, err = desk.call(*words)
        tap.ok((code, out) == (2, "") and said in err and err.count("\n") == 1, f"exit 2: {said}", f"exit {code}", out, err)
    tap.ok(desk.rows("SELECT count(*) FROM papers") == n, "none of these was kept")
    code, out, err = desk.call("verify", "--json")
    tap.ok(code == 0 and json.loads(out)["ok"] and json.loads(out)["papers"] == 4 and json.loads(out)["builds"] == 3,
           "the store is whole", out, err)


def png():
    """One grey pixel by the standard (ISO/IEC 15948): signature, IHDR, IDAT, IEND, each with its CRC (Python's zlib)."""
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)) + chunk(b"IDAT", zlib.compress(b"\0\x80"))
            + chunk(b"IEND", b""))


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2 1"><path d="M0 0h2v1z"/></svg>'


def illustrated(*files):
    """The second example with a picture at each of its first steps."""
    text = (ROOT / "examples" / "FR-26-11.yaml").read_text()
    for file in files:
        text = re.sub(r"(?m)^(    per: \w+\n)(?!    picture)", r"\1    picture: {file: %s, alt: {en: A drawing}}\n" % file, text, count=1)
    return text.encode()


def pictures(tap, desk):
    desk.write("stands.svg", SVG)
    desk.write("hinge.png", png())
    both = desk.write("both.yaml", illustrated("stands.svg", "hinge.png", "stands.svg"))
    def n():
        return desk.rows("SELECT count(*) FROM papers")[0][0]

    before = n()
    code, out, err = desk.call("keep", "bulletin", both, "--json")
    tap.ok(code == 0 and (json.loads(out)["pictures"], json.loads(out)["new"]) == (2, True) and n() == before + 3,
           "a bulletin of three steps with two pictures: each is kept once, beside it", out, err)
    kept = desk.rows("SELECT name, revision, json_extract(json, '$.text') FROM papers JOIN log USING (seq) WHERE papers.kind = 'picture' ORDER BY name")
    tap.ok([(a, b, bytes.fromhex(c)) for a, b, c in kept] == [("FR-26-11/hinge.png", 1, png()), ("FR-26-11/stands.svg", 1, SVG)],
           "byte for byte, under the bulletin's id and revision (Python's sqlite3 and bytes.fromhex)")
    code, out, err = desk.call("keep", "bulletin", both)
    tap.ok(code == 0 and "Nothing to do" in out and "2 pictures" in out and n() == before + 3, "kept again: nothing to do", out, err)
    desk.write("stands.svg", SVG.replace(b"M0", b"M1"))
    code, out, err = desk.call("keep", "bulletin", both, "--json")
    tap.ok(code == 0 and json.loads(out)["new"] and n() == before + 4, "with one picture drawn anew it is kept, the bulletin not again", out, err)
    before = n()
    for what, file, data, said in [
            ("a picture that is missing", "gone.svg", None, "gone.svg"), ("a PNG that is none", "b.png", b"GIF89a", "b.png: is no PNG file"),
            ("a JPEG that is none", "b.jpg", png(), "b.jpg: is no JPEG file"), ("an SVG that is none", "b.svg", b"<html></html>", "b.svg: is no SVG file"),
            ("an SVG that is not UTF-8", "c.svg", SVG + b"\xff", "c.svg: is no SVG file"), ("one that is too large", "d.svg", SVG + b" " * 3145728, "d.svg"),
            ("an empty one", "e.png", b"", "e.png: is no PNG file")]:
        if data is not None:
            desk.write(file, data)
        code, out, err = desk.call("keep", "bulletin", desk.write("bad.yaml", illustrated("hinge.png", file)))
        tap.ok(code == 2 and said in err and n() == before, f"{what}: refused, and nothing is kept", out, err)
    code, out, err = desk.call("keep", "bulletin", "-", stdin=illustrated("hinge.png"))
    tap.ok(code == 2 and "standard input" in err, "a bulletin from standard input has nothing beside it", out, err)
    code, out, err = desk.call("verify", "--json")
    tap.ok(code == 0 and json.loads(out)["ok"] is True, "pictures are verified like all else", out, err)


def main():
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(folder))
        builds(tap, desk)
        keep(tap, desk)
        pictures(tap, desk)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
