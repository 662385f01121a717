#!/usr/bin/env python3
"""Runs tools/campaign on a few units and looks at what a visitor would see. Prints TAP.

usage: shown.py PROGRAM
"""
import os
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import ROOT, Tap  # noqa: E402


def shown(program, folder):
    done = subprocess.run([ROOT / 'tools' / 'campaign', program, '30', folder], env={**os.environ, 'LC_ALL': 'C.UTF-8'},
                          capture_output=True, text=True, timeout=800)
    return done.returncode, done.stdout, done.stderr


def main(argv):
    tap, program = Tap(), pathlib.Path(argv[0]).resolve()
    with tempfile.TemporaryDirectory(prefix='mendwright-shown-') as scratch:
        kept = pathlib.Path(scratch, 'kept')
        kept.write_text('not ours\n')
        code, out, err = shown(program, scratch)
        tap.ok(code == 0 and not err, 'the campaign ends with 0 and complains of nothing', f'exit {code}', err, out[-2000:])
        tap.ok(re.findall(r'^(\d+)\. ', out, re.M) == ['9', '10', '11', '12', '13', '14', '15', '16'], 'chapters 9 to 16 in order')
        tap.ok(len(re.findall(r'^ {4}\w+ 2024-\d\d-\d\d to 2024-\d\d-\d\d$', out.split('Planted (truth.json):')[1], re.M)) == 5,
               'the windows that were planted stand beside the answer', out[-2000:])
        tap.ok('invented' in out.split('$', 1)[0], 'what is shown is called invented before the first command')
        tap.ok(max(map(len, out.splitlines())) <= 80, 'no line is longer than 80 columns', *[x for x in out.splitlines() if len(x) > 80])
        tap.ok('[=] Everything that must be found was found' in out and '[=] The store is whole.' in out,
               'all is found, and the store is whole', out)
        tap.ok('[=] Nothing is to be paid.' in out, 'nothing is paid twice', out)
        tap.ok(kept.read_text() == 'not ours\n', 'only what the script makes is removed from the folder')
        wrong = pathlib.Path(scratch, 'mendwright')
        wrong.write_text(f'#!/bin/sh\n"{program}" "$@" || exit\n[ "$2" != score ] || exit 1\n')
        wrong.chmod(0o755)
        code, _, err = shown(wrong, scratch)
        tap.ok(code == 1 and 'found exit 1; expected 0' in err, 'a wrong exit code is not passed over', f'exit {code}', err)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
