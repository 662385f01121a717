#!/usr/bin/env python3
"""The list of what the program is made of: it has what SPDX 2.3 asks for, and is the same when it is made again. TAP.

usage: sbom.py PROGRAM
"""
import pathlib
import subprocess
import sys
import tempfile

TOOL = pathlib.Path(__file__).resolve().parents[2] / 'tools/sbom'


def main(argv):
    texts = [subprocess.run([TOOL, argv[1]], capture_output=True, text=True, check=True).stdout for _ in range(2)]
    with tempfile.NamedTemporaryFile('w', suffix='.json') as f:
        f.write(texts[0])
        f.flush()
        lines = subprocess.run([TOOL, '--check', f.name], capture_output=True, text=True, check=False).stdout.splitlines()
        # One that names a package twice, and one that leaves a version out, must not pass.
        rows = [line for line in lines if not line.startswith('1..')]
        for old, new in (('"SPDXRef-Debian-libc6"', '"SPDXRef-mendwright"'), ('"SPDX-2.3"', '"SPDX-2.2"')):
            with tempfile.NamedTemporaryFile('w', suffix='.json') as g:
                g.write(texts[0].replace(old, new))
                g.flush()
                code = subprocess.run([TOOL, '--check', g.name], capture_output=True, text=True, check=False).returncode
            rows.append(f'{"" if code == 1 else "not "}ok {len(rows) + 1} - {new} in place of {old}: is refused')
    rows.append(f'{"" if texts[0] == texts[1] else "not "}ok {len(rows) + 1} - made again, the same bytes')
    print('\n'.join(rows))
    print(f'1..{len(rows)}')
    return 1 if any(r.startswith('not') for r in rows) else 0


if __name__ == '__main__':
    sys.exit(main(sys.argv))
