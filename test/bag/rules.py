#!/usr/bin/env python3
"""rules: RFC 8493, one rule a row: a bag is written to a folder, `bag verify` must say valid, complete and the kinds of
fault. Sums by hashlib. TAP.

usage: rules.py PROGRAM
"""
import os
import pathlib
import sys
import unicodedata

from bagkit import DECLARATION, Scratch, Tap, bag, encode, manifest, retag, run, write

TWO = {"a.txt": b"hello\n", "sub/b.txt": b"abc"}
VALID, WRONG_SUMS, INCOMPLETE = (True, True), (False, True), (False, False)
NFC, NFD = unicodedata.normalize("NFC", "café.txt"), unicodedata.normalize("NFD", "café.txt")
rows = []


def row(name, source, files, expected, *kinds, warning=None, extra=None, counts=None):
    """expected: (valid, complete); kinds: exactly these kinds of fault; warning: part of one; extra: does more to the
    folder; counts: (bytes, files)."""
    rows.append((name, source, files, expected, sorted(kinds), warning, extra, counts))


def changed(files, name, body):
    files = dict(files)
    if body is None:
        del files[name]
    else:
        files[name] = body if isinstance(body, bytes) else body.encode()
    return files


def with_tag(name, body, **more):
    """A good bag in which one tag file is replaced and the tag manifest knows it."""
    return retag(changed(bag(TWO, **more), name, body))


# ---- bags that are good ----------------------------------------------------------------------------------------------

# Written out with its sums, as computed once by hashlib (reference notes of the project): nothing here computes them.
OWN = {
    "data/a.txt": b"hello\n",
    "data/sub/b.txt": b"abc",
    "bagit.txt": DECLARATION.format("1.0").encode(),
    "bag-info.txt": b"Payload-Oxum: 9.2\n",
    "manifest-sha256.txt": b"5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03  data/a.txt\n"
                           b"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  data/sub/b.txt\n",
    "tagmanifest-sha256.txt":
        b"ae3be136361235541e29c0eba326c635b6f13f2c1c035f109c4e933d1bcc951a  manifest-sha256.txt\n"
        b"1712ecfb074bf29c4188ad3421032509159a09739fd604f8fe57038b4ddefcc9  bagit.txt\n"
        b"41365e2453be5b1f82aeec0dab080ca97d34ee970312301b67a5b816f74c51e0  bag-info.txt\n",
}
row("a small bag with its sums written out", "sums: hashlib, FIPS 180-4 for abc", OWN, VALID, counts=(9, 2))
for version in ("0.97", "1.0"):
    for alg in ("md5", "sha1", "sha256", "sha512"):
        row(f"version {version} with {alg}", "RFC 8493, 2.4", bag(TWO, version, (alg,)), VALID, counts=(9, 2),
            warning="damage, not forgery" if alg in ("md5", "sha1") else None)
row("all four kinds of sum at once", "RFC 8493, 2.1.3: one or more manifests",
    bag(TWO, algs=("md5", "sha1", "sha256", "sha512")), VALID)
row("no tag manifest", "RFC 8493, 2.2.1: it may be left out", bag(TWO, tag_algs=()), VALID)
row("lines end in CRLF", "RFC 8493, 2.1.1 and 2.1.3",
    retag({n: b if n.startswith("data/") else b.replace(b"\n", b"\r\n") for n, b in bag(TWO).items()}), VALID)
row("lines end in CR", "RFC 8493, 2.1.1 and 2.1.3",
    retag({n: b if n.startswith("data/") else b.replace(b"\n", b"\r") for n, b in bag(TWO).items()}), VALID)
