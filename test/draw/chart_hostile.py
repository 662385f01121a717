"""Charts of `study KIND --plot` at their edges: every kind as SVG, PNG and PDF, with words that stay on the page and off one another; data of
one point, all alike, a million rows; names that are long, in other scripts, or none; sizes from tiny to large; files that cannot be
written. Looked at by poppler and Python; seeded, invented data.

usage: chart_hostile.py MENDWRIGHT
"""
import pathlib
import random
import re
import struct
import subprocess
import sys
import tempfile
import zlib

import chartkit

PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
tap = chartkit.Tap()
ok = tap.ok
R = random.Random(7)
LONG = 'Very long name of a shop that nobody would give it but somebody will all the same, and then some more of it'
NAMES = ['Alder Ridge', LONG, 'حافلات الشمال المتنقلة', 'מוסך הצפון', 'Donaudampfschifffahrtsgesellschaftskapitänswerkstatt' * 2, '東京整備工場', '<b>&amp;"\'', 'e\u0301\u0302\u0303' * 20]


def study(folder, *words, plot='p.svg', stdin=None):
    return subprocess.run([PROGRAM, 'study', *map(str, words), '--plot', plot], capture_output=True, text=True, cwd=folder, input=stdin)


def csv(folder, name, head, rows):
    def field(v):
        v = str(v)
        return '"' + v.replace('"', '""') + '"' if set(v) & set(',"\n') else v
    (folder / name).write_text('\n'.join([','.join(head)] + [','.join(map(field, r)) for r in rows]) + '\n')


