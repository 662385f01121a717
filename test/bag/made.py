#!/usr/bin/env python3
"""made: bags that `bag make` packs, taken apart by others: zipfile and hashlib, coreutils' sha256sum, openssl's Ed25519.
Then keys, signatures in all their states, refusals, and memory that does not grow with the bag. TAP.

usage: made.py PROGRAM
"""
import hashlib
import os
import pathlib
import re
import shutil
import subprocess
import sys
import zipfile

from bagkit import Scratch, Tap, bag, manifest, run, write

ODD = {"events.json": b'{"events":[]}\n', "photos/1.jpg": bytes(range(256)) * 300, "photos/a b%c\nd.jpg": b"x", "empty": b"",
       "photos/gr\u00f6\u00dfe.jpg": b"y"}
# An Ed25519 public key as RFC 8410 wraps it (section 4, OID 1.3.101.112): this and the 32 bytes.
DER = bytes.fromhex("302a300506032b6570032100")
PEAK_KIB = 64 * 1024


def make_job(folder, files=None):
    for name, body in (ODD if files is None else files).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body)
        os.utime(path, (1_772_442_000, 1_772_442_000))  # 2026-03-02 09:00 UTC
    return folder


def unzip(path, folder):
    with zipfile.ZipFile(path) as z:
        z.extractall(folder)
    (top,) = folder.iterdir()
    return top


def read_manifest(text):
    decode = re.compile("%(0[aA]|0[dD]|25)")
    pairs = (line.split("  ", 1) for line in text.splitlines())
    return {decode.sub(lambda m: chr(int(m.group(1), 16)), path): digest for digest, path in pairs}


# ---- what is packed --------------------------------------------------------------------------------------------------

