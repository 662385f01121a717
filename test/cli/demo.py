#!/usr/bin/env python3
"""Runs tools/demo and looks at what a visitor would see. Prints TAP.

usage: demo.py PROGRAM
"""
import os
import pathlib
import re
import stat
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from run import ROOT, Tap  # noqa: E402


def run_demo(program, **extra):
    env = {**os.environ, "LC_ALL": "C.UTF-8", **extra}
    done = subprocess.run([ROOT / "tools/demo", program], env=env, capture_output=True, timeout=300)
    return done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8", "replace")


def check_text(tap, code, out, err):
    chapters = re.split(r"^[-─]{80}$", out, flags=re.M)
    titles = [chapter.strip().splitlines()[0] for chapter in chapters[1:]]
    numbers = [int(t.split(".")[0]) for t in titles if t[0].isdigit()]
    tap.ok(code == 0 and not err, "the demo ends with 0 and complains of nothing", f"exit {code}", err)
    tap.ok(numbers == list(range(1, 9)), "chapters 1 to 8 in order", *titles)
    tap.ok("invented" in out.split("$", 1)[0], "what is shown is called invented before the first command")
    tap.ok(max(map(len, out.splitlines())) <= 80, "no line is longer than 80 columns",
           *[line for line in out.splitlines() if len(line) > 80])
    tap.ok("\033" not in out, "no colour when the output is not a terminal")
    shown = re.findall(r"^\$ mendwright (\w+)", out, flags=re.M)
    tap.ok(shown == "check vin scope cut cut time time true true check scope cut true".split(),
           "every command of the chain is shown", *shown)
    first, second = (next(c for c in chapters if c.strip().startswith(n)) for n in ("6.", "7."))
    tap.ok("[>] Two of eight readings are outside" in first and "Plan 1," in first and "(exit 1" in first,
           "the first readings are outside, and there is a plan", first)
    tap.ok("[=] All 15 readings are inside" in second and "(exit 0" in second, "the last state is all inside", second)


def moved_readings():
    """How far the second reading of each gap is from the prediction of the plan, in mm; worked from the inputs alone."""
    def read(name):
        rows = {}
        for line in (ROOT / "examples/demo" / name).read_text().splitlines():
            m = re.match(r"((?:fore|aft)-(?:upper|lower)-(?:in|out))\s+([\d.]+)", line)
            if m:
                rows[m[1]] = float(m[2])
        return rows
    step = {"fore-upper": -0.5, "fore-lower": -0.1, "aft-upper": 0.0, "aft-lower": 0.0}  # of fore-upper-packing
    first, second = read("gaps-first.txt"), read("all-second.txt")
    return [second[i] - (first[i] + 4 * step[i.rsplit("-", 1)[0]]) for i in first]


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    tap = Tap()
    check_text(tap, *run_demo(program))
    apart = moved_readings()
    tap.ok(len(apart) == 8 and any(abs(a) > 0.01 for a in apart) and max(map(abs, apart)) < 0.5,
           "the second readings are near the prediction and not copied from it", apart)
    with tempfile.TemporaryDirectory(prefix="mendwright-demo-") as folder:
        wrong = pathlib.Path(folder) / "mendwright"
        wrong.write_text(f'#!/bin/sh\n"{program}" "$@"\n[ "$1" != time ] || exit 0\n')
        wrong.chmod(wrong.stat().st_mode | stat.S_IXUSR)
        code, _, err = run_demo(wrong)
        tap.ok(code == 1 and "found exit 0; expected 1" in err, "a wrong exit code is not passed over", f"exit {code}", err)
        code, _, err = run_demo(pathlib.Path(folder) / "none")
        tap.ok(code == 1 and "is not there" in err, "without the program it says so", err)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
