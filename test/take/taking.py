#!/usr/bin/env python3
"""taking: what becomes of a bag: which claim it is, what of the job stands in it, what is a finding, what is refused. The jobs are made
here, so what must stand in the store is known without the program; it is read back by Python's sqlite3. TAP.

usage: taking.py PROGRAM
"""
import datetime
import hashlib
import os
import pathlib
import pty
import shutil
import subprocess
import sys
import warnings
import zipfile

from takekit import START, VIN, Desk, Job, Scratch, Tap, bag, claim_of, png, run, small_job, tiff, ulid, write, write_zip

MINUTE = 60_000
PEAK_KIB = 64 * 1024


# ---- which claim ----------------------------------------------------------------------------------------------------------------------

def same_claim(tap, program, scratch):
    desk, job = Desk(program, scratch, "same"), small_job(1)
    files = job.bag()
    digest, claim = claim_of(files)
    write(scratch / "one", files)
    done = desk.take(scratch / "one", "--at", "2026-03-06T10:00:00Z")
    line = done.lines[0] if done.lines else {}
    tap.ok(done.code == 0 and line.get("result") == "taken" and line.get("claim") == claim,
           "a folder is taken in under the name of its payload (hashlib)", done, claim)
    tap.ok(line.get("job") == job.events[0]["id"] and line.get("vin") == VIN and line.get("photos") == 1 and line.get("findings") == 0
           and line.get("faults") == [], "told with job, VIN, photos, findings", done)
    head = desk.verify()
    tap.ok(desk.one("SELECT bag, taken_ms FROM claims") == {"bag": digest, "taken_ms": 1_772_791_200_000},
           "the store holds the digest, and the time given (2026-03-06 10:00 UTC = 20518.4166 days)", desk.rows("SELECT * FROM claims"))
    others = {
        "its zip": write_zip(scratch / "one.zip", files),
        "the zip without a top folder": write_zip(scratch / "flat.zip", files, top=""),
        "sums by sha512 alone": write_zip(scratch / "512.zip", job.bag(algs=("sha512",))),
        "sums by md5 alone": write_zip(scratch / "md5.zip", job.bag(algs=("md5",))),
        "BagIt 0.97 with sha1": write_zip(scratch / "old.zip", job.bag(version="0.97", algs=("sha1",))),
        "other words in bag-info.txt": write_zip(scratch / "info.zip", job.bag(info="Contact-Name: somebody\n")),
    }
    for name, path in others.items():
        done = desk.take(path)
        tap.ok(done.code == 0 and done.lines and done.lines[0]["result"] == "already" and done.lines[0]["claim"] == claim
               and done.lines[0]["vin"] == VIN and done.lines[0]["photos"] == 1, f"the same job, {name}: the same claim, here already", done)
    with open(scratch / "one.zip", "rb") as pipe:
        done = desk.take("-", stdin=pipe)
    tap.ok(done.code == 0 and done.results() == ["already"], "the same zip on standard input", done)
    after = desk.verify()
    tap.ok(after["ok"] and after["head"] == head["head"] and after["photos"] == 1, "taking in again wrote nothing", after)
    job.add("note", text="and one word more")
    done = desk.take(write_zip(scratch / "more.zip", job.bag()))
    rows = desk.rows("SELECT job FROM claims")
    tap.ok(done.results() == ["taken"] and len(rows) == 2 and rows[0] == rows[1], "with one event more it is a new claim of the same job",
           done, rows)
    odd = small_job(2)
    odd.files |= {"a\nb%0A.txt": b"1", "gr\u00f6\u00dfe.txt": b"2"}
    done = desk.take(write_zip(scratch / "odd.zip", odd.bag()))
    tap.ok(done.results() == ["taken"] and done.lines[0]["claim"] == claim_of(odd.bag())[1],
           "names with a line feed, '%' and letters beyond ASCII are named as a manifest writes them", done)


# ---- what stands in the claim ---------------------------------------------------------------------------------------------------------