row("the last line of a manifest has no end", "RFC 8493, 2.1.3, leniently",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"][:-1]), VALID)
row("sums in capital digits", "RFC 8493, 2.1.3: in either case",
    with_tag("manifest-sha256.txt", bag(TWO, encoder=str)["manifest-sha256.txt"].decode().replace("data", "DATA").upper()
             .replace("DATA/A.TXT", "data/a.txt").replace("DATA/SUB/B.TXT", "data/sub/b.txt")), VALID)
row("sum and path parted by a tab and many blanks", "RFC 8493, 2.1.3: one or more linear blanks",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"].replace(b"  data", b"\t    data")), VALID)
row("tag files in folders, not listed", "RFC 8493, 2.2.4: other tag files",
    {**bag(TWO), "notes/day.txt": b"rain\n"}, VALID)
row("an empty payload", "RFC 8493, 2.1.2", bag({}), VALID, counts=(0, 0))
row("an empty file", "RFC 8493, 2.1.2", bag({"empty": b""}), VALID, counts=(0, 1))
row("a blank in a name", "RFC 8493, 2.1.3", bag({"my photo 1.jpg": b"x"}), VALID)
row("blanks around a name", "RFC 8493, 2.1.3: the path goes to the line's end", bag({"end ": b"x"}), VALID)
row("CR, LF and % in names", "RFC 8493, 2.1.3", bag({"a\nb": b"1", "c\rd": b"2", "50%": b"3", "%0A": b"4"}), VALID)
row("encodings in small letters", "RFC 3986, 2.1: %0a is %0A",
    bag({"a\nb\rc": b"1"}, encoder=lambda p: encode(p).replace("%0A", "%0a").replace("%0D", "%0d")), VALID)
row("a % that stands for itself before 1.0", "the 0.97 draft encodes CR and LF only",
    bag({"50%25": b"3"}, "0.97", encoder=str), VALID)
row("a % that is not encoded in 1.0", "RFC 8493, 2.1.3 asks for %25", bag({"50% off": b"3"}, encoder=str), VALID,
    warning="%25")
row("bag-info with folded and repeated elements", "RFC 8493, 2.2.2",
    bag(TWO, info="Contact-Name: A\nContact-Name: B\nExternal-Description: one\n  two\n\tthree\npayload-oxum: 9.2\n"), VALID)
row("a file to be fetched that is already here", "RFC 8493, 2.2.3",
    bag(TWO, tags={"fetch.txt": b"http://localhost/a.txt 6 data/a.txt\nhttp://localhost/b - data/sub/b.txt\n"}), VALID)
row("before 1.0 one manifest of two is enough", "RFC 8493, 3, on bags before 1.0",
    retag(changed(bag(TWO, "0.97", ("md5", "sha256")), "manifest-md5.txt",
                  manifest(bag(TWO), "md5", ["data/a.txt"]))), VALID)
row("before 1.0 a '*' before the path", "the 0.97 draft; md5sum's mark for binary",
    with_tag("manifest-md5.txt", bag(TWO, "0.97", ("md5",))["manifest-md5.txt"].replace(b"  ", b" *"), version="0.97",
             algs=("md5",)), VALID, warning="damage, not forgery")
row("a manifest of an unknown kind beside a known one", "RFC 8493, 2.4: others may be used",
    retag({**bag(TWO), "manifest-blake9.txt": b"00  data/a.txt\n"}), VALID, warning="manifest-blake9.txt")


def encoded(name):
    files = bag({"a.txt": b"x"})
    files["bagit.txt"] = DECLARATION.format("1.0").replace("UTF-8", name).encode()
    files["bag-info.txt"] = "Contact-Name: Zoë\n".encode(name)
    del files["tagmanifest-sha256.txt"]
    files["manifest-sha256.txt"] = files["manifest-sha256.txt"].decode().encode(name)
    files["tagmanifest-sha256.txt"] = manifest(files, "sha256", [n for n in files if not n.startswith("data/")]).decode() \
        .encode(name)
    return files


for name in ("UTF-16", "UTF-16BE", "UTF-16LE", "ISO-8859-1"):
    row(f"tag files in {name}", "RFC 8493, 2.1.1: the declared encoding", encoded(name), VALID)
row("a name in NFD that the manifest has in NFC", "RFC 8493, 6.1: names on different systems",
    {**bag({NFC: b"x"}), **{f"data/{NFD}": b"x"}}, VALID, warning="Unicode form",
    extra=lambda folder: (folder / "data" / NFC).unlink())
row("names that differ in case", "RFC 8493, 6.1: names on different systems", bag({"A.txt": b"1", "a.txt": b"2"}), VALID, warning="only in case")
row("names that differ in Unicode's form", "RFC 8493, 6.1: names on different systems", bag({NFC: b"1", NFD: b"2"}), VALID, warning="Unicode form")
row("a path that begins with ./", "common practice of older tools",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"].replace(b"data/a", b"./data/a")), VALID, warning="'./'")

# ---- bags that are not -----------------------------------------------------------------------------------------------

# The payload's bytes are not in the RFC, so its two files are missing; the lines must be read for that.
row("RFC 8493's first example, without its payload", "RFC 8493's first example: its two lines", {
    "bagit.txt": DECLARATION.format("0.97").encode(),
    "manifest-md5.txt": b"49afbd86a1ca9f34b677a3f09655eae9 data/27613-h/images/q172.png\n"
                        b"408ad21d50cef31da4df6d9ed81b01a7 data/27613-h/images/q172.txt\n"}, INCOMPLETE, "missing-file")
row("bagit.txt is missing", "RFC 8493, 2.1.1", changed(bag(TWO), "bagit.txt", None), INCOMPLETE, "declaration")
for name, body in (
        ("three lines", DECLARATION.format("1.0") + "Note: x\n"), ("an empty third line", DECLARATION.format("1.0") + "\n"),
        ("one line", "BagIt-Version: 1.0\n"), ("nothing", ""), ("a byte order mark", "\ufeff" + DECLARATION.format("1.0")),
        ("its lines in the other order", "Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n"),
        ("a blank before the colon", DECLARATION.format("1.0").replace("Version:", "Version :")),
        ("two blanks after the colon", DECLARATION.format("1.0").replace(": 1", ":  1")),
        ("a version that does not exist", DECLARATION.format("2.0")), ("an odd version", DECLARATION.format("1.0.0")),
        ("an encoding that does not exist", DECLARATION.format("1.0").replace("UTF-8", "UTF-9")),
        ("labels in small letters", DECLARATION.format("1.0").lower())):
    row(f"bagit.txt with {name}", "RFC 8493, 2.1.1: exactly two lines of this form, no BOM", with_tag("bagit.txt", body),
        INCOMPLETE, "declaration")
row("there is no data/", "RFC 8493, 2.1.2", bag({}), INCOMPLETE, "no-payload",
    extra=lambda folder: (folder / "data").rmdir())
row("there is no manifest", "RFC 8493, 2.1.3", changed(bag(TWO, tag_algs=()), "manifest-sha256.txt", None), INCOMPLETE,
    "no-manifest")
row("only a manifest of an unknown kind", "RFC 8493, 2.4",
    {**changed(bag(TWO, tag_algs=()), "manifest-sha256.txt", None), "manifest-blake9.txt": b"00  data/a.txt\n"}, INCOMPLETE,
    "no-manifest", warning="not known here")
row("a listed file is missing", "RFC 8493, 3", bag(TWO), INCOMPLETE, "missing-file",
    extra=lambda folder: (folder / "data/a.txt").unlink())
row("a listed tag file is missing", "RFC 8493, 3", changed(bag(TWO, info="A: b\n"), "bag-info.txt", None), INCOMPLETE,
    "missing-file")
row("a file in data/ that no manifest lists", "RFC 8493, 3", {**bag(TWO), "data/new": b"x"}, INCOMPLETE, "unlisted-file")
row("a hidden file in data/ that no manifest lists", "RFC 8493, 3", {**bag(TWO), "data/.new": b"x"}, INCOMPLETE,
    "unlisted-file")
row("in 1.0 a file missing in one manifest of two", "RFC 8493, 3",
    retag(changed(bag(TWO, algs=("md5", "sha256")), "manifest-md5.txt", manifest(bag(TWO), "md5", ["data/a.txt"]))),
    INCOMPLETE, "unlisted-file")
row("one bit of the payload changed", "RFC 8493, 3", changed(bag(TWO), "data/a.txt", b"hellp\n"), WRONG_SUMS, "wrong-sum")
row("a tag file changed", "RFC 8493, 3", changed(bag(TWO, info="A: b\n"), "bag-info.txt", b"A: c\n"), WRONG_SUMS, "wrong-sum")
row("a manifest changed", "RFC 8493, 3", {**bag(TWO), "manifest-sha256.txt": bag(TWO)["manifest-sha256.txt"] + b"\n"},
    WRONG_SUMS, "wrong-sum")
row("right by md5, wrong by sha256", "RFC 8493, 3: every manifest",
    retag(changed(bag(TWO, algs=("md5", "sha256")), "manifest-sha256.txt",
                  manifest({"data/a.txt": b"no", "data/sub/b.txt": b"abc"}, "sha256", ["data/a.txt", "data/sub/b.txt"]))),
    WRONG_SUMS, "wrong-sum")
for name, path in (("..", "data/../../x"), (".. at the end", "data/.."), ("/", "/etc/passwd"), ("~", "~/x"),
                   ("a drive", "C:/x"), ("backslashes", "data\\..\\..\\x"), ("an empty part", "data//a.txt"),
                   ("a dot inside", "data/./a.txt"), ("an encoded line feed behind ..", "data/../%0A")):
    row(f"a path with {name}", "RFC 8493, 5: paths stay in the bag",
        with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + b"00" * 32 + b"  " + path.encode() + b"\n"),
        INCOMPLETE, "unsafe-path")
row("the same path twice", "RFC 8493, 2.1.3: once",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + manifest(bag(TWO), "sha256", ["data/a.txt"])),
    INCOMPLETE, "duplicate-path")
row("the same path twice, of a file that is not here", "RFC 8493, 2.1.3",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + 2 * (b"00" * 32 + b"  data/z\n")), INCOMPLETE,
    "duplicate-path", "missing-file")
