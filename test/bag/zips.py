#!/usr/bin/env python3
"""zips: bags in zips, good ones and hostile ones made here byte by byte. A hostile zip must be refused with its kind of
fault, quickly, in little memory, and leave nothing behind; only what is said in a row's name is wrong with it. TAP.

usage: zips.py PROGRAM
"""
import binascii
import io
import pathlib
import struct
import sys
import unicodedata
import warnings
import zipfile

from bagkit import Scratch, Tap, bag, run

TWO = {"a.txt": b"hello\n", "sub/b.txt": b"abc"}
SECONDS, PEAK_KIB = 10, 64 * 1024
NFC, NFD = unicodedata.normalize("NFC", "café.txt"), unicodedata.normalize("NFD", "café.txt")
rows = []


def row(name, body, *kinds, warning=None):
    """kinds: exactly these; none: the bag is good."""
    rows.append((name, body, sorted(kinds), warning))


warnings.simplefilter("ignore")  # zipfile's own, about the same path twice


def zipped(files=None, top="job/", method=zipfile.ZIP_STORED, more=(), folders=()):
    """files in a zip by Python's zipfile; more: [(ZipInfo or name, bytes)] written as they are."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as z:
        for name in folders:
            z.writestr(zipfile.ZipInfo(name), b"")
        for name, body in (bag(TWO) if files is None else files).items():
            z.writestr(top + name, body)
        for name, body in more:
            z.writestr(name, body)
    return out.getvalue()


def moded(name, mode, system=3):
    info = zipfile.ZipInfo(name)
    info.create_system, info.external_attr = system, mode << 16
    return info


def raw_name(body, old, new):
    """Another name of the same length in both directories, which zipfile itself would not write."""
    assert len(old) == len(new) and body.count(old) == 2, (old, body.count(old))
    return body.replace(old, new)


def end_at(body):
    return body.rindex(b"PK\5\6")


def with_end(body, at, form, *values):
    """Changes fields of the end record."""
    start = end_at(body) + at
    return body[:start] + struct.pack(form, *values) + body[start + struct.calcsize(form):]


def central_at(body, name):
    """Where the central entry of this name begins."""
    at = body.rindex(name) - 46
    assert body[at:at + 4] == b"PK\1\2"
    return at


def patched(body, at, form, *values):
    return body[:at] + struct.pack(form, *values) + body[at + struct.calcsize(form):]


# ---- good ones -------------------------------------------------------------------------------------------------------

row("stored, in one top folder", zipped())
row("deflated, in one top folder", zipped(method=zipfile.ZIP_DEFLATED))
row("with entries for its folders", zipped(folders=["job/", "job/data/", "job/data/sub/"]))
row("with folders of Unix modes", zipped(more=[(moded("job/data/", 0o040755), b"")]))
row("at the top of the zip", zipped(top=""), warning="top of the zip")
row("an empty payload folder", zipped(bag({}), folders=["job/", "job/data/"]))
row("with a comment at its end", with_end(zipped(), 20, "<H", 4) + b"PK\5\6")
row("letters beyond ASCII", zipped(bag({NFC: b"x"})))
row("65,600 files, which takes zip64", zipped(bag({f"{i:05}": b"" for i in range(65600)}, tag_algs=())))


def streamed():
    """Sizes behind the bytes, as a zip is written to a pipe."""
    class Pipe(io.RawIOBase):
        body = b""

        def writable(self):
            return True

        def write(self, piece):
            self.body += bytes(piece)
            return len(piece)
    out = Pipe()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name, body in bag(TWO).items():
            z.writestr(f"job/{name}", body)
    return out.body


row("written to a pipe, with data descriptors", streamed())

# ---- paths -----------------------------------------------------------------------------------------------------------

for label, name in (("..", "job/../../evil"), ("a leading ..", "../evil"), ("an absolute path", "/tmp/evil"),
                    ("a drive", "C:/evil"), ("~", "~/evil"), ("an empty part", "job//evil"), ("a dot", "job/./evil"),
                    ("a folder ..", "job/data/../../../"), ("66 folders", "job/" + "d/" * 66 + "x"),
                    ("5,000 bytes", "job/" + "x" * 5000)):
    row(f"a path with {label}", zipped(more=[(name, b"evil")]), "unsafe-path")
row("a path with backslashes and ..", raw_name(zipped(more=[("job/data/X+++Y+++Z", b"evil")]), b"X+++Y+++Z", b"..\\..\\abc"),
    "unsafe-path")
row("the same path twice", zipped(more=[("job/data/a.txt", b"evil\n")]), "duplicate-path")
row("the same path in two encodings", raw_name(zipped(more=[("job/data/\u00e9", b"1"), ("job/data/Q", b"2")]),
                                               b"job/data/Q", b"job/data/\x82"), "duplicate-path")
row("names that differ in case", zipped(bag({"A.txt": b"1", "a.txt": b"2"})), "clash")
row("names that differ in Unicode's form", zipped(bag({NFC: b"1", NFD: b"2"})), "clash")
row("a name that is a file and a folder", zipped(bag({"a": b"1", "a/b": b"2"})), "clash")
row("a name that is a file and, in another case, a folder", zipped(bag({"Ab": b"1", "aB/c": b"2"})), "clash")
row("a name that is a file and, in another Unicode form, a folder", zipped(bag({NFC: b"1", NFD + "/c": b"2"})), "clash")
row("a name that is a file and an empty folder", zipped(bag({"a": b"1", "a-b": b"2"}), folders=["job/", "job/data/", "job/data/a/"]),
    "clash")

# ---- what is no file -------------------------------------------------------------------------------------------------

row("a symbolic link", zipped(more=[(moded("job/data/l", 0o120777), b"/etc/passwd")]), "link")
row("a link, as another system's zip", zipped(more=[(moded("job/data/l", 0o120777, 19), b"/etc/passwd")]), "link")
row("a device", zipped(more=[(moded("job/data/l", 0o020666), b"")]), "device")
row("a pipe", zipped(more=[(moded("job/data/l", 0o010666), b"")]), "device")
row("a folder with content", zipped(more=[("job/data/d/", b"x")]), "zip")

# ---- bombs -----------------------------------------------------------------------------------------------------------

ZEROS = bytes(32 << 20)
row("a bomb: 32 MiB of zeros in 32 KiB", zipped(bag({"z": ZEROS}), method=zipfile.ZIP_DEFLATED), "bomb")
row("a bomb that is a manifest",
    zipped({**bag(TWO), "manifest-sha256.txt": b"\n" * (8 << 20)}, method=zipfile.ZIP_DEFLATED), "bomb")
row("a bomb in many small parts", zipped(bag({str(i): bytes(4 << 20) for i in range(8)}), method=zipfile.ZIP_DEFLATED),
    "bomb")


def shared_body(n):
    """n central entries, one body: each is small, together they are more than the zip."""
    body = zipped(bag({"big": bytes(range(256)) * 1024}))
    at = central_at(body, b"job/data/big")
    entry, entries = body[at:at + 46 + len(b"job/data/big")], b""
    for i in range(n):
        entries += entry.replace(b"big", f"{i:03}".encode())
    start = body.index(b"PK\1\2")
    central = body[start:end_at(body)] + entries
    count = central.count(b"PK\1\2")
    return body[:start] + central + struct.pack("<4sHHHHIIH", b"PK\5\6", 0, 0, count, count, len(central), start, 0)


row("one body shared by 900 entries", shared_body(900), "zip")


def zip64_size(name, size, packed):
    """One entry whose zip64 field claims these sizes."""
    body = name.encode()
    extra = struct.pack("<HHQQ", 1, 16, size, packed)
    head = struct.pack("<HHHHHIIIHH", 45, 0, 0, 0, 33, 0, 0xFFFFFFFF, 0xFFFFFFFF, len(body), len(extra))
    local = b"PK\3\4" + head + body + extra + b"tiny"
    central = b"PK\1\2" + struct.pack("<H", 45) + head + struct.pack("<HHHII", 0, 0, 0, 0, 0) + body + extra
    return local + central + struct.pack("<4sHHHHIIH", b"PK\5\6", 0, 0, 1, 1, len(central), len(local), 0)


row("a zip64 file of 2^62 bytes", zip64_size("job/data/x", 1 << 62, 1 << 62), "zip")
row("a zip64 file of a terabyte in four bytes", zip64_size("job/data/x", 1 << 40, 4), "bomb", "zip")

# ---- absurd directories ----------------------------------------------------------------------------------------------


def zip64_end(body, n, size=None, at=None):
    """A zip64 end that claims n entries."""
    end = end_at(body)
    old_size, old_at = struct.unpack("<II", body[end + 12:end + 20])
    record = struct.pack("<4sQHHIIQQQQ", b"PK\6\6", 44, 45, 45, 0, 0, n, n, old_size if size is None else size,
                         old_at if at is None else at)
    locator = struct.pack("<4sIQI", b"PK\6\7", 0, end, 1)
    return body[:end] + record + locator + struct.pack("<4sHHHHIIH", b"PK\5\6", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF,
                                                       0xFFFFFFFF, 0)


row("65,000 entries claimed, five there", with_end(zipped(), 8, "<HH", 65000, 65000), "zip")
row("2^48 entries claimed by zip64", zip64_end(zipped(), 1 << 48), "zip")
row("2^64 - 1 entries claimed by zip64", zip64_end(zipped(), (1 << 64) - 1), "zip")
row("a zip64 directory of 2^63 bytes", zip64_end(zipped(), 5, size=1 << 63), "zip")
row("a zip64 directory beyond the end", zip64_end(zipped(), 5, at=1 << 40), "zip")
row("a zip64 directory that wraps around", zip64_end(zipped(), 5, size=(1 << 64) - 8, at=16), "zip")
row("a directory beyond the end", with_end(zipped(), 16, "<I", 0x7FFFFFFF), "zip")
row("fewer entries claimed than there are", with_end(zipped(), 8, "<HH", 2, 2), "zip")
row("a zip in several parts", with_end(zipped(), 4, "<HH", 1, 1), "zip")


def many(n):
    """n real entries, as small as they can be."""
    local = b"PK\3\4" + struct.pack("<HHHHHIIIHH", 20, 0, 0, 0, 33, 0, 0, 0, 1, 0) + b"x"
    entries = b"".join(b"PK\1\2" + struct.pack("<HHHHHHIIIHHHHHII", 20, 20, 0, 0, 0, 33, 0, 0, 0, 8, 0, 0, 0, 0, 0, 0) +
                       f"{i:08}".encode() for i in range(n))
    record = struct.pack("<4sQHHIIQQQQ", b"PK\6\6", 44, 45, 45, 0, 0, n, n, len(entries), len(local))
    return local + entries + record + struct.pack("<4sIQI", b"PK\6\7", 0, len(local) + len(entries), 1) + struct.pack(
        "<4sHHHHIIH", b"PK\5\6", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0)


row("half a million entries", many(500_000), "limit")

# ---- damaged ---------------------------------------------------------------------------------------------------------

row("no zip at all", b"This is a letter, not a zip.\n" * 20, "zip")
row("nothing", b"", "zip")
row("zeros", bytes(100_000), "zip")
row("only an end record", struct.pack("<4sHHHHIIH", b"PK\5\6", 0, 0, 0, 0, 0, 0, 0), "declaration")
row("a byte of a stored file changed", zipped().replace(b"hello\n", b"hellp\n"), "zip")
LONG = {size: zipped(bag({"long": bytes(range(256)) * (size // 256) + b"end"[:size % 256]})) for size in (262143, 262144, 262146, 1 << 20)}
for size, body in LONG.items():
    row(f"a stored file of {size} bytes", body)
    first = body.index(bytes(range(256)))
    row(f"a byte of it changed at its beginning ({size})", patched(body, first + 1, "B", 0), "zip")
    row(f"a byte of it changed behind its first 64 KiB ({size})", patched(body, first + 65537, "B", 0), "zip")
    central, local = central_at(body, b"job/data/long"), body.index(b"job/data/long") - 30
    wrong = struct.unpack_from("<I", body, central + 16)[0] ^ 1
    row(f"its CRC wrong in both directories, its bytes right ({size})", patched(patched(body, central + 16, "<I", wrong), local + 14, "<I", wrong), "zip")
row("encrypted", patched(patched(zipped(), zipped().index(b"job/data/a.txt") - 24, "<H", 1),
                         central_at(zipped(), b"job/data/a.txt") + 8, "<H", 1), "encrypted")
row("packed by bzip2", zipped(method=zipfile.ZIP_BZIP2), "zip")
row("packed by LZMA", zipped(method=zipfile.ZIP_LZMA), "zip")
row("a local name that differs from the central one",
    zipped().replace(b"job/data/a.txt", b"job/data/b.txt", 1), "zip")
row("a stored file whose size is a lie", patched(zipped(), central_at(zipped(), b"job/data/a.txt") + 24, "<I", 5), "zip")
row("bytes behind the end", zipped() + b"PK", "zip")
row("bags in two top folders", zipped(more=[(f"two/{n}", b) for n, b in bag(TWO).items()]), "declaration")
row("a damaged deflated file", (lambda b: patched(b, b.index(b"job/data/a.txt") + 14, "<B", 0xFF))(
    zipped(method=zipfile.ZIP_DEFLATED)), "zip")

# ---- two readings of one zip -----------------------------------------------------------------------------------------


def overlapping():
    """The second entry begins within the bytes of the first: a local header that is content as well."""
    inner = zipfile.ZipInfo("job/data/b.txt")
    body = io.BytesIO()
    with zipfile.ZipFile(body, "w") as z:
        z.writestr(inner, b"inner")
    nested = body.getvalue()[:body.getvalue().index(b"PK\1\2")]
    out = zipped(bag({"a.bin": b"before" + nested, "b.txt": b"inner"}))
    within = out.index(b"before") + 6
    return patched(out, central_at(out, b"job/data/b.txt") + 42, "<I", within)


def with_extra(name, field):
    """The entry of this name, with an extra field in the central directory alone."""
    body = zipped()
    at = central_at(body, name)
    body = patched(body, at + 30, "<H", len(field))
    cut = at + 46 + len(name)
    body = body[:cut] + field + body[cut:]
    return with_end(body, 12, "<I", struct.unpack_from("<I", body, end_at(body) + 12)[0] + len(field))


def flagged(bit):
    body = zipped()
    body = patched(body, body.index(b"job/data/a.txt") - 24, "<H", bit)
    return patched(body, central_at(body, b"job/data/a.txt") + 8, "<H", bit)


OTHER = b"job/data/../../evil"
row("an entry within another's bytes", overlapping(), "zip")
row("a second name in a Unicode field, with ..", with_extra(b"job/data/a.txt", struct.pack("<HHBI", 0x7075, 5 + len(OTHER), 1, binascii.crc32(b"job/data/a.txt")) + OTHER), "zip")
row("an extra field longer than there are bytes", with_extra(b"job/data/a.txt", struct.pack("<HH", 0x5455, 60000)), "zip")
row("encrypted by AES", patched(flagged(1), central_at(flagged(1), b"job/data/a.txt") + 10, "<H", 99), "zip")
row("strongly encrypted", flagged(0x41), "encrypted")
row("packed by Deflate64", (lambda b: patched(b, central_at(b, b"job/data/a.txt") + 10, "<H", 9))(zipped()), "zip")
row("a zero byte in a name", raw_name(zipped(more=[("job/data/Q.txt", b"1")]), b"job/data/Q.txt", b"job/data/\0.txt"), "unlisted-file")
row("an end of line in a name, which a manifest writes as %0A", zipped(bag({"a\nb.txt": b"1"})))
row("two zips, one behind the other", zipped() + zipped(bag({"other.txt": b"1"})), "zip")
row("the same directory ended twice", zipped() + zipped()[end_at(zipped()):])
row("bytes before the beginning", b"#!/bin/sh\nexit\n" + zipped(), "zip")
row("a zip in the zip, which is not opened", zipped(bag({"inner.zip": zipped(bag({"z": ZEROS}), method=zipfile.ZIP_DEFLATED)})))


def check(tap, program, scratch, empty, it):
    name, body, kinds, warning = it
    path = scratch / "it.zip"
    path.write_bytes(body)
    done = run(program, "verify", path, "--json", cwd=empty, env={"TMPDIR": str(empty)})
    good = done.kinds() == kinds and done.json.get("valid") is (not kinds) and not done.err
    good = good and done.code == (1 if kinds else 0)
    if warning is not None:
        good = good and any(warning in w for w in done.json["warnings"])
    elif not kinds:
        good = good and done.json["warnings"] == []
    tap.ok(good, f"{'refused' if kinds else 'taken'}: {name}", f"expected {kinds}", done)
    if kinds:
        tap.ok(done.seconds < SECONDS and done.peak_kib < PEAK_KIB and not any(empty.iterdir()),
               f"quickly, in under 64 MiB, nothing left behind: {name}", f"{done.seconds:.2f} s, {done.peak_kib} KiB",
               *empty.iterdir())


def cut_off(tap, program, scratch, empty):
    """Every length of a small zip: never good, never a crash."""
    body, worst = zipped(), ""
    for n in range(0, len(body), 7):
        (scratch / "it.zip").write_bytes(body[:n])
        done = run(program, "verify", scratch / "it.zip", "--json", cwd=empty)
        if done.code != 1 or done.json.get("valid") is not False or done.err:
            worst = f"{n} bytes: {done}"
    tap.ok(not worst, f"refused: cut off at any of {len(range(0, len(body), 7))} places of {len(body)} bytes", worst)


def standard_input(tap, program, scratch, empty):
    (scratch / "it.zip").write_bytes(zipped())
    done = run(program, "verify", "-", "--json", cwd=empty, stdin=scratch / "it.zip", env={"TMPDIR": str(empty)})
    tap.ok(done.code == 0 and done.json.get("valid") is True and not any(empty.iterdir()),
           "taken: a zip on standard input, nothing left behind", done)


def main():
    program, tap = pathlib.Path(sys.argv[1]).resolve(), Tap()
    with Scratch() as scratch, Scratch() as empty:
        for it in rows:
            check(tap, program, scratch, empty, it)
        cut_off(tap, program, scratch, empty)
        standard_input(tap, program, scratch, empty)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
