"""The tokens of doc/looks.md: the same in the source, and far enough apart to be read (WCAG 2.1, 1.4.3: 4.5 : 1; the formula of
relative luminance is theirs).

usage: looks.py ROOT
"""
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

ROOT = pathlib.Path(sys.argv[1])


def luminance(hex_):
    parts = [int(hex_[i:i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a, b):
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


told = dict(re.findall(r'^\| (\w+) \| `#([0-9a-f]{6})` \|', (ROOT / 'doc/looks.md').read_text(encoding='utf-8'), re.M))
used = {k.lower(): v for k, v in re.findall(r'PAPER_(\w+) = 0x([0-9a-f]{6})', (ROOT / 'src/draw/paper.h').read_text(encoding='utf-8'))}
ok(told == used and len(told) == 8, f'the document and src/draw/paper.h name the same colours {set(told.items()) ^ set(used.items())}')
ok(abs(contrast('000000', 'ffffff') - 21) < 1e-9, 'black on white is 21 : 1 (WCAG 2.1, definition of contrast ratio)')
for text in ('ink', 'grey', 'act', 'stop'):
    for paper in ('warm', 'card'):
        ok(contrast(told[text], told[paper]) >= 4.5, f'{text} on {paper}: {contrast(told[text], told[paper]):.2f} : 1 (at least 4.5)')
sys.exit(tap.done())
