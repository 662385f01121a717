"""takekit: invented jobs as bags, made with Python's standard library alone, and a store that they are taken into. Shared by the tests
beside it. What the program kept is read back by Python's own sqlite3."""
import hashlib
import json
import os
import pathlib
import shutil
import sqlite3
import struct
import subprocess
import sys
import zipfile
import zlib

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "bag"))
from bagkit import Scratch, Tap, bag, encode, run, write  # noqa: E402, F401

CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
START = 1_772_700_000_000  # 2026-03-05 08:40 UTC
VIN = "ZZZFM24T5R0001234"
BULLETIN = {"id": "OV-26-03", "revision": 2, "sha256": "ab" * 32}
SMALL = {"ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "") + ":quarantine_size_mb=1:halt_on_error=1"}


def ulid(number, at_ms=START):
    """A ULID: 48 bits of milliseconds and 80 more, in Crockford's base 32 (the ULID specification)."""
    value = (at_ms << 80) | number
    return "".join(CROCKFORD[value >> 5 * i & 31] for i in reversed(range(26)))


class Job:
    """Events a minute apart, each with the next id; photos as files beside them."""

    def __init__(self, vin=VIN, seed=0, shop="fern", technician="ines", invented=True):
        self.vin, self.seed, self.shop, self.technician, self.invented = vin, seed, shop, technician, invented
        self.events, self.files = [], {}

    def add(self, kind, station=None, corrects=None, at_ms=None, event_id=None, **payload):
        n = len(self.events)
        event = {"id": event_id or ulid(self.seed * 100_000 + n + 1), "type": kind, "at_ms": START + 60_000 * n if at_ms is None else at_ms,
                 "technician": self.technician, "shop": self.shop}
        if station:
            event["station"] = station
        if corrects:
            event["corrects"] = corrects["id"]
        event["payload"] = payload
        self.events.append(event)
        return event

    def photo(self, name, body, station=None, path=None, keep=True, sha256=None, **more):
        path = path or f"photos/{name}-{len(self.files)}.png"
        if keep:
            self.files[path] = body
        return self.add("photo_taken", station, photo=name, path=path, sha256=sha256 or hashlib.sha256(body).hexdigest(), **more)

    def payload(self):
        head = {"mendwright_events": 1, "invented": self.invented, "bulletin": BULLETIN, "vin": self.vin, "events": self.events}
        return {"events.json": json.dumps(head).encode(), **self.files}

    def bag(self, **more):
        return bag(self.payload(), **more)


def small_job(seed=0, photos=1, **more):
    """A whole small job: opened, a label, a reading before and after one move, photos, finished."""
    job = Job(seed=seed, **more)
    job.add("opened", software="takekit")
    job.add("label_read", "fore", text="WD40 2024-W13", variant="WD40", built_first="2024-03-25", built_last="2024-03-31")
    job.add("scope_found", "fore", verdict="in")
    job.add("reading_taken", "fore", point="upper-out", value_nm=62_000_000 + seed, step="first-look")
    for i in range(photos):
        job.photo("label", png(16, 16, seed * 50 + i), "fore")
    job.add("moved", "fore", target="adjuster", name="upper", steps=2)
    job.add("reading_taken", "fore", point="upper-out", value_nm=58_000_000 + seed, step="last-look")
    job.add("finished", minutes=95)
    return job


# ---- pictures (PNG specification, third edition; TIFF 6.0 and Exif 2.32 for the time) -------------------------------------------------

def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def tiff(original, offset=None):
    """DateTimeOriginal (0x9003) and OffsetTimeOriginal (0x9011) in an Exif directory."""
    texts = [(0x9003, original.encode() + b"\0")] + ([(0x9011, offset.encode() + b"\0")] if offset else [])
    exif_at = 8 + 2 + 12 + 4
    data_at = exif_at + 2 + 12 * len(texts) + 4
    out = b"II*\0" + struct.pack("<I", 8) + struct.pack("<HHHIII", 1, 0x8769, 4, 1, exif_at, 0) + struct.pack("<H", len(texts))
    data = b""
    for tag, text in texts:
        out += struct.pack("<HHII", tag, 2, len(text), data_at + len(data))
        data += text
    return out + struct.pack("<I", 0) + data


def png(width, height, seed, exif=None):
    """Grey noise from a seed, so that no two are the same picture."""
    state, rows = seed * 2654435761 + 12345, bytearray()
    for _ in range(height):
        rows.append(0)
        for _ in range(width):
            state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
            rows.append(state >> 56)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
            + (chunk(b"eXIf", exif) if exif else b"") + chunk(b"IDAT", zlib.compress(bytes(rows))) + chunk(b"IEND", b""))


# ---- bags on disk ---------------------------------------------------------------------------------------------------------------------

def write_zip(path, files, top="job/"):
    with zipfile.ZipFile(path, "w") as z:
        for name, body in files.items():
            z.writestr(top + name, body)
    return path


def claim_of(files):
    """A claim's digest and id, from the definitions: SHA-256 over the lines of a sha256 manifest of the payload, sorted by path; "K" and
    the first 60 bits in Crockford's base 32 (desk/take.h, store/store.h)."""
    names = sorted((n for n in files if n.startswith("data/")), key=str.encode)
    lines = "".join(f"{hashlib.sha256(files[n]).hexdigest()}  {encode(n)}\n" for n in names)
    digest = hashlib.sha256(lines.encode()).digest()
    bits = int.from_bytes(digest[:8], "big") >> 4
    return digest, "K" + "".join(CROCKFORD[bits >> 5 * i & 31] for i in reversed(range(12)))


# ---- the program ----------------------------------------------------------------------------------------------------------------------

class Done:
    def __init__(self, done):
        self.code, self.out, self.err = done.returncode, done.stdout, done.stderr
        self.lines = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]

    def kinds(self):
        return [f["kind"] for line in self.lines for f in line["faults"]]

    def results(self):
        return [line["result"] for line in self.lines]

    def __str__(self):
        return f"exit {self.code}\n{self.out[:3000]}\n{self.err[:3000]}"


class Desk:
    """A store in a folder of its own."""

    def __init__(self, program, folder, name="store"):
        self.program, self.path = str(pathlib.Path(program).resolve()), pathlib.Path(folder) / name
        done = self.call("store", "init", "--store", self.path)
        assert done.code == 0, done

    def call(self, *words, env=None, cwd=None, stdin=subprocess.DEVNULL):
        return Done(subprocess.run([self.program, *map(str, words)], capture_output=True, text=True, check=False, cwd=cwd, stdin=stdin,
                                   env={**os.environ, **SMALL, "LC_ALL": "C", **(env or {})}))

    def take(self, *words, **more):
        return self.call("take", *words, "--store", self.path, "--json", **more)

    def verify(self):
        done = self.call("store", "verify", "--store", self.path, "--json")
        return done.lines[0] if done.lines else {"ok": False, "why": str(done)}

    def rows(self, sql, *values):
        db = sqlite3.connect(f"file:{self.path}/store.db?mode=ro", uri=True)
        try:
            db.row_factory = sqlite3.Row
            return [dict(row) for row in db.execute(sql, values)]
        finally:
            db.close()

    def one(self, sql, *values):
        rows = self.rows(sql, *values)
        return rows[0] if rows else {}


def fresh(folder):
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