def whole_job():
    """Two stations, with corrections; when the minutes matter they are the events' numbers."""
    job = Job(seed=3, invented=False)
    job.add("opened")                                                                            # 0
    first = job.add("reading_taken", "fore", point="upper", value_nm=1, step="first-look")       # 1, put right by 14
    job.add("reading_taken", "fore", point="upper", value_nm=2)                                  # 2, no step
    job.add("reading_taken", point="supply", value=13.1, unit="V")                               # 3, unit
    job.add("label_read", "fore", text="WD40 2024-W13", variant="WD40", built_first="2024-03-25", built_last="2024-03-31")  # 4
    job.add("label_read", "aft", text="WD41 2023-W50")                                           # 5
    job.add("scope_found", "fore", verdict="in")                                                 # 6
    job.add("scope_found", "aft", verdict="out", reason="built before")                          # 7
    job.add("note", "roof", text="a station that only a note is about")                          # 8
    job.add("kit_chosen", "fore", kit="left-upper", **{"with": {"relief": "upper"}})             # 9
    job.add("reading_taken", "fore", point="torque", value=24, unit="N m")                       # 10
    job.add("moved", "fore", target="adjuster", name="upper", steps=-3)                          # 11
    job.add("reading_taken", "fore", point="upper", value_nm=3, step="last-look")                # 12
    job.add("reading_taken", "fore", point="upper", value_nm=4, step="last-look")                # 13
    job.add("reading_taken", "fore", point="upper", value_nm=5, step="first-look", corrects=first)  # 14
    job.add("reading_taken", "aft", point="upper", value_nm=6)                                   # 15
    job.add("reading_taken", point="cycles", value=5, unit="1")                                  # 16
    job.add("rack_measured", "aft", rack="inboard", length_nm=1_203_500_000)                     # 17
    job.add("finished", minutes=385)                                                             # 18
    return job


def content(tap, program, scratch):
    desk, job = Desk(program, scratch, "content"), whole_job()
    done = desk.take(write_zip(scratch / "content.zip", job.bag()))
    tap.ok(done.results() == ["taken"] and done.lines[0]["findings"] == 0, "a job with corrections is taken in", done)
    claim = desk.one("SELECT * FROM claims")
    wanted = {"job": job.events[0]["id"], "bulletin": "OV-26-03", "revision": 2, "bulletin_sha256": "ab" * 32, "is_invented": 0, "vin": VIN,
              "shop": "fern", "technician": "ines", "signature": "none", "signed_by": None, "opened_ms": START,
              "finished_ms": START + 18 * MINUTE, "labour_s": 385 * 60}
    for key, value in wanted.items():
        tap.ok(claim.get(key, "no such column") == value, f"{key} is {value}", claim.get(key))
    tap.ok(abs(claim["taken_ms"] / 1000 - datetime.datetime.now(datetime.timezone.utc).timestamp()) < 3600, "taken in by this machine's clock")
    stations = desk.rows("SELECT station, variant, label, built_first, built_last, scope, kit FROM stations ORDER BY n")
    tap.ok(stations == [
        {"station": "fore", "variant": "WD40", "label": "WD40 2024-W13", "built_first": "2024-03-25", "built_last": "2024-03-31", "scope": "in",
         "kit": "left-upper"},
        {"station": "aft", "variant": None, "label": "WD41 2023-W50", "built_first": None, "built_last": None, "scope": "out", "kit": None}],
        "two stations, the one out of scope too, in the order of work; a note alone makes none", *stations)
    readings = {(r["station"], r["point"], r["value_nano"]): r for r in desk.rows("SELECT * FROM readings")}
    def reading(name, station, point, value, phase, unit, minute, event):
        r = readings.pop((station, point, value), None)
        tap.ok(r is not None and (r["phase"], r["unit"], r["taken_ms"], r["ulid"], r["u_nano"]) ==
               (phase, unit, START + minute * MINUTE, job.events[event]["id"], None), name, r)
    reading("a first look put right later stands where it was: before the work, in its own minute", "fore", "upper", 5, "before", "nm", 1, 14)
    reading("a reading without a step stands beside those with one", "fore", "upper", 2, "before", "nm", 2, 2)
    reading("of two last looks the later holds", "fore", "upper", 4, "after", "nm", 13, 13)
    reading("work after it at its station: before", "fore", "torque", 24 * 10**9, "before", "N m", 10, 10)
    reading("no work at its station: after", "aft", "upper", 6, "after", "nm", 15, 15)
    reading("of the whole unit, work after it anywhere: before", None, "supply", 13_100_000_000, "before", "V", 3, 3)
    reading("of the whole unit, no work after it: after", None, "cycles", 5 * 10**9, "after", "1", 16, 16)
    tap.ok(not readings, "and no other reading", readings)
    events = desk.rows("SELECT ulid FROM log WHERE type NOT LIKE 'store.%' ORDER BY seq")
    tap.ok([e["ulid"] for e in events] == [e["id"] for e in job.events], "all events are on the log, in the order of the job, void ones too")
    tap.ok(desk.verify()["ok"], "the store is whole")


