#!/usr/bin/env python3
"""Follows doc/first-campaign.md: runs every command of its console blocks, in order, in one folder with a copy of examples/, and holds what is printed
against the lines below each. A line "..." stands for any number of lines; "..." within a line for any text.

usage: first_campaign.py PROGRAM ROOT
"""
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402


def blocks(text):
    """(command, lines that it prints) of every console block."""
    for block in re.findall(r'```console\n(.*?)```', text, re.S):
        for part in re.split(r'^\$ ', block, flags=re.M)[1:]:
            command, *lines = part.rstrip('\n').split('\n')
            yield command, lines


def pattern(lines):
    return ''.join(r'(?:.*\n)*' if line.strip() == '...' else '.*'.join(re.escape(x.rstrip() if i == line.count('...') else x) for i, x in enumerate(line.split('...'))) + r' *\n' for line in lines)


def main(argv):
    program, root = pathlib.Path(argv[1]).resolve(), pathlib.Path(argv[2])
    n = 0
    with tempfile.TemporaryDirectory(prefix='mendwright-first-') as folder:
        (pathlib.Path(folder) / 'bin').mkdir()
        (pathlib.Path(folder) / 'bin/mendwright').symlink_to(program)
        shutil.copytree(root / 'examples', pathlib.Path(folder) / 'examples')
        environment = {**os.environ, 'PATH': f'{folder}/bin:{os.environ["PATH"]}', 'COLUMNS': '100', 'LC_ALL': 'C.UTF-8'}
        for command, lines in blocks((root / 'doc/first-campaign.md').read_text()):
            done = subprocess.run(['sh', '-c', command], cwd=folder, env=environment, capture_output=True, text=True, check=False)
            is_good = done.returncode == 0 and re.fullmatch(pattern(lines), done.stdout) is not None
            tap.ok(is_good, command, f'exit {done.returncode}', done.stdout + done.stderr)
            n += 1
    tap.ok(n > 12, f'{n} commands were run')
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