for name, line in (("no path", b"00" * 32), ("no sum", b"data/a.txt"), ("a short sum", b"00" * 31 + b"  data/a.txt"),
                   ("a sum with a wrong digit", b"0g" * 32 + b"  data/a.txt"), ("a sum of another kind", b"00" * 16 + b"  x")):
    row(f"a manifest line with {name}", "RFC 8493, 2.1.3",
        with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + line + b"\n"), INCOMPLETE, "manifest-line")
row("a payload manifest that lists a tag file", "RFC 8493, 2.1.3: paths begin with data/",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + manifest(bag(TWO), "sha256", ["bagit.txt"])),
    INCOMPLETE, "manifest-line")
row("a tag manifest that lists payload", "RFC 8493, 2.2.1",
    changed(bag(TWO), "tagmanifest-sha256.txt", manifest(bag(TWO), "sha256", sorted(bag(TWO))[2:])),
    INCOMPLETE, "manifest-line")
row("in 1.0 a tag manifest that lists a tag manifest", "RFC 8493, 2.2.1",
    changed(bag(TWO), "tagmanifest-sha256.txt",
            bag(TWO)["tagmanifest-sha256.txt"] + b"00" * 32 + b"  tagmanifest-md5.txt\n"), INCOMPLETE, "manifest-line")