def odd_jobs(tap, program, scratch):
    desk = Desk(program, scratch, "odd")
    reopened = small_job(4)
    reopened.add("opened")
    desk.take(write_zip(scratch / "reopened.zip", reopened.bag()))
    claim = desk.one("SELECT * FROM claims")
    tap.ok(claim["job"] == reopened.events[0]["id"] and claim["opened_ms"] == START and claim["finished_ms"] is None
           and claim["labour_s"] is None, "opened again: its first name, not finished, no minutes", claim)
    fixed = small_job(5, technician="jon")
    fixed.technician = "ines"
    fixed.add("opened", corrects=fixed.events[0])
    done = desk.take(write_zip(scratch / "fixed.zip", fixed.bag()))
    claim = desk.one("SELECT * FROM claims WHERE claim = ?", done.lines[0]["claim"])
    tap.ok(claim["job"] == fixed.events[0]["id"] and claim["technician"] == "ines" and claim["opened_ms"] == START
           and claim["finished_ms"] == START + 7 * MINUTE, "an opening put right: the same job, and what stands says who", claim)
    nameless = small_job(6)
    del nameless.events[0]
    done = desk.take(write_zip(scratch / "nameless.zip", nameless.bag()))
    claim = desk.one("SELECT * FROM claims WHERE claim = ?", done.lines[0]["claim"])
    found = desk.rows("SELECT rule, level, station, message FROM findings")
    tap.ok(claim["job"] is None and claim["opened_ms"] is None and claim["shop"] == "fern" and done.lines[0]["findings"] == 1
           and found[0]["rule"] == "bag" and found[0]["level"] == "ask" and "opened" in found[0]["message"],
           "a job that was never opened has no name: a finding", claim, *found)
    twice = small_job(7)
    twice.add("note", "fore", text="another", event_id=twice.events[3]["id"])
    twice.events.append(dict(twice.events[2]))
    done = desk.take(write_zip(scratch / "twice.zip", twice.bag()))
    found = desk.rows("SELECT f.* FROM findings f JOIN claims c ON c.seq = f.seq WHERE claim = ?", done.lines[0]["claim"])
    tap.ok(done.results() == ["taken"] and len(found) == 1 and twice.events[3]["id"] in found[0]["message"] and found[0]["station"] == "fore",
           "two events of one id that differ: one is left out, and told; the same event twice is one", done, *found)
    tap.ok(desk.verify()["ok"] and desk.verify()["claims"] == 4, "the store is whole")


# ---- photos ---------------------------------------------------------------------------------------------------------------------------

