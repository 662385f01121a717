"""bagkit: builds bags with Python's standard library alone, runs `mendwright bag`. Shared by the tests beside
it. The sums come from hashlib, the zips from zipfile: nothing of the program is used to say what it should find."""
import hashlib
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402, F401

DECLARATION = "BagIt-Version: {}\nTag-File-Character-Encoding: UTF-8\n"


def encode(path):
    """A path as a manifest writes it (RFC 8493, 2.1.3)."""
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def manifest(files, alg, names, encoder=encode):
    return "".join(f"{hashlib.new(alg, files[name]).hexdigest()}  {encoder(name)}\n" for name in sorted(names)).encode()


def bag(payload, version="1.0", algs=("sha256",), info=None, tags=None, tag_algs=None, encoder=encode):
    """A good bag: {path: bytes}. payload: paths below data/ without it; tags: more tag files."""
    files = {f"data/{name}": body for name, body in payload.items()}
    names = sorted(files)
    files["bagit.txt"] = DECLARATION.format(version).encode()
    if info is not None:
        files["bag-info.txt"] = info.encode()
    for alg in algs:
        files[f"manifest-{alg}.txt"] = manifest(files, alg, names, encoder)
    files.update(tags or {})
    listed = [name for name in files if not name.startswith("data/")]
    for alg in algs if tag_algs is None else tag_algs:
        files[f"tagmanifest-{alg}.txt"] = manifest(files, alg, listed, encoder)
    return files


def retag(files):
    """The tag manifests once more, after a change of another tag file, so that it is the only fault."""
    for name in [n for n in files if n.startswith("tagmanifest-")]:
        alg = name[len("tagmanifest-"):-len(".txt")]
        files[name] = manifest(files, alg, [n for n in files if not n.startswith(("data/", "tagmanifest-"))])
    return files


def write(folder, files):
    folder.mkdir()
    (folder / "data").mkdir()
    for name, body in files.items():
        path = os.path.join(os.fsencode(folder), name.encode() if isinstance(name, str) else name)
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as f:
            f.write(body)


class Done:
    """How a run of the program ended."""

    def __init__(self, code, out, err, seconds, peak_kib, processor_s):
        self.code, self.out, self.err, self.seconds, self.peak_kib, self.processor_s = code, out, err, seconds, peak_kib, processor_s
        try:
            self.json = json.loads(out)
        except ValueError:
            self.json = {}

    def kinds(self):
        return sorted({f["kind"] for f in self.json.get("faults", [])})

    def __str__(self):
        return f"exit {self.code}\n{self.out[:3000]}\n{self.err[:3000]}"


# A quarantine of freed memory would be counted as ours.
SMALL = {"ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "") + ":quarantine_size_mb=1:halt_on_error=1"}

# A process begins with its parent's memory counted as its peak, so a small parent starts the program: this one, which
# reads one order a line and answers with [exit, seconds, peak KiB, processor seconds]. Largest file and processor time can be bounded.
LAUNCHER = """
import json, os, resource, signal, sys, time
for line in sys.stdin:
    o = json.loads(line)
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        for at, (path, flags) in enumerate([(o["stdin"], os.O_RDONLY), (o["out"], 577), (o["err"], 577)]):
            os.dup2(os.open(path, flags, 0o600), at)
        if o["cwd"]:
            os.chdir(o["cwd"])
        if o["cpu"]:
            resource.setrlimit(resource.RLIMIT_CPU, (o["cpu"], o["cpu"]))
        if o["file"] is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (o["file"], o["file"]))
        os.execve(o["argv"][0], o["argv"], o["env"])
    _, status, usage = os.wait4(child, 0)
    print(json.dumps([os.waitstatus_to_exitcode(status), time.monotonic() - start, usage.ru_maxrss,
                      usage.ru_utime + usage.ru_stime]), flush=True)
"""
launcher = None


def run(program, *args, cwd=None, stdin="/dev/null", cpu_s=60, file_bytes=None, env=None, verb="bag"):
    """Runs `mendwright bag ARGS`, or another verb; it is killed after cpu_s of processor time, and may write files of file_bytes only."""
    global launcher
    if launcher is None:
        launcher = subprocess.Popen([sys.executable, "-S", "-E", "-c", LAUNCHER], stdin=subprocess.PIPE,
                                    stdout=subprocess.PIPE, text=True)
    with tempfile.NamedTemporaryFile() as out, tempfile.NamedTemporaryFile() as err:
        order = {"argv": [str(program), verb, *map(str, args)], "env": {**os.environ, **SMALL, "LC_ALL": "C", **(env or {})},
                 "cwd": str(cwd) if cwd else None, "stdin": str(stdin), "out": out.name, "err": err.name, "cpu": cpu_s,
                 "file": file_bytes}
        print(json.dumps(order), file=launcher.stdin, flush=True)
        code, seconds, peak_kib, processor_s = json.loads(launcher.stdout.readline())
        return Done(code, out.read().decode("utf-8", "replace"), err.read().decode("utf-8", "replace"), seconds, peak_kib, processor_s)


class Scratch:
    """An empty folder, gone at the end."""

    def __enter__(self):
        self.path = pathlib.Path(tempfile.mkdtemp(prefix="mendwright-bag-"))
        return self.path

    def __exit__(self, *_):
        shutil.rmtree(self.path, ignore_errors=True)