row("in 1.0 a tag manifest without the payload manifest", "RFC 8493, 2.2.1",
    changed(bag(TWO), "tagmanifest-sha256.txt", manifest(bag(TWO), "sha256", ["bagit.txt"])), INCOMPLETE, "unlisted-file")
row("before 1.0 a tag manifest without the payload manifest", "RFC 8493, 2.2.1",
    changed(bag(TWO, "0.97"), "tagmanifest-sha256.txt", manifest(bag(TWO, "0.97"), "sha256", ["bagit.txt"])), VALID)
for name, oxum in (("too many bytes", "10.2"), ("too few files", "9.1")):
    row(f"Payload-Oxum with {name}", "RFC 8493, 2.2.2", bag(TWO, info=f"Payload-Oxum: {oxum}\n"), WRONG_SUMS, "payload-oxum")
for name, info in (("Payload-Oxum twice", "Payload-Oxum: 9.2\nPayload-Oxum: 9.2\n"), ("a Payload-Oxum of one number",
                   "Payload-Oxum: 9\n"), ("a negative Payload-Oxum", "Payload-Oxum: -9.2\n"), ("no colon", "Contact\n"),
                   ("a blank at its beginning", "  x\n"), ("a huge Payload-Oxum", "Payload-Oxum: " + "9" * 40 + ".2\n")):
    row(f"bag-info.txt with {name}", "RFC 8493, 2.2.2", bag(TWO, info=info), INCOMPLETE, "bag-info-line")