def photo_job():
    job = Job(seed=10)
    job.add("opened")
    good = png(40, 30, 1)
    job.photo("label", good, "fore", path="photos/good.png")
    job.photo("proof", good, "aft", path="photos/good.png")                        # the same file named twice
    job.photo("utc", png(20, 20, 2, tiff("2026:03:05 09:14:00")), path="photos/utc.png")
    job.photo("east", png(20, 20, 3, tiff("2026:03:05 09:14:00", "+05:30")), path="photos/east.png")
    job.photo("west", png(20, 20, 4, tiff("2026:03:05 09:14:00", "-03:00")), path="photos/west.png")
    job.photo("cut", good[:-30], path="photos/cut.png")                            # ends too early
    job.photo("empty", b"", path="photos/empty.jpg")
    job.photo("kind", b"%PDF-1.7 no picture", path="photos/kind.jpg")
    job.photo("gone", b"x", "fore", path="photos/gone.png", keep=False)            # not in the bag
    job.photo("swapped", png(20, 20, 5), "fore", path="photos/swapped.png", sha256="0" * 64)
    taken_back = job.photo("back", png(20, 20, 6), path="photos/back.png")
    job.add("note", corrects=taken_back, text="that was the wrong column")
    job.files |= {"photos/stray.JPG": png(20, 20, 7), "notes/readme.txt": b"no picture"}
    job.add("finished")
    return job, good


def photos(tap, program, scratch):
    desk = Desk(program, scratch, "photos")
    job, good = photo_job()
    done = desk.take(write_zip(scratch / "photos.zip", job.bag()))
    rows = {r["point"]: r for r in desk.rows("SELECT * FROM photos")}
    tap.ok(done.results() == ["taken"] and list(rows) == ["label", "proof", "utc", "east", "west", "cut", "kind", "swapped"]
           and done.lines[0]["photos"] == 8, "photos in the order of the job; the one taken back is not kept", done, list(rows))
    label, proof = rows["label"], rows["proof"]
    tap.ok(label["name"] == "photos/good.png" and label["station"] == "fore" and label["sha256"] == hashlib.sha256(good).digest()
           and label["bytes"] == len(good) and (label["width"], label["height"], label["ext"]) == (40, 30, "png")
           and label["ulid"] == job.events[1]["id"] and label["fault"] is None and label["dhash"] is not None
           and label["sharpness"] > 0 and label["taken_ms"] is None, "a sound photo is kept with what it shows", label)
    tap.ok(all(proof[k] == label[k] for k in ("name", "sha256", "dhash", "phash", "sharpness", "exposure", "width"))
           and proof["station"] == "aft" and proof["ulid"] == job.events[2]["id"], "a file that two events name is the photo of both", proof)
    at = 1_772_702_040_000  # 2026-03-05 09:14 UTC: 20517 days, 9 h 14 min
    for point, ms in (("utc", at), ("east", at - 19_800_000), ("west", at + 10_800_000)):
        tap.ok(rows[point]["taken_ms"] == ms, f"the camera's clock, {point} (Exif 2.32: OffsetTimeOriginal is local less UTC)", rows[point]["taken_ms"])
    for point, fault in (("cut", "truncated"), ("kind", "kind")):
        tap.ok(rows[point]["fault"] == fault and rows[point]["dhash"] is None and rows[point]["exposure"] is None,
               f"a broken photo is kept with its fault: {fault}", rows[point])
    tap.ok(rows["swapped"]["sha256"] == hashlib.sha256(job.files["photos/swapped.png"]).digest(), "a photo of other bytes is kept as it is")
    found = desk.rows("SELECT * FROM findings ORDER BY n")
    tap.ok([(f["rule"], f["level"], f["station"]) for f in found] == [("bag", "ask", None), ("bag", "ask", "fore"), ("bag", "ask", "fore"), ("bag", "note", None)]
           and all(word in f["message"] and f["cure"] for word, f in zip(("photos/empty.jpg", "photos/gone.png", "photos/swapped.png",
                                                                          "photos/stray.JPG"), found)), "empty, missing, swapped and stray photos are findings, with a cure; other files are not", *found)
    kept = {p.read_bytes() for p in (desk.path / "photos").rglob("*") if p.is_file()}
    wanted = {job.files[p] for p in ("photos/good.png", "photos/utc.png", "photos/east.png", "photos/west.png", "photos/cut.png",
                                     "photos/kind.jpg", "photos/swapped.png")}
    health = desk.verify()
    tap.ok(kept == wanted and health["ok"] and health["orphans"] == 0, "photos/ holds these files and no other", len(kept), health)


