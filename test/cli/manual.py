#!/usr/bin/env python3
"""Makes the manual page and reads it as a person would: groff finds nothing to warn of, and every verb, option and
exit code of the program is on the page. Prints TAP.

usage: manual.py PROGRAM
"""
import json
import pathlib
import re
import shutil
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from run import ROOT, Tap  # noqa: E402


def squeeze(text):
    return re.sub(r"\s+", " ", text)


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    tap = Tap()
    made = subprocess.run([ROOT / "tools/manpage", program], capture_output=True)
    tap.ok(made.returncode == 0 and made.stdout.startswith(b".TH MENDWRIGHT 1"), "the page is made",
           made.stderr.decode())
    if not shutil.which("groff"):
        tap.skip("the page as groff sets it", "no groff here")
        return tap.done()
    # One wide line a paragraph, without bold, hyphens or filling: words can then be looked for.
    wide = b".ll 2000n\n.nh\n.na\n"
    head, _, body = made.stdout.partition(b"\n")
    done = subprocess.run(["groff", "-K", "utf8", "-man", "-ww", "-Tutf8", "-P-cbou", "-rLL=2000n"],
                          input=head + b"\n" + wide + body, capture_output=True)
    tap.ok(done.returncode == 0 and not done.stderr, "groff sets it without a warning", done.stderr.decode())
    text = squeeze(done.stdout.decode("utf-8"))
    pages = json.loads(subprocess.run([program, "help", "--json"], capture_output=True, check=True).stdout)
    for verb in pages["verbs"]:
        tap.ok(squeeze(f"mendwright {verb['call']}") in text, f"{verb['name']}: its call is on the page")
        missing = [o["name"] for o in verb["options"]
                   if squeeze(" ".join(filter(None, (o["name"], o["value"], o["help"])))) not in text]
        tap.ok(not missing, f"{verb['name']}: so are its {len(verb['options'])} options", *missing)
        lost = [line for line in (verb["example"] or "").splitlines() if squeeze(line).strip() not in text]
        tap.ok(not lost, f"{verb['name']}: and its example, line by line", *lost)
    for code in pages["exit"]:
        tap.ok(f"{code['code']} {code['meaning']}" in text, f"exit code {code['code']} is on the page")
    return tap.done()


if __name__ == "__main__":
    sys.exit(main())