row("a file still to be fetched", "RFC 8493, 2.2.3 and 3: incomplete until fetched",
    changed(bag(TWO, tags={"fetch.txt": b"http://localhost/a.txt - data/a.txt\n"}), "data/a.txt", None), INCOMPLETE,
    "not-fetched")
row("a file to be fetched that no manifest lists", "RFC 8493, 2.2.3",
    bag(TWO, tags={"fetch.txt": b"http://localhost/a.txt - data/z.txt\n"}), INCOMPLETE, "unlisted-file")
row("a file to be fetched to a place outside", "RFC 8493, 5: nothing from outside",
    bag(TWO, tags={"fetch.txt": b"http://localhost/a.txt - ../z.txt\n"}), INCOMPLETE, "unsafe-path")
row("a tag file to be fetched", "RFC 8493, 2.2.3: payload only",
    bag(TWO, tags={"fetch.txt": b"http://localhost/a.txt - bag-info.txt\n"}), INCOMPLETE, "fetch-line")
for name, line in (("no path", b"http://localhost/a 9\n"), ("a size in words", b"http://localhost/a nine data/a.txt\n"),
                   ("no URL", b"9 data/a.txt\n")):
    row(f"fetch.txt with {name}", "RFC 8493, 2.2.3", bag(TWO, tags={"fetch.txt": line}), INCOMPLETE, "fetch-line")
row("a manifest that is not UTF-8", "RFC 8493, 2.1.1",
    with_tag("manifest-sha256.txt", bag(TWO)["manifest-sha256.txt"] + b"00" * 32 + b"  data/\xff\n"), INCOMPLETE, "encoding",
    "unlisted-file")
row("a name that is not UTF-8", "RFC 8493, 2.1.1", {**bag(TWO), b"data/\xff": b"x"}, INCOMPLETE, "encoding")
row("a link in data/", "RFC 8493, 5: nothing from outside", bag(TWO), INCOMPLETE, "link",
    extra=lambda folder: (folder / "data/l").symlink_to("/etc/passwd"))
row("a listed file that is a link", "RFC 8493, 5: nothing from outside", bag({"a": b"x"}), INCOMPLETE, "link", "missing-file",
    extra=lambda folder: ((folder / "data/a").rename(folder.parent / "aside"), (folder / "data/a").symlink_to("../../aside")))
row("a folder that is a link", "RFC 8493, 5: nothing from outside", bag(TWO), INCOMPLETE, "link",
    extra=lambda folder: (folder / "data/up").symlink_to(".."))
row("a pipe in data/", "RFC 8493, 2.1.2: files", bag(TWO), INCOMPLETE, "device",
    extra=lambda folder: os.mkfifo(folder / "data/p"))


def check(tap, program, folder, it):
    name, source, files, expected, kinds, warning, extra, counts = it
    write(folder, files)
    if extra:
        extra(folder)
    done = run(program, "verify", folder, "--json")
    found = (done.json.get("valid"), done.json.get("complete"))
    good = found == expected and done.kinds() == kinds and done.code == (0 if expected[0] else 1) and not done.err
    if warning is not None:
        good = good and any(warning in w for w in done.json["warnings"])
    elif expected[0]:
        good = good and done.json["warnings"] == []
    if counts:
        good = good and (done.json["bytes"], done.json["files"]) == counts
    tap.ok(good, f"{name} ({source})", f"expected {expected} {kinds} {warning or ''} {counts or ''}", done)


def main():
    program, tap = pathlib.Path(sys.argv[1]).resolve(), Tap()
    with Scratch() as scratch:
        for i, it in enumerate(rows):
            check(tap, program, scratch / f"bag-{i}", it)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
