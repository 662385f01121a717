#!/usr/bin/env python3
"""crash: taking in while things go wrong: two processes with the same bags at once, kill -9 at random moments, a folder that changes
meanwhile, a disk that is full, a store that may only be read. MENDWRIGHT_KILLS sets the kills (20), MENDWRIGHT_SEED the seed. TAP.

usage: crash.py PROGRAM
"""
import hashlib
import json
import os
import pathlib
import random
import shutil
import signal
import subprocess
import sys
import time

from takekit import SMALL, Desk, Scratch, Tap, claim_of, fresh, small_job, write, write_zip

BAGS = 40
PHOTOS = 2
ENVIRONMENT = {**os.environ, **SMALL, "LC_ALL": "C"}


def make_bags(folder, n, first=1000):
    folder.mkdir()
    claims = []
    for i in range(n):
        files = small_job(first + i, photos=PHOTOS).bag()
        write_zip(folder / f"{i:04}.zip", files)
        claims.append(claim_of(files)[1])
    return claims


def start(desk, *bags):
    return subprocess.Popen([desk.program, "take", *map(str, bags), "--store", str(desk.path), "--json"], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, env=ENVIRONMENT)


def is_whole(desk, n):
    """The store is good and holds n claims with all that belongs to them, and nothing else is counted."""
    health = desk.verify()
    counts = desk.rows("SELECT c.claim, (SELECT count(*) FROM photos p WHERE p.claim_seq = c.seq) AS photos, "
                       "(SELECT count(*) FROM readings r WHERE r.claim_seq = c.seq) AS readings, n_events FROM claims c")
    return (health["ok"] and health["claims"] == n and health["photos"] == n * PHOTOS
            and all((c["photos"], c["readings"], c["n_events"]) == (PHOTOS, 2, 7 + PHOTOS) for c in counts)), health


# ---- two at once ------------------------------------------------------------------------------------------------------------------------

def together(tap, program, scratch):
    claims = make_bags(scratch / "bags", BAGS)
    desk = Desk(program, scratch)
    both = [start(desk, scratch / "bags") for _ in range(2)]
    told = []
    for process in both:
        out, err = process.communicate()
        lines = [json.loads(line) for line in out.splitlines()]
        told.append({line["claim"]: line["result"] for line in lines})
        tap.ok(process.returncode == 0 and not err and len(lines) == BAGS, "exit 0, all bags told, not a word of locks", process.returncode, err)
    pairs = [sorted((told[0].get(c), told[1].get(c)), key=str) for c in claims]
    tap.ok(all(pair == ["already", "taken"] for pair in pairs), f"each of {BAGS} bags was taken once, and was here already once", pairs)
    n = [sum(r == "taken" for r in t.values()) for t in told]
    good, health = is_whole(desk, BAGS)
    tap.ok(good and health["orphans"] == 0, f"no claim is lost or doubled ({n[0]} by one, {n[1]} by the other)", health)


# ---- kill -9 ------------------------------------------------------------------------------------------------------------------------------

def kill_one(process, dice, pace):
    """Kills after a few acknowledged bags and a random part of a bag's time; what was acknowledged, and the pace so far."""
    wanted, lines = dice.randrange(6), []
    began = time.monotonic()
    while len(lines) < wanted:
        line = process.stdout.readline()
        if not line:
            break
        lines.append(line)
    if lines:
        pace = (3 * pace + (time.monotonic() - began) / len(lines)) / 4
    time.sleep(dice.random() * pace * 1.5)
    process.kill()
    lines += process.stdout.read().splitlines(keepends=True)  # communicate() would pass over what readline has buffered
    err = process.stderr.read()
    process.wait()
    process.stdout.close()
    process.stderr.close()
    return [json.loads(line) for line in lines if line.endswith("\n")], pace, err


def kills(tap, program, scratch):
    rounds = int(os.environ.get("MENDWRIGHT_KILLS") or 20)
    seed = int(os.environ.get("MENDWRIGHT_SEED") or time.time())
    dice, pace = random.Random(seed), 0.05
    claims = make_bags(scratch / "bags", BAGS)
    desk, acknowledged, n_at_work, n_stores, orphans, n_new = None, set(), 0, 0, 0, 0
    lost, bad, noise = [], [], []
    zips = sorted((scratch / "bags").iterdir())
    for i in range(rounds):
        if desk is None or len(acknowledged) > BAGS - 8:
            n_stores += 1
            desk, acknowledged = Desk(program, fresh(scratch / "store")), set()
        # From the last acknowledged bag on: one that is here, perhaps one that was under way, then new ones.
        process = start(desk, *zips[max(0, len(acknowledged) - 1):])
        lines, pace, err = kill_one(process, dice, pace)
        n_at_work += process.returncode == -9
        noise += [err] if err else []
        n_new += sum(line["result"] == "taken" for line in lines)
        acknowledged |= {line["claim"] for line in lines if line["result"] in ("taken", "already")}
        there = {row["claim"] for row in desk.rows("SELECT claim FROM claims")}
        lost += [(i, acknowledged - there)] if acknowledged - there else []
        good, health = is_whole(desk, len(there))
        orphans += health.get("orphans", 0)
        if not good or not there <= set(claims) or len(there) > len(acknowledged) + 1:
            bad.append((i, len(there), len(acknowledged), health))
    tap.ok(n_at_work > rounds / 2 and n_new > rounds / 2, f"{n_at_work} of {rounds} kills hit a process at work (seed {seed}, {n_stores} stores, "
           f"{n_new} bags taken in, {orphans} leftovers seen)")
    tap.ok(not lost, "every acknowledged bag is there", *lost)
    tap.ok(not bad, "the store is good after every kill, with at most the bag under way besides, and no leftover counts as a photo", *bad)
    tap.ok(not noise, "not a word of complaint", *noise)
    done = desk.take(scratch / "bags")
    good, health = is_whole(desk, BAGS)
    tap.ok(done.code == 0 and len(done.lines) == BAGS and good, "the same call once more takes in what was missing", done, health)