def packed(tap, program, scratch):
    job = make_job(scratch / "job")
    done = run(program, "make", job, "-o", scratch / "a.zip", "--json")
    tap.ok(done.code == 0 and done.json.get("files") == 5 and done.json.get("bytes") == sum(map(len, ODD.values())),
           "make counts files and bytes (sizes of what was put in)", done)
    body = (scratch / "a.zip").read_bytes()
    tap.ok(done.json.get("sha256") == hashlib.sha256(body).hexdigest(), "make tells the zip's sha256 (hashlib)", done)
    top = unzip(scratch / "a.zip", scratch / "a")
    tap.ok(zipfile.ZipFile(scratch / "a.zip").testzip() is None, "zipfile finds every CRC right")
    tap.ok({p.relative_to(top / "data").as_posix(): p.read_bytes() for p in (top / "data").rglob("*") if p.is_file()} == ODD,
           "the payload comes out byte for byte (zipfile)")
    tap.ok((top / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
           "bagit.txt is the two lines of RFC 8493, 2.1.1")
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        listed = read_manifest((top / name).read_bytes().decode())
        tap.ok(bool(listed) and all(hashlib.sha256((top / p).read_bytes()).hexdigest() == d for p, d in listed.items()),
               f"every sum in {name} is right (hashlib)", listed)
    listed = read_manifest((top / "manifest-sha256.txt").read_bytes().decode())
    tap.ok(set(listed) == {f"data/{name}" for name in ODD}, "the manifest lists every file of the job and no other", listed)
    info = (top / "bag-info.txt").read_text()
    tap.ok("Payload-Oxum: 76816.5\n" in info, "Payload-Oxum (14 + 256 x 300 + 1 + 0 + 1 bytes in 5 files)", info)
    tap.ok("Bagging-Date: 2026-03-02\n" in info, "Bagging-Date is the day of the last change, UTC", info)
    done = run(program, "verify", top, "--json")
    tap.ok(done.code == 0 and done.json.get("valid") is True and done.json["warnings"] == [],
           "unpacked by zipfile, the folder verifies", done)
    return job, body


def sha256sum(tap, scratch, program):
    """coreutils knows nothing of %0A, so this bag has plain names."""
    if not shutil.which("sha256sum"):
        tap.skip("sha256sum -c agrees", "there is no sha256sum")
        return
    run(program, "make", make_job(scratch / "plain", {"a": b"1", "b/c": b"2"}), "-o", scratch / "plain.zip")
    top = unzip(scratch / "plain.zip", scratch / "plain-out")
    done = subprocess.run(["sha256sum", "--strict", "-c", "manifest-sha256.txt", "tagmanifest-sha256.txt"], cwd=top,
                          capture_output=True, text=True)
    tap.ok(done.returncode == 0 and done.stdout.count(": OK") == 5, "sha256sum -c (GNU coreutils) agrees on all five files",
           done.stdout, done.stderr)


def same_bytes(tap, program, scratch, job, body):
    copy = make_job(scratch / "elsewhere" / "another-name")
    run(program, "make", copy, "-o", scratch / "b.zip", env={"TZ": "Asia/Tokyo", "LC_ALL": "C.UTF-8"})
    tap.ok((scratch / "b.zip").read_bytes() == body, "the same files elsewhere, in another time zone, give the same bytes")
    run(program, "make", job, "-o", scratch / "b.zip", "--date", "2026-03-05")
    tap.ok((scratch / "b.zip").read_bytes() != body, "another date gives other bytes")


# ---- refusals --------------------------------------------------------------------------------------------------------

def refusals(tap, program, scratch):
    def refused(name, code, prepare, *args, out="r.zip", because=""):
        job = make_job(scratch / f"job-{len(list(scratch.iterdir()))}", {"a": b"1"})
        prepare(job)
        before = sorted(scratch.iterdir())
        done = run(program, "make", job, "-o", str(out(job)) if callable(out) else scratch / out, *args)
        tap.ok(done.code == code and done.err.count("\n") == 1 and because in done.err and not done.out and sorted(scratch.iterdir()) == before,
               f"make refuses {name}, exit {code}, nothing left behind", done, *sorted(scratch.iterdir()))
    refused("a link", 2, lambda job: (job / "l").symlink_to("/etc/passwd"))
    refused("a link to a folder", 2, lambda job: (job / "l").symlink_to("/etc"))
    refused("a pipe", 2, lambda job: os.mkfifo(job / "p"))
    refused("a name that is not UTF-8", 2, lambda job: open(os.path.join(os.fsencode(job), b"\xff"), "wb").close())
    refused("a folder without files", 2, lambda job: (job / "a").unlink())
    refused("a zip inside the folder", 2, lambda job: None, out=lambda job: job / "x.zip")
    refused("a zip in a folder that is not there", 2, lambda job: None, out="nowhere/x.zip", because="No such file or directory")
    refused("a folder in place of the zip", 2, lambda job: (scratch / "taken").mkdir(), out="taken")
    refused("a folder that is not there", 2, lambda job: shutil.rmtree(job))
    refused("an impossible date", 2, lambda job: None, "--date", "2026-02-30")
    refused("a key that is not there", 2, lambda job: None, "--key", "/nowhere")

    job, out = make_job(scratch / "big", {"a": os.urandom(300_000)}), scratch / "full"
    out.mkdir()
    done = run(program, "make", job, "-o", out / "full.zip", file_bytes=100_000)
    tap.ok(done.code == 3 and not list(out.iterdir()), "a disk that takes no more: exit 3, nothing left behind (RLIMIT_FSIZE)",
           done, *out.iterdir())
    run(program, "make", job, "-o", out / "full.zip")
    body = (out / "full.zip").read_bytes()
    (job / "a").write_bytes(os.urandom(300_000))
    done = run(program, "make", job, "-o", out / "full.zip", file_bytes=100_000)
    tap.ok(done.code == 3 and (out / "full.zip").read_bytes() == body, "the zip that was there stays as it was", done)


# ---- keys and signatures ---------------------------------------------------------------------------------------------

def keys(tap, program, scratch):
    done = run(program, "key", scratch / "fore-7.key", "--json")
    secret, public = scratch / "fore-7.key", scratch / "fore-7.key.pub"
    tap.ok(done.code == 0 and done.json.get("shop") == "fore-7" and re.fullmatch("[0-9a-f]{64}", done.json.get("key", "")),
           "key makes a pair, named after its file", done)
    tap.ok(secret.stat().st_mode & 0o777 == 0o600, "the secret key is its owner's alone")
    tap.ok(public.read_text() == f"fore-7 {done.json['key']}\n", "the public key is a keyring's line")
    before = secret.read_bytes()
    done = run(program, "key", secret)
    tap.ok(done.code == 2 and secret.read_bytes() == before, "a key is never overwritten", done)
    run(program, "key", scratch / "aft.key", "--shop", "aft-9")
    done = run(program, "key", scratch / "aft2.key", "--shop", "aft 9")
    tap.ok(done.code == 2 and not (scratch / "aft2.key").exists() and not (scratch / "aft2.key.pub").exists(),
           "a shop's id holds no blank; nothing is left behind", done)
    (scratch / "ring.txt").write_text("# shops\n" + public.read_text() + (scratch / "aft.key.pub").read_text())
    done = run(program, "verify", scratch, "--keys", secret)
    tap.ok(done.code == 2 and "secret" in done.err, "a secret key is no keyring", done)


def openssl_agrees(tap, scratch, top):
    claim = dict(line.split(": ") for line in (top / "signature-ed25519.txt").read_text().splitlines())
    (scratch / "key.der").write_bytes(DER + bytes.fromhex(claim["Key"]))
    (scratch / "sig").write_bytes(bytes.fromhex(claim["Signature"]))
    call = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", scratch / "key.der", "-keyform", "DER", "-rawin", "-in",
            top / "tagmanifest-sha256.txt", "-sigfile", scratch / "sig"]
    if not shutil.which("openssl"):
        tap.skip("openssl agrees that the signature holds", "there is no openssl")
        return
    done = subprocess.run(call, capture_output=True, text=True)
    tap.ok(done.returncode == 0 and "Successfully" in done.stdout,
           "openssl agrees that the signature holds over tagmanifest-sha256.txt", done.stdout, done.stderr)


