#!/usr/bin/env python3
"""The list of what the program is made of: it has what SPDX 2.3 asks for, and is the same when it is made again. TAP.

usage: sbom.py PROGRAM
"""
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402

TOOL = pathlib.Path(__file__).resolve().parents[2] / 'tools/sbom'


def main(argv):
    texts = [subprocess.run([TOOL, argv[1]], capture_output=True, text=True, check=True).stdout for _ in range(2)]
    with tempfile.NamedTemporaryFile('w', suffix='.json') as f:
        f.write(texts[0])
        f.flush()
        lines = subprocess.run([TOOL, '--check', f.name], capture_output=True, text=True, check=False).stdout.splitlines()
        rows = [re.fullmatch(r'(not )?ok \d+ - (.*)', line) for line in lines[:-1]]  # the last is the plan
        assert rows and all(rows) and lines[-1] == f'1..{len(rows)}', lines
        for row in rows:
            tap.ok(not row[1], row[2])
        # One that names a package twice, and one that leaves a version out, must not pass.
        for old, new in (('"SPDXRef-Debian-libc6"', '"SPDXRef-mendwright"'), ('"SPDX-2.3"', '"SPDX-2.2"')):
            with tempfile.NamedTemporaryFile('w', suffix='.json') as g:
                g.write(texts[0].replace(old, new))
                g.flush()
                code = subprocess.run([TOOL, '--check', g.name], capture_output=True, text=True, check=False).returncode
            tap.ok(code == 1, f'{new} in place of {old}: is refused', f'exit {code}')
    tap.ok(texts[0] == texts[1], 'made again, the same bytes')
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