def codes(tap, program, scratch):
    if not shutil.which("zint"):
        tap.skip("codes in photos", "there is no zint")
        return
    job = Job(seed=11)
    job.add("opened")
    for name, kind, text in (("vin", "8", VIN), ("label", "58", "WD40 2024-W13")):  # Code 39, QR
        path = scratch / f"{name}.png"
        subprocess.run(["zint", f"--barcode={kind}", "--scale=3", "--quietzones", f"--output={path}", f"--data={text}"], check=True)
        job.photo(name, path.read_bytes())
    desk = Desk(program, scratch, "codes")
    desk.take(write_zip(scratch / "codes.zip", job.bag()))
    rows = {r["point"]: r["codes"] for r in desk.rows("SELECT point, codes FROM photos")}
    tap.ok(rows == {"vin": VIN, "label": "WD40 2024-W13"}, "codes that zint drew are kept as text", rows)


# ---- refused --------------------------------------------------------------------------------------------------------------------------

# RFC 8493, section 4.1: the bag "myfirstbag"; the payload is ours, because the RFC prints none.
RFC_EXAMPLE = bag({"27613-h/images/q172.png": b"png", "27613-h/images/q172.txt": b"txt"}, algs=("md5",))


def many(n, what):
    job = Job(seed=20)
    job.add("opened")
    for i in range(n):
        what(job, i)
    return job


def refusals(tap, program, scratch):
    desk = Desk(program, scratch, "refused")
    before = desk.verify()

    def refused(name, files, kind, word="", path=None):
        path = path or write_zip(scratch / f"refused-{len(list(scratch.iterdir()))}.zip", files)
        done = desk.take(path)
        line = done.lines[0] if done.lines else {}
        said = " ".join(f"{f['path']}: {f['message']}" for f in line.get("faults", []))
        tap.ok(done.code == 1 and done.results() == ["refused"] and line["claim"] is None and line["photos"] == 0 and kind in done.kinds()
               and word in said and not done.err, f"refused: {name} ({kind})", done)

    good = small_job(30).bag()

    def changed(**more):
        return {**good, **{name.replace("__", "."): body for name, body in more.items()}}

    refused("RFC 8493's own example: no job", RFC_EXAMPLE, "no-job", "data/events.json")
    refused("events elsewhere", bag({"job/events.json": good["data/events.json"]}), "no-job")
    refused("a photo with one byte more", {**good, next(n for n in good if n.endswith(".png")): b"x"}, "wrong-sum")
    refused("events with one digit changed", {**good, "data/events.json": good["data/events.json"].replace(b"62000030", b"58000030")}, "wrong-sum")
    refused("a file that no manifest lists", {**good, "data/new.jpg": b"x"}, "unlisted-file")
    refused("a file that is gone", {n: b for n, b in good.items() if not n.endswith(".png")}, "missing-file")
    refused("no bag at all", {"readme.txt": b"hello"}, "declaration")
    refused("events that are no JSON", bag({"events.json": b"{"}), "events", "line 1")
    refused("events of another form", bag({"events.json": b'{"mendwright_events":2}'}), "events", "mendwright_events")
    refused("no events", bag({"events.json": b""}), "events")
    refused("65 stations", many(65, lambda job, i: job.add("label_read", f"s-{i}", text="x")).bag(), "events", "64 stations")
    refused("4097 readings", many(4097, lambda job, i: job.add("reading_taken", "fore", point=f"p-{i}", value_nm=i)).bag(), "events",
            "4096 readings")
    refused("1025 photos", many(1025, lambda job, i: job.photo("x", b"x", path="photos/x.png")).bag(), "events", "1024 photos")
    double = scratch / "double.zip"
    with warnings.catch_warnings(), zipfile.ZipFile(double, "w") as z:
        warnings.simplefilter("ignore")
        for name, body in [*good.items(), ("data/events.json", b"{}")]:
            z.writestr("job/" + name, body)
    refused("a path twice in the zip", None, "duplicate-path", path=double)
    (scratch / "half.zip").write_bytes(write_zip(scratch / "whole.zip", good).read_bytes()[:-40])
    refused("a zip that is cut off", None, "zip", path=scratch / "half.zip")
    write(scratch / "linked", good)
    (scratch / "linked/data/l.jpg").symlink_to("/etc/passwd")
    refused("a link", None, "link", path=scratch / "linked")
    after = desk.verify()
    tap.ok(after["ok"] and after["head"] == before["head"] and after["orphans"] == 0 and not list((desk.path / "photos").iterdir()),
           "nothing of a refused bag is kept", after)
    refused("the photo of a bag that stays", {**good, next(n for n in good if n.endswith(".png")): b"x"}, "wrong-sum")
    desk.take(write_zip(scratch / "good.zip", good), scratch / "half.zip", scratch / "whole.zip")
    tap.ok(desk.verify()["claims"] == 1, "a good bag among bad ones is taken in")