def signatures(tap, program, scratch):
    job = make_job(scratch / "signed")
    run(program, "make", job, "-o", scratch / "s.zip", "--key", scratch / "fore-7.key")
    run(program, "make", job, "-o", scratch / "t.zip", "--key", scratch / "fore-7.key")
    tap.ok((scratch / "s.zip").read_bytes() == (scratch / "t.zip").read_bytes(), "signed twice, the same bytes (RFC 8032)")
    top = unzip(scratch / "s.zip", scratch / "s")
    openssl_agrees(tap, scratch, top)
    (scratch / "pubs").mkdir()
    shutil.copy(scratch / "fore-7.key.pub", scratch / "pubs")

    def state(name, path, ring, signature, code, valid=True):
        done = run(program, "verify", path, "--json", *(["--keys", ring] if ring else []))
        tap.ok(done.json.get("signature") == signature and done.code == code and done.json.get("valid") is valid and not done.err,
               f"{name}: {signature}, exit {code}", done)

    def altered(change):
        copy = scratch / f"altered-{len(list(scratch.iterdir()))}"
        shutil.copytree(top, copy)
        change(copy)
        return copy

    def edit(name, old, new):
        def change(folder):
            text = (folder / name).read_text()
            assert old in text
            (folder / name).write_text(text.replace(old, new, 1))
        return change

    ring, sign = scratch / "ring.txt", "signature-ed25519.txt"

    def resign(folder):
        """Signed again over the changed tag manifest, by openssl with the shop's seed as RFC 8410 wraps it (section 7)."""
        seed = (scratch / "fore-7.key").read_text().split()[-1]
        (scratch / "seed.der").write_bytes(bytes.fromhex("302e020100300506032b657004220420" + seed))
        subprocess.run(["openssl", "pkeyutl", "-sign", "-inkey", scratch / "seed.der", "-keyform", "DER", "-rawin", "-in",
                        folder / "tagmanifest-sha256.txt", "-out", scratch / "new.sig"], check=True)
        lines = (folder / sign).read_text().splitlines()[:2] + ["Signature: " + (scratch / "new.sig").read_bytes().hex()]
        (folder / sign).write_text("\n".join(lines) + "\n")
    state("signed, key in the ring", scratch / "s.zip", ring, "good", 0)
    state("signed, key in a folder of keys", scratch / "s.zip", scratch / "pubs", "good", 0)
    state("signed, unpacked", top, ring, "good", 0)
    state("signed, no ring given", scratch / "s.zip", None, "unknown-key", 0)
    state("signed, another shop's ring", scratch / "s.zip", scratch / "aft.key.pub", "unknown-key", 4)
    state("unsigned", scratch / "a.zip", None, "none", 0)
    state("unsigned, but a signature is asked for", scratch / "a.zip", ring, "none", 4)
    state("the signature taken away", altered(lambda f: (f / sign).unlink()), ring, "none", 4)
    state("another shop's name", altered(edit(sign, "fore-7", "aft-9")), ring, "bad", 1)
    state("a shop's name that no ring has", altered(edit(sign, "fore-7", "new-1")), ring, "bad", 1)
    state("a signature that is no text of ours", altered(lambda f: (f / sign).write_bytes(b"\0" * 99)), ring, "bad", 1)
    state("a line behind the signature", altered(lambda f: (f / sign).write_text((f / sign).read_text() + "x\n")), ring, "bad", 1)
    digit = re.search("Signature: (.)", (top / sign).read_text()).group(1)
    state("one digit of the signature changed",
          altered(edit(sign, f"Signature: {digit}", f"Signature: {'0' if digit != '0' else '1'}")), ring, "bad", 1)

    def forge(folder):
        """Everything made right again after a change, but for the signature."""
        (folder / "data/events.json").write_bytes(b'{"events":[1]}\n')
        files = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
        files["bag-info.txt"] = re.sub(rb"Oxum: (\d+)", lambda m: b"Oxum: %d" % (int(m.group(1)) + 1), files["bag-info.txt"])
        files["manifest-sha256.txt"] = manifest(files, "sha256", [n for n in files if n.startswith("data/")])
        tags = ["bag-info.txt", "bagit.txt", "manifest-sha256.txt"]
        files["tagmanifest-sha256.txt"] = manifest(files, "sha256", tags)
        for name in tags + ["tagmanifest-sha256.txt"]:
            (folder / name).write_bytes(files[name])
    state("payload, sums and counts changed together", altered(forge), ring, "bad", 1)

    def slip_in(folder):
        """Before 1.0 one manifest is enough for a file: one that the signature does not cover, in a bag that lists as little as may be."""
        (folder / "bagit.txt").write_text("BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n")
        (folder / "bag-info.txt").unlink()
        sums = hashlib.sha256((folder / "manifest-sha256.txt").read_bytes()).hexdigest()
        (folder / "tagmanifest-sha256.txt").write_text(f"{sums}  manifest-sha256.txt\n")
        resign(folder)
        state("and nothing slipped in", folder, ring, "good", 0)
        (folder / "data/new.jpg").write_bytes(b"new")
        (folder / "manifest-md5.txt").write_text(f"{hashlib.md5(b'new').hexdigest()}  data/new.jpg\n")
    if shutil.which("openssl"):
        state("a file slipped in that the signature does not cover", altered(slip_in), ring, "bad", 1)
    else:
        tap.skip("a file slipped in that the signature does not cover", "there is no openssl")
    state("payload changed alone", altered(lambda f: (f / "data/empty").write_bytes(b"!")), ring,
          "good", 1, valid=False)


