#!/usr/bin/env python3
"""The verb photo against a second opinion: hashes, light and sharpness worked out here from the definitions in
src/core/photohash.h, files built byte by byte from the PNG, JPEG and TIFF/Exif specifications, codes drawn by zint, pairs
by comparing every hash with every other. Prints TAP.

usage: peer.py PROGRAM
"""
import hashlib
import json
import math
import pathlib
import random
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "cli"))
from run import Tap  # noqa: E402


# ---- files -------------------------------------------------------------------------------------------------------------

def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, pixels, exif=None, colour=0):
    """pixels: grey bytes, or red, green and blue when colour is 2."""
    size = width * (3 if colour == 2 else 1)
    rows = b"".join(b"\0" + bytes(pixels[y * size:(y + 1) * size]) for y in range(height))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0))
            + (chunk(b"eXIf", exif) if exif else b"") + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def segment(marker, data):
    return bytes([0xFF, marker]) + struct.pack(">H", len(data) + 2) + data


def jpeg(width, height, exif=None, before=b""):
    """One even grey: every block is a zero DC difference and an end of block, one bit each (ITU-T T.81, annex F)."""
    blocks = -(-width // 8) * -(-height // 8)
    bits = "00" * blocks
    bits += "1" * (-len(bits) % 8)
    body = bytes(int(bits[i:i + 8], 2) for i in range(0, len(bits), 8)).replace(b"\xff", b"\xff\0")
    one_code = b"\x01" + bytes(15) + b"\0"
    return (b"\xff\xd8" + before + (segment(0xE1, b"Exif\0\0" + exif) if exif is not None else b"")
            + segment(0xDB, b"\0" + b"\1" * 64) + segment(0xC0, struct.pack(">BHHBBBB", 8, height, width, 1, 1, 0x11, 0))
            + segment(0xC4, b"\0" + one_code) + segment(0xC4, b"\x10" + one_code)
            + segment(0xDA, b"\1\1\0\0\x3f\0") + body + b"\xff\xd9")


SHORT, LONG, ASCII, RATIONAL = 3, 4, 2, 5


def tiff(ifd0, exif=(), gps=(), order="<"):
    """A TIFF block (TIFF 6.0, section 2): entries (tag, type, value); pointers to the Exif and GPS directories are added."""
    ifds = [list(ifd0), list(exif), list(gps)]
    at = 8 + 2 + 12 * (len(ifd0) + bool(exif) + bool(gps)) + 4
    starts = [8]
    for entries in ifds[1:]:
        starts.append(at)
        at += 2 + 12 * len(entries) + 4 if entries else 0
    for tag, i in ((0x8769, 1), (0x8825, 2)):
        if ifds[i]:
            ifds[0].append((tag, LONG, starts[i]))
    out, tail = b"", b""
    for entries in [e for e in ifds if e]:
        out += struct.pack(order + "H", len(entries))
        for tag, kind, value in sorted(entries):
            if kind == ASCII:
                raw, count = value.encode("latin-1"), len(value)
            elif kind == RATIONAL:
                raw, count = b"".join(struct.pack(order + "II", *v) for v in value), len(value)
            else:
                raw, count = struct.pack(order + ("H" if kind == SHORT else "I"), value), 1
            if len(raw) > 4:
                field = struct.pack(order + "I", at + len(tail))
                tail += raw + bytes(len(raw) % 2)
            else:
                field = raw.ljust(4, b"\0")
            out += struct.pack(order + "HHI", tag, kind, count) + field
        out += struct.pack(order + "I", 0)
    return (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8) + out + tail


# ---- the definitions once more ----------------------------------------------------------------------------------------------

def weights(parts, side):
    """For each of `parts` equal parts of a side, [(pixel, weight)]; the weights of a part add up to `side`."""
    return [[(x, min((x + 1) * parts, (i + 1) * side) - max(x * parts, i * side))
             for x in range(i * side // parts, -(-(i + 1) * side // parts))] for i in range(parts)]


def areas(p, w, h, tw, th):
    across, down = weights(tw, w), weights(th, h)
    narrow = [[sum(p[y * w + x] * k for x, k in part) for part in across] for y in range(h)]
    return [sum(narrow[y][i] * k for y, k in part) for part in down for i in range(tw)]


def shrink(p, w, h, longest):
    longer = max(w, h)
    if longer <= longest:
        return p, w, h
    tw, th = [max(1, (s * longest + longer // 2) // longer) for s in (w, h)]
    return [(a + w * h // 2) // (w * h) for a in areas(p, w, h, tw, th)], tw, th


def bits_of(flags):
    return f"{int(''.join('1' if f else '0' for f in flags), 2):016x}"


def opinion(p, w, h):
    p, w, h = shrink(p, w, h, 2048)
    s = areas(p, w, h, 9, 8)
    dhash = bits_of(s[y * 9 + x + 1] > s[y * 9 + x] for y in range(8) for x in range(8))
    g = [a / (w * h) for a in areas(p, w, h, 32, 32)]
    mean = math.fsum(g) / 1024
    cos = [[math.cos((2 * x + 1) * u * math.pi / 64) for x in range(32)] for u in range(9)]
    rows = [[math.fsum((g[y * 32 + x] - mean) * cos[u][x] for x in range(32)) for u in range(9)] for y in range(32)]
    c = [math.floor(math.fsum(rows[y][u] * cos[v][y] for y in range(32)) / 16 * 1024 + 0.5)
         for v in range(1, 9) for u in range(1, 9)]
    ordered = sorted(c)
    phash = bits_of(2 * k > ordered[31] + ordered[32] for k in c)
    p, w, h = shrink(p, w, h, 1024)
    lap = [p[i - 1] + p[i + 1] + p[i - w] + p[i + w] - 4 * p[i]
           for y in range(1, h - 1) for i in range(y * w + 1, y * w + w - 1)]
    n = len(lap)
    sharpness = (n * sum(k * k for k in lap) - sum(lap) ** 2) / n ** 2 if n else 0.0
    return {"dhash": dhash, "phash": phash, "sharpness": sharpness, "exposure": sum(p) / 255 / len(p),
            "dark_share": sum(k <= 16 for k in p) / len(p), "bright_share": sum(k >= 250 for k in p) / len(p)}


# ---- calls ---------------------------------------------------------------------------------------------------------------

class Bench:
    def __init__(self, program, folder):
        self.program, self.folder, self.tap = str(pathlib.Path(program).resolve()), pathlib.Path(folder), Tap()

    def call(self, *words, stdin=b""):
        done = subprocess.run([self.program, "photo", *words, "--json"], cwd=self.folder, input=stdin, capture_output=True,
                              timeout=120)
        return done.returncode, [json.loads(line) for line in done.stdout.decode().splitlines()], done.stderr.decode()

    def photo(self, name, data):
        (self.folder / name).write_bytes(data)
        code, told, err = self.call(name)
        return code, told[0] if told else {}, err


def differences(told, wanted):
    """{field: (told, wanted)}; numbers that are not whole may differ in the last digits."""
    def is_far(a, b):
        if isinstance(b, float):
            return not isinstance(a, (int, float)) or abs(a - b) > 1e-9 * max(1, abs(b))
        return a != b
    return {k: (told.get(k, "nothing"), v) for k, v in wanted.items() if is_far(told.get(k, "nothing"), v)}


def pictures(b):
    rng = random.Random(26)
    for w, h in ((9, 8), (33, 20), (100, 64), (1, 7), (64, 300), (1500, 12), (2600, 24)):
        p = [rng.randrange(256) for _ in range(w * h)]
        data = png(w, h, p)
        code, told, err = b.photo("grey.png", data)
        wrong = differences(told, {**opinion(p, w, h), "width": w, "height": h, "kind": "PNG", "fault": None,
                                   "orientation": 1, "sha256": hashlib.sha256(data).hexdigest(), "path": "grey.png",
                                   "taken": None, "gps": False})
        b.tap.ok(code == 0 and not wrong, f"random grey {w} x {h}: hashes, light, sharpness and digest as worked out here",
                 f"told, worked out: {wrong}", err)
    rgb = [rng.randrange(256) for _ in range(40 * 30 * 3)]
    luma = [(299 * r + 587 * g + 114 * bl + 500) // 1000 for r, g, bl in zip(rgb[::3], rgb[1::3], rgb[2::3])]
    code, told, err = b.photo("colour.png", png(40, 30, rgb, colour=2))
    wrong = differences(told, opinion(luma, 40, 30))
    b.tap.ok(code == 0 and not wrong, "random colours: the luminance of ITU-R BT.601", f"told, worked out: {wrong}", err)
    code, told, err = b.photo("even.jpg", jpeg(200, 100))
    wrong = differences(told, {"width": 200, "height": 100, "flat": True, "dhash": "0" * 16, "phash": "0" * 16,
                               "sharpness": 0.0, "exposure": 128 / 255, "words": ["blurred", "no shapes"]})
    b.tap.ok(code == 0 and not wrong, "a JPEG of one grey, 128: flat", f"told, worked out: {wrong}", err)


NOON = "2026:03:05 12:34:56\0"
EXIF_CASES = [  # what; ifd0, exif, gps; what must be told (Exif 2.32: tags 0x9003, 0x9004, 0x0132, 0x9011, 0xA002, 0xA003)
    ("original time with its offset", [], [(0x9003, ASCII, NOON), (0x9011, ASCII, "+01:00\0")], [],
     {"taken": "2026-03-05T12:34:56", "taken_offset": "+01:00", "taken_by": "original", "gps": False}),
    ("the original time before the others", [(0x0132, ASCII, "2026:03:09 01:02:03\0")],
     [(0x9003, ASCII, NOON), (0x9004, ASCII, "2026:03:07 01:02:03\0")], [],
     {"taken": "2026-03-05T12:34:56", "taken_offset": None, "taken_by": "original"}),
    ("digitized before changed", [(0x0132, ASCII, "2026:03:09 01:02:03\0")], [(0x9004, ASCII, NOON)], [],
     {"taken": "2026-03-05T12:34:56", "taken_by": "digitized"}),
    ("changed when there is no other", [(0x0132, ASCII, NOON)], [], [],
     {"taken": "2026-03-05T12:34:56", "taken_by": "changed"}),
    ("a clock that was never set", [], [(0x9003, ASCII, "0000:00:00 00:00:00\0")], [], {"taken": None, "taken_by": None}),
    ("30 February", [], [(0x9003, ASCII, "2026:02:30 12:00:00\0")], [], {"taken": None}),
    ("25 o'clock", [], [(0x9003, ASCII, "2026:02:03 25:00:00\0")], [], {"taken": None}),
    ("a time of blanks", [], [(0x9003, ASCII, "    :  :     :  :  \0")], [], {"taken": None}),
    ("a time cut short", [], [(0x9003, ASCII, "2026:03:05 12:3\0")], [], {"taken": None}),
    ("a time with dashes", [], [(0x9003, ASCII, "2026-03-05 12:34:56\0")], [], {"taken": None}),
    ("an impossible original, a sound digitized", [], [(0x9003, ASCII, "2026:13:05 12:34:56\0"), (0x9004, ASCII, NOON)], [],
     {"taken": "2026-03-05T12:34:56", "taken_by": "digitized"}),
    ("an offset that is none", [], [(0x9003, ASCII, NOON), (0x9011, ASCII, "+99:00\0")], [], {"taken_offset": None}),
    ("a place", [], [], [(1, ASCII, "N\0"), (2, RATIONAL, [(1, 1)] * 3), (3, ASCII, "E\0"), (4, RATIONAL, [(1, 1)] * 3)],
     {"gps": True}),
    ("GPS without a place", [], [], [(1, ASCII, "N\0")], {"gps": False}),
    ("size in shorts", [], [(0xA002, SHORT, 640), (0xA003, SHORT, 480)], [], {"exif_width": 640, "exif_height": 480}),
    ("size in longs", [], [(0xA002, LONG, 70000), (0xA003, LONG, 48)], [], {"exif_width": 70000, "exif_height": 48}),
    ("orientation 6", [(0x0112, SHORT, 6)], [], [], {"orientation": 6, "width": 48, "height": 32}),
    ("orientation 0, which does not exist", [(0x0112, SHORT, 0)], [], [], {"orientation": 1}),
    ("orientation 9, which does not exist", [(0x0112, SHORT, 9)], [], [], {"orientation": 1}),
]


def exif_cases(b):
    for what, ifd0, sub, gps, wanted in EXIF_CASES:
        for order, kind in (("<", "JPEG"), (">", "JPEG"), ("<", "PNG")):
            block = tiff(ifd0, sub, gps, order)
            data = jpeg(48, 32, block) if kind == "JPEG" else png(48, 32, [128] * 48 * 32, block)
            code, told, err = b.photo("exif.jpg", data)
            wrong = differences(told, {**wanted, "fault": None})
            b.tap.ok(code == 0 and not wrong, f"EXIF in {kind}, {'little' if order == '<' else 'big'} endian: {what}",
                     f"told, wanted: {wrong}", err)
    xmp = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x/>")
    code, told, _ = b.photo("exif.jpg", jpeg(48, 32, tiff([(0x0112, SHORT, 8)]), before=xmp))
    b.tap.ok(code == 0 and told.get("orientation") == 8, "EXIF behind another APP1 segment")


def broken_exif(b):
    sound = tiff([(0x0112, SHORT, 6), (0x0132, ASCII, NOON)], [(0x9003, ASCII, NOON)], [(2, RATIONAL, [(1, 1)] * 3)])
    rng, bad = random.Random(9), []
    broken = [sound[:n] for n in range(len(sound))]
    broken += [bytes(rng.randrange(256) if rng.random() < 0.05 else k for k in sound) for _ in range(60)]
    broken += [b"II*\0" + struct.pack("<I", at) for at in (0, 4, 8, 9, 0x7FFFFFFF, 0xFFFFFFFF)]
    for block in broken:
        code, told, err = b.photo("exif.jpg", jpeg(48, 32, block))
        if code != 0 or told.get("fault") is not None or told.get("width") != 48:
            bad.append((block, told, err))
    b.tap.ok(not bad, f"{len(broken)} broken EXIF blocks: the picture is read all the same", *bad[:3])


def turned_and_mirrored(b):
    rng = random.Random(3)
    w, h = 60, 40
    p = [rng.randrange(256) for _ in range(w * h)]
    mirror = [p[y * w + w - 1 - x] for y in range(h) for x in range(w)]
    turned = [p[(h - 1 - x) * w + y] for y in range(w) for x in range(h)]  # a quarter clockwise: seen upright under 8
    for name, data in (("a.png", png(w, h, p)), ("m.png", png(w, h, mirror)),
                       ("t.png", png(h, w, turned, tiff([(0x0112, SHORT, 8)])))):
        (b.folder / name).write_bytes(data)
    code, told, err = b.call("--pairs", "0", "a.png", "m.png", "t.png")
    found = {(t["a"], t["b"], t["distance"], t["mirrored"], t["alike"]) for t in told}
    b.tap.ok(code == 0 and found == {("a.png", "m.png", 0, True, True), ("a.png", "t.png", 0, False, True),
                                     ("m.png", "t.png", 0, True, True)},
             "a picture, its mirror image and a turned copy with EXIF: three pairs at distance 0", told, err)


def codes(b):
    zint = shutil.which("zint")
    b.tap.ok(zint is not None, "zint is here to draw codes (tools/deps test)")
    if zint is None:
        return
    vin = "1M8GDM9AXKP042788"  # an example of many public test suites, as in test/tables/vin.tsv
    for number, kind in (("58", "QR"), ("8", "Code 39"), ("20", "Code 128")):
        path = b.folder / "code.png"
        subprocess.run([zint, "-b", number, "-d", vin, "-o", path, "--scale", "3", "--quietzones"], check=True,
                       capture_output=True)
        code, told, err = b.photo("code.png", path.read_bytes())
        b.tap.ok(code == 0 and told.get("codes") == [{"type": kind, "text": vin, "cut": False}],
                 f"{kind} drawn by zint: read", told.get("codes"), err)


def index_of_hashes(b):
    rng = random.Random(5)
    hashes = []
    for i in range(1500):
        h = rng.getrandbits(64) if i % 3 == 0 else rng.choice(hashes)
        for _ in range(rng.randrange(6) if i % 3 else 0):
            h ^= 1 << rng.randrange(64)
        hashes.append(h)
    lines = "".join(f"{h:016x} photo {i}.jpg\n" for i, h in enumerate(hashes)).encode()
    for radius in (0, 3, 6, 10):
        wanted = {(f"photo {i}.jpg", f"photo {k}.jpg", bin(hashes[i] ^ hashes[k]).count("1"))
                  for i in range(len(hashes)) for k in range(i + 1, len(hashes))
                  if bin(hashes[i] ^ hashes[k]).count("1") <= radius}
        code, told, err = b.call("--near", str(radius), "--index", "-", stdin=lines)
        found = [(t["a"], t["b"], t["distance"]) for t in told]
        b.tap.ok(code == 0 and len(found) == len(set(found)) and set(found) == wanted and bool(wanted),
                 f"index of 1,500 hashes, radius {radius}: the {len(wanted)} pairs that comparing all gives", err)


def index_of_photos(b):
    rng = random.Random(6)
    (b.folder / "p.png").write_bytes(png(60, 40, [rng.randrange(256) for _ in range(60 * 40)]))
    (b.folder / "empty.jpg").write_bytes(b"")
    code, told, _ = b.call("p.png", "empty.jpg")
    b.tap.ok(code == 1 and [t["fault"] for t in told] == [None, "empty"], "a sound and an empty photo: exit 1, two lines")
    near = f"{int(told[0]['dhash'], 16) ^ 5:016x}"
    (b.folder / "index.jsonl").write_text("".join(json.dumps(t) + "\n" for t in told) + f"{near} by hand.jpg\n\n")
    code, told, err = b.call("--near", "2", "--index", "index.jsonl", "p.png")
    b.tap.ok(code == 0 and {(t["a"], t["b"], t["distance"], t["alike"]) for t in told}
             == {("p.png", "p.png", 0, True), ("p.png", "by hand.jpg", 2, None)},
             "a photo against an index of JSON lines and plain lines", told, err)
    (b.folder / "list.txt").write_bytes(b"p.png\r\n\nempty.jpg")
    code, told, err = b.call("--list", "list.txt")
    b.tap.ok(code == 1 and [t["path"] for t in told] == ["p.png", "empty.jpg"], "--list: one path a line", told, err)


def main():
    with tempfile.TemporaryDirectory(prefix="mendwright-photo-") as folder:
        b = Bench(sys.argv[1], folder)
        for part in (pictures, exif_cases, broken_exif, turned_and_mirrored, codes, index_of_hashes, index_of_photos):
            part(b)
        return b.tap.done()


if __name__ == "__main__":
    sys.exit(main())