def signatures(tap, program, scratch):
    desk = Desk(program, scratch, "signed")
    for shop in ("fern", "elm"):
        desk.call("bag", "key", scratch / f"{shop}.key")
    ring = scratch / "ring.txt"
    ring.write_text((scratch / "fern.key.pub").read_text())
    both = scratch / "both"
    both.mkdir()
    for shop in ("fern", "elm"):
        shutil.copy(scratch / f"{shop}.key.pub", both)

    def signed(seed, key, change=None):
        folder = scratch / f"job-{seed}"
        for name, body in small_job(seed).payload().items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(body)
        out = scratch / f"signed-{seed}.zip"
        desk.call("bag", "make", folder, "-o", out, "--key", scratch / f"{key}.key")
        if change:
            shutil.unpack_archive(out, scratch / f"open-{seed}")
            (out,) = (scratch / f"open-{seed}").iterdir()
            change(out / "signature-ed25519.txt")
        return out

    def state(name, path, keys, signature, by):
        done = desk.take(path, *(["--keys", keys] if keys else []))
        claim = desk.one("SELECT signature, signed_by FROM claims WHERE claim = ?", done.lines[0]["claim"])
        tap.ok(done.results() == ["taken"] and done.lines[0]["signature"] == signature and done.lines[0]["signed_by"] == by
               and claim == {"signature": signature, "signed_by": by}, f"{name}: {signature}, {by}", done, claim)

    state("signed, key in the ring", signed(40, "fern"), ring, "good", "fern")
    with zipfile.ZipFile(scratch / "signed-40.zip") as z:
        (name,) = (n for n in z.namelist() if n.endswith("/manifest-sha256.txt"))
        digest = hashlib.sha256(z.read(name)).digest()
    tap.ok(desk.one("SELECT bag FROM claims")["bag"] == digest, "a claim's digest is that of the manifest that bag make writes (zipfile, hashlib)")
    state("signed, no ring", signed(41, "fern"), None, "unknown-key", "fern")
    state("signed by a key that the ring lacks", signed(42, "elm"), ring, "unknown-key", "elm")
    state("signed by another shop than the job's", signed(43, "elm"), both, "good", "elm")
    state("unsigned", write_zip(scratch / "unsigned.zip", small_job(44).bag()), ring, "none", None)
    done = desk.take(signed(45, "fern", lambda f: f.write_text(f.read_text().replace("Shop: fern", "Shop: elm"))), "--keys", both)
    tap.ok(done.code == 1 and done.kinds() == ["signature"] and done.lines[0]["signature"] == "bad", "another shop's name on it: refused", done)
    done = desk.take(scratch / "signed-40.zip", "--keys", scratch / "fern.key")
    tap.ok(done.code == 2 and not done.out and "secret" in done.err, "a secret key is no keyring: exit 2", done)
    for name, file in (("maker", "fern.key.pub"), ("others", "elm.key.pub")):
        desk.call("store", "keep", "keys", scratch / file, "--name", name, "--store", desk.path)
    state("no --keys, but a ring is kept in the store", signed(46, "fern"), None, "good", "fern")
    state("no --keys, and a second ring in the store", signed(47, "elm"), None, "good", "elm")
    state("--keys goes before what the store keeps", signed(48, "elm"), ring, "unknown-key", "elm")
    unsigned = write_zip(scratch / "again.zip", small_job(40).bag())
    done = desk.take(unsigned, "--keys", ring)
    tap.ok(done.results() == ["already"] and desk.verify()["claims"] == 8, "the same job without its signature is the claim that is here", done)
    tap.ok(done.lines[0]["signature"] == "none" and done.lines[0]["signature_noted"] == "good", "the signature noted first stays", done)
    write_zip(scratch / "late.zip", small_job(49).bag())
    desk.take(scratch / "late.zip")
    words = desk.call("take", signed(49, "fern"), "--store", desk.path)
    tap.ok(words.code == 0 and "Here already" in words.out and "taken in with signature: none" in words.out, "and a person is told how to have a later one counted",
           words)