# ---- memory ----------------------------------------------------------------------------------------------------------

def memory(tap, program, scratch):
    """A payload of 256 MiB, mostly a hole, and a zip of 128 MiB: verified in under 64 MiB."""
    size, zeros = 256 << 20, hashlib.sha256()
    for _ in range(size >> 20):
        zeros.update(bytes(1 << 20))
    files = bag({})
    files["manifest-sha256.txt"] = f"{zeros.hexdigest()}  data/big\n".encode()
    files["tagmanifest-sha256.txt"] = manifest(files, "sha256", ["bagit.txt", "manifest-sha256.txt"])
    write(scratch / "hole", files)
    with open(scratch / "hole/data/big", "wb") as f:
        f.truncate(size)
    done = run(program, "verify", scratch / "hole", "--json")
    tap.ok(done.code == 0 and done.json.get("bytes") == size and done.peak_kib < PEAK_KIB,
           f"256 MiB verified in a folder in under 64 MiB (peak {done.peak_kib // 1024} MiB)", done)
    with zipfile.ZipFile(scratch / "big.zip", "w") as z:
        body = bytes(128 << 20)
        for name, content in bag({"big": body}).items():
            z.writestr(f"job/{name}", content)
    del body, content
    done = run(program, "verify", scratch / "big.zip", "--json")
    tap.ok(done.code == 0 and done.json.get("bytes") == 128 << 20 and done.peak_kib < PEAK_KIB,
           f"128 MiB verified in a zip in under 64 MiB (peak {done.peak_kib // 1024} MiB)", done)


def main():
    program, tap = pathlib.Path(sys.argv[1]).resolve(), Tap()
    with Scratch() as scratch:
        job, body = packed(tap, program, scratch)
        sha256sum(tap, scratch, program)
        same_bytes(tap, program, scratch, job, body)
        keys(tap, program, scratch)
        signatures(tap, program, scratch)
        memory(tap, program, scratch)
    with Scratch() as scratch:
        refusals(tap, program, scratch)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