# ---- a folder that changes --------------------------------------------------------------------------------------------------------------

HOLE = 256 << 20  # the last file, so long that the program is met while it reads it


def hold_at(process, path):
    """Stops the process while it has the file open; False when it was too quick."""
    folder, end = f"/proc/{process.pid}/fd", time.monotonic() + 60
    while process.poll() is None and time.monotonic() < end:
        try:
            is_there = any(os.readlink(f"{folder}/{fd}") == str(path) for fd in os.listdir(folder))
        except OSError:
            continue
        if is_there:
            process.send_signal(signal.SIGSTOP)
            return any(os.readlink(f"{folder}/{fd}") == str(path) for fd in os.listdir(folder))
    return False


def changing(tap, program, scratch):
    """Everything before the last file has been verified; then it changes under the program's hands."""
    if not os.path.isdir("/proc/self/fd"):
        tap.skip("a folder that changes", "there is no /proc")
        return
    zeros = hashlib.sha256()
    for _ in range(HOLE >> 20):
        zeros.update(bytes(1 << 20))
    files = small_job(7000).bag(tag_algs=())
    files["manifest-sha256.txt"] += f"{zeros.hexdigest()}  data/z\n".encode()

    def photo(folder):
        return next((folder / "data/photos").iterdir())

    def swap(folder):
        photo(folder).unlink()
        photo_path = folder / "data/photos" / "label-0.png"
        photo_path.symlink_to("/etc/hostname")

    for name, change in (("a photo by one byte", lambda f: photo(f).write_bytes(photo(f).read_bytes()[:-1] + b"x")),
                         ("a photo that grows", lambda f: photo(f).write_bytes(photo(f).read_bytes() + b"x")),
                         ("a photo that is gone", lambda f: photo(f).unlink()), ("a photo that becomes a link", swap),
                         ("the events", lambda f: (f / "data/events.json").write_bytes((f / "data/events.json").read_bytes() + b" ")),
                         ("nothing", None)):
        for attempt in range(5):  # on a busy machine the moment may be missed
            folder, desk = scratch / "bag", Desk(program, fresh(scratch / "desk"))
            before = desk.verify()["head"]
            shutil.rmtree(folder, ignore_errors=True)
            write(folder, files)
            with open(folder / "data/z", "wb") as f:
                f.truncate(HOLE)
            process = start(desk, folder)
            is_held = hold_at(process, folder / "data/z")
            if is_held and change:
                change(folder)
            process.send_signal(signal.SIGCONT)
            out, err = process.communicate()
            if is_held:
                break
        line = json.loads(out) if out else {"faults": [], "result": None}
        if change:
            tap.ok(is_held and process.returncode == 1 and line["result"] == "refused" and [f["kind"] for f in line["faults"]] == ["changed"]
                   and desk.verify()["head"] == before and desk.verify()["orphans"] == 0,
                   f"changed while it is taken in: {name}: refused, nothing kept", is_held, out, err)
        else:
            tap.ok(is_held and process.returncode == 0 and line["result"] == "taken", "and taken in when nothing changed", is_held, out, err)


# ---- no room, no right to write -----------------------------------------------------------------------------------------------------------

def mount(folder, options):
    return subprocess.run(["mount", "-t", "tmpfs", "-o", options, "mendwright", str(folder)], capture_output=True, check=False).returncode == 0


def full_disk(tap, program, scratch):
    make_bags(scratch / "bags", BAGS)
    place = scratch / "small"
    place.mkdir()
    if not mount(place, "size=900k"):
        tap.skip("a full disk", "only root may mount a small one")
        tap.skip("a store that may only be read", "only root may mount it so")
        return
    try:
        desk = Desk(program, place)
        done = desk.take(scratch / "bags")
        told = done.results()
        tap.ok(done.code == 3 and set(told) <= {"taken"} and 0 < len(told) < BAGS and "no room" in done.err and done.err.count("\n") == 1,
               f"a disk that is full after {len(told)} bags: exit 3, said in one line", done)
        subprocess.run(["mount", "-o", "remount,size=8m", str(place)], check=True)
        good, health = is_whole(desk, len(told))
        tap.ok(good and health["orphans"] == 0, "the store is good, with exactly what was told, and nothing is left over", health)
        done = desk.take(scratch / "bags")
        tap.ok(done.code == 0 and done.results().count("taken") == BAGS - len(told) and is_whole(desk, BAGS)[0], "with room again it goes on", done)
        head = desk.verify()["head"]
        subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
        write_zip(scratch / "new.zip", small_job(5000).bag())
        done = desk.take(scratch / "new.zip")
        tap.ok(done.code == 3 and not done.out and "may only be read" in done.err and done.err.count("\n") == 1,
               "a store that may only be read: exit 3, said in one line", done)
        subprocess.run(["mount", "-o", "remount,rw", str(place)], check=True)
        tap.ok(desk.verify()["head"] == head, "and nothing was written")
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


def main():
    tap, program = Tap(), pathlib.Path(sys.argv[1])
    for test in (together, kills, changing, full_disk):
        with Scratch() as scratch:
            test(tap, program, scratch)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