# ---- which bags, in which order, and how it is told ---------------------------------------------------------------------------------------

def calls(tap, program, scratch):
    desk = Desk(program, scratch, "calls")
    box = scratch / "box"
    box.mkdir()
    for i in (3, 1, 2):
        write_zip(box / f"b{i}.zip", small_job(50 + i).bag())
    write_zip(box / "c4.ZIP", small_job(54).bag())
    (box / "notes.txt").write_text("no bag")
    done = desk.take(box)
    tap.ok(done.code == 0 and [pathlib.Path(line["bag"]).name for line in done.lines] == ["b1.zip", "b2.zip", "b3.zip", "c4.ZIP"]
           and set(done.results()) == {"taken"}, "a folder of zips: each, in the order of names", done)
    write(box / "inner", small_job(55).bag())
    done = desk.take(box / "inner")
    tap.ok(done.results() == ["taken"], "a folder that is a bag is one bag", done)
    (box / "arrivals.csv").write_bytes(b"arrived_ms,bag\r\n1000,b3.zip\r\n2000,inner\r\n2500,b1.zip\r\n")
    fresh = Desk(program, scratch, "arrivals")
    done = fresh.take("--arrivals", box / "arrivals.csv")
    rows = fresh.rows("SELECT taken_ms FROM claims ORDER BY seq")
    tap.ok(done.code == 0 and [line["bag"] for line in done.lines] == [f"{box}/{n}" for n in ("b3.zip", "inner", "b1.zip")]
           and [r["taken_ms"] for r in rows] == [1000, 2000, 2500], "arrivals: in this order, each at its time", done, rows)
    done = fresh.take("--arrivals", "arrivals.csv", cwd=box)
    tap.ok(done.code == 0 and done.results() == ["already"] * 3, "paths are beside the file, also when it is here", done)

    campaign = scratch / "campaign"
    (campaign / "bags").mkdir(parents=True)
    write_zip(campaign / "bags/0001.zip", small_job(58).bag())
    (campaign / "arrivals.csv").write_text("bag,arrived_ms\n0001.zip,7\n")
    done = fresh.take("--arrivals", campaign / "arrivals.csv")
    tap.ok(done.results() == ["taken"] and done.lines[0]["bag"] == f"{campaign}/bags/0001.zip", "or in bags/ beside it, as a made-up campaign has them", done)

    def wrong(name, *words, word="", code=2):
        done = fresh.call("take", *words)
        tap.ok(done.code == code and not done.out and done.err.count("\n") == 1 and word in done.err, f"{name}: exit {code}", done)

    before = fresh.verify()["head"]
    store = ["--store", fresh.path]
    wrong("no bag", *store, word="no bag")
    wrong("no store named", box, word="--store")
    wrong("a store that was never made", box, "--store", scratch / "none", word="store init")
    wrong("a path that is not there, among good ones", box / "b2.zip", scratch / "none.zip", *store, word="none.zip")
    wrong("an empty path", "", *store)
    wrong("a device", "/dev/null", *store, word="device")
    wrong("a time that is none", box, "--at", "yesterday", *store, word="2026-03-05T09:14:00Z")
    wrong("30 February", box, "--at", "2026-02-30", *store)
    wrong("25 o'clock", box, "--at", "2026-02-28T25:00Z", *store)
    wrong("--at and --arrivals", "--arrivals", box / "arrivals.csv", "--at", "0", *store)
    for name, body, word in (("another column", "bag,when\nb1.zip,1\n", "arrived_ms"), ("no time", "bag,arrived_ms\nb1.zip,soon\n", "milliseconds"),
                             ("a path that leaves the folder", "bag,arrived_ms\n../box/b1.zip,1\n", "beside"),
                             ("a bag that is not there", "bag,arrived_ms\nb1.zip,1\nb9.zip,2\n", "b9.zip"),
                             ("no bag in it", "bag,arrived_ms\n", "no bag")):
        (box / "bad.csv").write_text(body)
        wrong(f"arrivals with {name}", "--arrivals", box / "bad.csv", *store, word=word)
    tap.ok(fresh.verify()["head"] == before, "after a wrong call nothing was taken in")
    for text, ms in (("2026-03-05", 1_772_668_800_000), ("2026-03-05T09:14Z", 1_772_702_040_000), ("2026-03-05T09:14:07.250Z", 1_772_702_047_250),
                     ("1772702047250", 1_772_702_047_250)):
        n = fresh.verify()["claims"]
        fresh.take(write_zip(scratch / "at.zip", small_job(60 + n).bag()), "--at", text)
        tap.ok(fresh.rows("SELECT taken_ms FROM claims ORDER BY seq")[-1]["taken_ms"] == ms, f"--at {text} (Python's datetime)")
    (scratch / "half.zip").write_bytes((box / "b1.zip").read_bytes()[:-40])
    shutil.copy(box / "c4.ZIP", scratch / "whole.zip")
    words = fresh.call("take", box / "b2.zip", box / "b3.zip", scratch / "half.zip", scratch / "whole.zip", *store)
    tap.ok(words.code == 1 and "half.zip" in words.out and "4 bags: 2 taken in, 1 here already, 1 refused." in words.out and "[>]" in words.out
           and not words.err, "people see the refused one, the summary and what to do", words)
    words = fresh.call("take", scratch / "whole.zip", *store)
    tap.ok(words.code == 0 and "Here already" in words.out, "and of one bag what became of it", words)
    ours, theirs = pty.openpty()
    subprocess.run([fresh.program, "take", str(box), "--store", str(fresh.path)], stdout=subprocess.DEVNULL, stderr=theirs, check=True)
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # the end, as Linux tells it
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    tap.ok(b"bags" in shown and b"of 4" in shown and shown.endswith(b"\r"), "a terminal sees how far it is, and the line is gone at the end", shown)
    full = open("/dev/full", "w") if os.path.exists("/dev/full") else None
    if full:
        done = subprocess.run([fresh.program, "take", str(box), "--store", str(fresh.path), "--json"], stdout=full, stderr=subprocess.PIPE, text=True)
        full.close()
        tap.ok(done.returncode == 3 and "could not be written" in done.stderr, "an answer that cannot be written: exit 3", done.stderr)


