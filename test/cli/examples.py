#!/usr/bin/env python3
"""Runs the examples of every help page and compares what they print: a manual that is wrong fails here. Prints TAP.

usage: examples.py PROGRAM

An example is lines as people see them: a call begins with `$ `, or with `mendwright ` on the first line, and goes on
after a closing backslash; the lines up to the next call are what it prints, moved left by the call's indent. `...` alone
stands for lines left out, within a line for the rest that is left out. Calls run by the shell in the project's folder,
with PROGRAM first in the path as `mendwright`.
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from run import ROOT, Tap, lines_match  # noqa: E402


def split_calls(example):
    """[(call, [line printed])]"""
    calls, indent = [], ""
    for line in example.rstrip("\n").splitlines():
        text = line.strip()
        if calls and calls[-1][0].endswith("\\"):
            calls[-1] = (calls[-1][0][:-1] + text, calls[-1][1])
        elif text.startswith("$ ") or (text.startswith("mendwright ") and not calls):
            indent = line[:len(line) - len(line.lstrip())]
            calls.append((text.removeprefix("$ "), []))
        elif calls:
            calls[-1][1].append(line.removeprefix(indent) if text else "")
    for _, lines in calls:
        while lines and not lines[-1]:
            lines.pop()
    return calls


def as_pattern(line):
    if line.strip() == "...":
        return "..."
    if "..." in line:
        return "~ " + ".*".join(re.escape(piece) for piece in line.split("..."))
    return f"| {line}"


def work_folder(folder):
    """A folder that has the tree's examples; what an example writes is not to land in the tree."""
    work = pathlib.Path(folder) / "work"
    work.mkdir()
    (work / "examples").symlink_to(ROOT / "examples")
    return work


def run_example(tap, env, folder, verb):
    calls = split_calls(verb["example"] or "")
    tap.ok(bool(calls), f"{verb['name']}: its help page has an example")
    for call, expected in calls:
        done = subprocess.run(["/bin/sh", "-c", call], cwd=folder, env=env, capture_output=True, timeout=120)
        printed = done.stdout.decode("utf-8", "replace").splitlines()
        patterns = [as_pattern(line) for line in expected]
        while printed and not printed[-1]:
            printed.pop()
        tap.ok(bool(expected) and lines_match(patterns, printed) and not done.stderr, f"{verb['name']}: {call}",
               "the page says", *patterns, "printed", *[f"| {line}" for line in printed],
               done.stderr.decode("utf-8", "replace"))


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    tap = Tap()
    with tempfile.TemporaryDirectory(prefix="mendwright-examples-") as folder:
        work = work_folder(folder)
        (pathlib.Path(folder) / "mendwright").symlink_to(program)
        env = {**os.environ, "PATH": f"{folder}:{os.environ['PATH']}", "LC_ALL": "C", "TERM": "dumb", "COLUMNS": "80"}
        pages = json.loads(subprocess.run([program, "help", "--json"], capture_output=True, check=True).stdout)
        tap.ok(bool(pages["verbs"]), "there are verbs")
        for verb in pages["verbs"]:
            run_example(tap, env, work, verb)
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
