#!/usr/bin/env python3
"""tools/embed: what it writes, compiled and read back, is what went in. Prints TAP.

usage: embed.py TOOLS/EMBED
"""
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT / 'test' / 'cli'))
from run import Tap  # noqa: E402

PRINT = r'''
#include "base/embedded.h"
#include <stdio.h>
extern const struct embedded pages[];
int main(void)
{
    for (const struct embedded *p = pages; p->path != 0; p++) {
        printf("%s %zu %d\n", p->path, p->size, p->bytes[p->size]);
        fwrite(p->bytes, 1, p->size, stdout);
    }
    return 0;
}
'''


def main(argv):
    tap, tool = Tap(), pathlib.Path(argv[0]).resolve()
    files = {'b/all.bin': bytes(range(256)) * 3, 'a.html': '<p>größer</p>\n'.encode(), 'empty': b''}
    with tempfile.TemporaryDirectory(prefix='mendwright-embed-') as scratch:
        top = pathlib.Path(scratch)
        for name, data in files.items():
            (top / 'in' / name).parent.mkdir(parents=True, exist_ok=True)
            (top / 'in' / name).write_bytes(data)
        done = subprocess.run([sys.executable, tool, 'pages.c', 'pages', str(top / 'in'),
                               *(os.path.join('in', name) for name in files)], cwd=top, capture_output=True, text=True)
        tap.ok(done.returncode == 0, 'several files are embedded', done.stderr)
        (top / 'print.c').write_text(PRINT)
        built = subprocess.run(['cc', '-I', ROOT / 'src', 'pages.c', 'print.c', '-o', 'print'], cwd=top, capture_output=True, text=True)
        tap.ok(built.returncode == 0, 'the table compiles', built.stderr)
        out = subprocess.run([top / 'print'], capture_output=True).stdout if built.returncode == 0 else b''
        expected = b''.join(f'{name} {len(data)} 0\n'.encode() + data for name, data in sorted(files.items()))
        tap.ok(out == expected, 'path, size and bytes come back, by path, each with a NUL behind it', out[:200])
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
