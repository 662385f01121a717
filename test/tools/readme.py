#!/usr/bin/env python3
"""What README.md shows is what the program prints: every console block is run and compared, every `make` target and path
it names is there. TAP. usage: readme.py PROGRAM"""
import os
import pathlib
import re
import subprocess
import sys
import tempfile

TREE = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(TREE / 'test' / 'cli'))
from examples import run_example, work_folder  # noqa: E402
from run import Tap  # noqa: E402


def main():
    tap = Tap()
    text = (TREE / 'README.md').read_text(encoding='utf-8')
    blocks = re.findall(r'^```console\n(.*?)^```$', text, re.M | re.S)
    tap.ok(bool(blocks), 'README.md shows what the program prints')
    with tempfile.TemporaryDirectory(prefix='mendwright-readme-') as folder:
        (pathlib.Path(folder) / 'mendwright').symlink_to(pathlib.Path(sys.argv[1]).resolve())
        env = {**os.environ, 'PATH': f"{folder}:{os.environ['PATH']}", 'LC_ALL': 'C', 'TERM': 'dumb', 'COLUMNS': '80'}
        work = work_folder(folder)
        for block in blocks:
            run_example(tap, env, work, {'name': 'README.md', 'example': block})
    drawn = subprocess.run([TREE / 'tools' / 'picture', pathlib.Path(sys.argv[1]).resolve()], capture_output=True, text=True, check=False)
    tap.ok(drawn.stdout == (TREE / 'doc' / 'picture.svg').read_text(encoding='utf-8'),
           'doc/picture.svg is what tools/picture draws now (mend: tools/picture build/mendwright > doc/picture.svg)')
    makefile = (TREE / 'Makefile').read_text(encoding='utf-8')
    for target in sorted(set(re.findall(r'(?:^|`)make ([a-z-]+)', text, re.M))):
        tap.ok(re.search(rf'^{target}:', makefile, re.M) is not None, f'make {target} is a target')
    for path in sorted(set(re.findall(r'\]\(([^)#]+)\)', text)) | set(re.findall(r'`((?:src|test|doc|tools|examples)/[\w./-]*)`', text))):
        tap.ok((TREE / path).exists(), f'{path} is there')
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