def make(folder, names, n):
    """Data for every kind, with these names; returns {kind: call}."""
    k = len(names)
    csv(folder, 'life.csv', ['g', 'days', 'failed'], [(names[i % k], R.randint(1, 400), R.randint(0, 1)) for i in range(n)])
    csv(folder, 'days.csv', ['day', 'built', 'failed'], [(i, 9, int(R.random() < .1) + 4 * (20 < i < 30)) for i in range(60)])
    csv(folder, 'come.csv', ['days', 'come'], [(R.randint(1, 200), int(R.random() < .5)) for _ in range(n)])
    csv(folder, 'held.csv', ['fixed', 'failed', 'days'], [(i % 2, int(R.random() < .2), R.randint(50, 90)) for i in range(n)])
    csv(folder, 'jobs.csv', ['shop', 'n', 'min'], [(names[i % k], 1 + i // k, 60 + R.randint(0, 60)) for i in range(n)])
    csv(folder, 'gauge.csv', ['part', 'who', 'mm'], [(p, w, round(50 + p + R.gauss(0, .2), 1)) for p in range(6) for w in names for _ in range(3)])
    csv(folder, 'cap.csv', ['point', 'shop', 'mm'], [('p', names[i % k], round(R.gauss(58, 1), 1)) for i in range(n)])
    csv(folder, 'digits.csv', ['shop', 'mm'], [(names[i % k], round(R.gauss(58, 2), 1)) for i in range(n)])
    csv(folder, 'needs.csv', ['need', 'n'], [(R.randint(300, 1500), R.randint(1, 9)) for _ in range(40)])
    csv(folder, 'kits.csv', ['kit', 'n'], [(s, 10 + i) for i, s in enumerate(names)])
    return {
        'life': ('life', 'life.csv', '--time', 'days', '--event', 'failed', '--group', 'g'),
        'window': ('window', 'days.csv', '--day', 'day', '--built', 'built', '--failed', 'failed', '--draws', '99'),
        'completion': ('completion', 'come.csv', '--time', 'days', '--event', 'come'),
        'held': ('held', 'held.csv', '--repaired', 'fixed', '--failed', 'failed', '--time', 'days'),
        'labour': ('labour', 'jobs.csv', '--minutes', 'min', '--order', 'n', '--by', 'shop', '--paid', '80'),
        'gauge': ('gauge', 'gauge.csv', '--part', 'part', '--operator', 'who', '--value', 'mm', '--unit', 'mm'),
        'capability': ('capability', 'cap.csv', '--value', 'mm', '--low', '56', '--high', '61', '--point', 'point', '--by', 'shop', '--least', '1'),
        'audit': ('audit', '--lot', '280', '--aql', '1', '--lq', '10'),
        'digits': ('digits', 'digits.csv', '--value', 'mm', '--by', 'shop', '--step', '0.1'),
        'stock': ('stock', 'needs.csv', '--length', 'need', '--count', 'n', '--k', '4'),
        'kits': ('stock', 'kits.csv', '--kit', 'kit', '--count', 'n', '--units', '300'),
    }


def png_size(path):
    """The sides in the header, after every chunk's check sum is found right and the pixels unpack (RFC 2083)."""
    data = path.read_bytes()
    if data[:8] != b'\x89PNG\r\n\x1a\n':
        return None
    at, pixels, size = 8, b'', None
    while at < len(data):
        n, kind = struct.unpack('>I4s', data[at:at + 8])
        body = data[at + 8:at + 8 + n]
        if zlib.crc32(kind + body) != struct.unpack('>I', data[at + 8 + n:at + 12 + n])[0]:
            return None
        size = struct.unpack('>II', body[:8]) if kind == b'IHDR' else size
        pixels += body if kind == b'IDAT' else b''
        at += 12 + n
    return size if len(zlib.decompress(pixels)) >= size[0] * size[1] * 3 else None


def tidy(what, folder, call, size=None):
    """Words on the page, and none over another."""
    more = ('--plot-size', size) if size else ()
    done = study(folder, *call, *more, plot='p.pdf')
    if not ok(done.returncode in (0, 1, 4) and (folder / 'p.pdf').exists(), f'{what}: drawn (exit {done.returncode}) {done.stderr.strip()}'):
        return
    words, page = chartkit.words_of(folder / 'p.pdf')
    over, off = chartkit.overlaps(words), chartkit.outside(words, page)
    ok(not over, f'{what}: no words over one another {over[:4]}')
    ok(not off, f'{what}: no words off the page {off[:4]}')
    (folder / 'p.pdf').unlink()


def formats(folder):
    for kind, call in make(folder, NAMES[:1] + ['Bay Mobile', 'Cole Yard'], 120).items():
        tidy(kind, folder, call)
        for size in ('300x260', '1400x900'):
            tidy(f'{kind} at {size}', folder, call, size)
        done = study(folder, *call, '--plot-size', '500x400', plot='p.png')
        ok(png_size(folder / 'p.png') == (1000, 800) and 'p.png, 500 x 400 points' in done.stdout, f'{kind}: the PNG has two pixels a point, and opens')
        study(folder, *call, '--plot-date', '2026-03-05', plot='p.pdf')
        fonts = subprocess.run(['pdffonts', folder / 'p.pdf'], capture_output=True, text=True).stdout.splitlines()[2:]
        ok(fonts and all(re.search(r'\s(yes|no)\s+(yes|no)\s+(yes|no)\s+\d', f).group(1) == 'yes' for f in fonts), f'{kind}: the PDF carries its {len(fonts)} fonts')
        for name in ('p.pdf', 'p.svg', 'p.png'):
            study(folder, *call, '--plot-date', '2026-03-05', plot=name)
            first = (folder / name).read_bytes()
            study(folder, *call, '--plot-date', '2026-03-05', '--json', plot=name)
            ok(first == (folder / name).read_bytes(), f'{kind}: {name} is the same to the byte when drawn again, with --json too')
        words, _ = chartkit.words_of(folder / 'p.pdf')
        text = ' '.join(w.text for w in words)
        ok('Assumed:' in text and 'Source:' in text and '2026-03-05' in text and re.search(r'mendwright \d', text), f'{kind}: assumptions, source, date and version stand below')


def names(folder):
    for kind, call in make(folder, NAMES, 240).items():
        tidy(f'{kind}, long and foreign names', folder, call)
        tidy(f'{kind}, the same at 360x300', folder, call, '360x300')
    many = [f'shop number {i}' for i in range(60)]
    for kind, call in make(folder, many, 1200).items():
        tidy(f'{kind}, sixty names', folder, call)


def edges(folder):
    for size in ('100x100', '110x4000', '4000x100', '4000x4000'):
        for kind, call in make(folder, ['A', 'B'], 60).items():
            tidy(f'{kind} at {size}', folder, call, size)
    csv(folder, 'one.csv', ['days', 'failed'], [(5, 1)])
    tidy('life, one unit', folder, ('life', 'one.csv', '--time', 'days', '--event', 'failed'))
    csv(folder, 'zero.csv', ['days', 'failed'], [(0, 1), (0, 0)])
    tidy('life, all at time 0', folder, ('life', 'zero.csv', '--time', 'days', '--event', 'failed'))
    csv(folder, 'alike.csv', ['days', 'failed'], [(7, 1)] * 9)
    tidy('life, all alike', folder, ('life', 'alike.csv', '--time', 'days', '--event', 'failed'))
    csv(folder, 'whole.csv', ['days', 'failed'], [(7 + i, 0) for i in range(9)])
    tidy('life, nothing failed', folder, ('life', 'whole.csv', '--time', 'days', '--event', 'failed'))
    csv(folder, 'unit.csv', ['unit', 'days', 'failed'], [(i % 4, 10 * (i // 4 + 1), int(i < 12)) for i in range(16)])
    tidy('life, repeats', folder, ('life', 'unit.csv', '--time', 'days', '--event', 'failed', '--unit', 'unit'))
    csv(folder, 'two.csv', ['day', 'built', 'failed'], [(1, 5, 5), (2, 5, 0)])
    tidy('window, two days', folder, ('window', 'two.csv', '--day', 'day', '--built', 'built', '--failed', 'failed', '--draws', '99'))
    csv(folder, 'far.csv', ['day', 'built', 'failed'], [(-900000000000, 5, 5), (900000000000, 5, 0)])
    tidy('window, days far apart', folder, ('window', 'far.csv', '--day', 'day', '--built', 'built', '--failed', 'failed', '--draws', '99'))
    csv(folder, 'h.csv', ['fixed', 'failed', 'days'], [(1, 4, 10), (0, 0, 10)])
    tidy('held, no failure among the others', folder, ('held', 'h.csv', '--repaired', 'fixed', '--failed', 'failed', '--time', 'days'))
    csv(folder, 'c.csv', ['mm'], [(58,)] * 6 + [(58.1,)])
    tidy('capability, one group', folder, ('capability', 'c.csv', '--value', 'mm', '--low', '56'))
    csv(folder, 'n.csv', ['need'], [(1000,)])
    tidy('stock, one length', folder, ('stock', 'n.csv', '--length', 'need', '--k', '1'))
    csv(folder, 'k.csv', ['kit'], [('only',)] * 3)
    tidy('kits, one sort', folder, ('stock', 'k.csv', '--kit', 'kit', '--units', '5'))
    csv(folder, 'd.csv', ['shop', 'mm'], [('A', f'{i % 9}.{i % 1000:03d}') for i in range(999)])
    tidy('digits, a thousand steps', folder, ('digits', 'd.csv', '--value', 'mm', '--by', 'shop', '--step', '0.001'))


def million(folder):
    n = 1_000_000
    with open(folder / 'big.csv', 'w') as f:
        f.write('g,days,failed,mm,shop\n')
        f.writelines(f'{i % 2},{1 + (i * 7919) % 100003},{int(i % 3 == 0)},{50 + (i * 31) % 160 / 10},S{i % 5}\n' for i in range(n))
    calls = {'life': ('life', 'big.csv', '--time', 'days', '--event', 'failed', '--group', 'g'),
             'capability': ('capability', 'big.csv', '--value', 'mm', '--low', '50', '--high', '66', '--by', 'shop'),
             'labour': ('labour', 'big.csv', '--minutes', 'days', '--order', 'mm', '--by', 'shop'),
             'digits': ('digits', 'big.csv', '--value', 'mm', '--by', 'shop', '--step', '0.1')}
    for kind, call in calls.items():
        done = study(folder, *call)
        size = (folder / 'p.svg').stat().st_size
        ok(done.returncode in (0, 1) and size < 3_000_000, f'{kind}, a million rows: {size} bytes of SVG')
        tidy(f'{kind}, a million rows', folder, call)


def refusals(folder):
    call = make(folder, ['A', 'B'], 60)['held']
    for plot, why in (('p.gif', 'ends in .svg, .png or .pdf'), ('-', 'ends in .svg, .png or .pdf'), ('p', 'ends in'), ('', 'ends in'), ('.svg/x', 'ends in')):
        done = study(folder, *call, plot=plot)
        ok(done.returncode == 2 and why in done.stderr and not done.stdout, f'--plot {plot!r}: refused: {done.stderr.strip()}')
    for more, why in ((('--plot-size', '0x400'), '--plot-size'), (('--plot-size', '400'), '--plot-size'), (('--plot-size', '400x4001'), '--plot-size'),
                      (('--plot-size', 'nanx400'), '--plot-size'), (('--plot-size', '1e3x400x'), '--plot-size'), (('--plot-date', '2026-02-30'), '--plot-date')):
        done = study(folder, *call, *more)
        ok(done.returncode == 2 and why in done.stderr, f'{more}: refused: {done.stderr.strip()}')
    done = subprocess.run([PROGRAM, 'study', *call, '--plot-date', '2026-03-05'], capture_output=True, text=True, cwd=folder)
    ok(done.returncode == 2 and 'without --plot' in done.stderr, '--plot-date without --plot: refused')
    done = study(folder, *call, plot='no/such/p.svg')
    ok(done.returncode == 3 and 'no/such/p.svg' in done.stderr and not done.stdout, f'a folder that is not there: exit 3: {done.stderr.strip()}')
    (folder / 'p.svg').mkdir(exist_ok=True) if not (folder / 'p.svg').exists() else None
    (folder / 'dir.svg').mkdir()
    done = study(folder, *call, plot='dir.svg')
    ok(done.returncode == 3 and not [f for f in folder.iterdir() if 'dir.svg' in f.name and f.name != 'dir.svg'], 'a folder in its place: exit 3, and nothing is left beside it')
    # A study that cannot answer draws nothing, and leaves what was there.
    csv(folder, 'few.csv', ['min'], [(5,)])
    (folder / 'old.svg').write_text('old')
    done = study(folder, 'labour', 'few.csv', '--minutes', 'min', plot='old.svg')
    ok(done.returncode == 4 and 'Nothing is drawn' in done.stdout and (folder / 'old.svg').read_text() == 'old', 'the data cannot answer: exit 4, nothing drawn, the old file stays')
    done = study(folder, 'labour', 'none.csv', '--minutes', 'min', plot='old.svg')
    ok(done.returncode == 2 and (folder / 'old.svg').read_text() == 'old', 'no such data: exit 2, the old file stays')
    done = study(folder, *call, plot='UPPER.SVG')
    ok(done.returncode in (0, 1, 4) and (folder / 'UPPER.SVG').read_bytes().startswith(b'<?xml'), 'an ending in capitals is one, too')


for part in (formats, names, edges, million, refusals):
    with tempfile.TemporaryDirectory() as name_:
        part(pathlib.Path(name_))
sys.exit(tap.done())