def memory(tap, program, scratch):
    """A bag with a payload file of 256 MiB, mostly a hole, beside the job: what is not a photo is never held in memory."""
    desk, size, zeros = Desk(program, scratch, "memory"), 256 << 20, hashlib.sha256()
    for _ in range(size >> 20):
        zeros.update(bytes(1 << 20))
    files = small_job(70).bag(tag_algs=())
    files["manifest-sha256.txt"] += f"{zeros.hexdigest()}  data/video.mp4\n".encode()
    write(scratch / "big", files)
    with open(scratch / "big/data/video.mp4", "wb") as f:
        f.truncate(size)
    done = run(program, scratch / "big", "--store", desk.path, "--json", verb="take")
    tap.ok(done.code == 0 and done.json.get("result") == "taken" and done.peak_kib < PEAK_KIB,
           f"a bag of 256 MiB is taken in under 64 MiB (peak {done.peak_kib // 1024} MiB)", done)


def ids(tap):
    tap.ok(ulid(1, 1_469_918_176_385)[:10] == "01ARYZ6S41", "the test's own ULIDs: the ULID specification's example time (from memory)")


def main():
    tap, program = Tap(), sys.argv[1]
    ids(tap)
    for test in (same_claim, content, odd_jobs, photos, codes, refusals, signatures, calls, memory):
        with Scratch() as scratch:
            test(tap, program, scratch)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
