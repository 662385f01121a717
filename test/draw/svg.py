"""Drawings of `true --svg` and `cut --svg`, looked at from outside: Python's XML parser reads them, and places are measured against the
readings, limits and lengths that went in, not against anything the program says.

usage: svg.py MENDWRIGHT EXAMPLES
"""
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

PROGRAM, EXAMPLES = sys.argv[1], pathlib.Path(sys.argv[2])
SVG = '{http://www.w3.org/2000/svg}'


def run(*words):
    return subprocess.run([PROGRAM, *map(str, words)], capture_output=True, text=True)


def paths(root):
    """Every path of the drawing itself (not of letters) as (style, [(x, y), ...])."""
    for parent in root:
        if parent.tag == f'{SVG}defs':
            continue
        for e in parent.iter(f'{SVG}path'):
            numbers = [float(v) for v in re.findall(r'-?\d+(?:\.\d+)?', e.get('d'))]
            yield e.get('style'), list(zip(numbers[::2], numbers[1::2]))


def is_of(style, hex_):
    """cairo writes colours as percents; compared to within half a level."""
    found = re.search(r'rgb\(([\d.]+)%,\s*([\d.]+)%,\s*([\d.]+)%\)', style or '')
    return bool(found) and all(abs(float(found.group(i + 1)) * 2.55 - int(hex_[2 * i:2 * i + 2], 16)) < 0.5 for i in range(3))


def check_true(folder):
    svg = folder / 'true.svg'
    readings = {}
    for line in (EXAMPLES / 'demo/gaps-first.txt').read_text().splitlines():
        if line and not line.startswith('#'):
            readings[line.split()[0]] = float(line.split()[1])
    done = run('true', EXAMPLES / 'OV-26-03.yaml', '--readings', EXAMPLES / 'demo/gaps-first.txt', '--svg', svg)
    ok(done.returncode == 1 and 'true.svg' in done.stdout, 'true --svg: drawn beside the answer, whose exit code stays')
    root = ET.parse(svg).getroot()
    title, desc = root.find(f'{SVG}title').text, root.find(f'{SVG}desc').text
    ok('Two of eight readings are outside' in title, f'true --svg: the title is the verdict: {title}')
    ok(all(f'{k} {v:g} mm' in desc for k, v in readings.items()), 'true --svg: every reading stands in the description')
    ok(len(re.findall(r'\d over', desc)) == sum(v > 61 for v in readings.values()), 'true --svg: those above 61 mm are said to be over')
    # The list below: one row a reading, the bulletin's limits 56..61 mm and nominal 58 mm. A wedge is a triangle; the upright rules of
    # one row are low, nominal, high. In the column of what was read, the wedge stands between them in proportion.
    triangles = [(s, pts) for s, pts in paths(root) if len(pts) in (3, 4) and 'fill-rule' in s and 'stroke:none' in s
                 and len(set(pts)) == 3]
    rules = [(s, pts) for s, pts in paths(root) if len(pts) == 2 and abs(pts[0][0] - pts[1][0]) < 1e-6 and 'stroke-width' in s]
    n_wedges = n_arrows = 0
    by_row = {}
    for style, pts in triangles:
        y = min(q for _, q in pts)
        if y > 480 and min(p for p, _ in pts) < 520:
            by_row[round(y)] = (style, pts)
    order = list(readings)
    for (y, (style, pts)), name in zip(sorted(by_row.items()), order):
        xs = [p for p, _ in pts]
        near = sorted({round(a[0], 3) for _, (a, b) in rules if abs((a[1] + b[1]) / 2 - (y + 9.5)) < 6 and 352 < a[0] < 540})
        value = readings[name]
        ok(is_of(style, 'b4521c') == (value > 61 or value < 56), f'true --svg: {name} {value} mm is orange only when outside')
        if len(set(xs)) < len(set(pts)):  # two corners above one another: an arrow at the frame's end
            n_arrows += 1
            tip = [v for v in xs if xs.count(v) == 1 or v == max(xs)][0]
            ok(value > 61 and max(xs) == tip and tip > near[-1] if near else value > 61, f'true --svg: {name} {value} mm is an arrow beyond the frame')
            continue
        wedge = sorted(xs)[1]
        want = near[0] + (value - 56) / 5 * (near[-1] - near[0]) if len(near) >= 2 else 0
        n_wedges += 1
        ok(abs(wedge - want) < 0.1, f'true --svg: the wedge of {name} stands where {value} lies between 56 and 61 ({wedge:.2f}, {want:.2f})')
    ok(n_wedges >= 7 and n_wedges + n_arrows == len(readings), f'true --svg: {n_wedges} wedges and {n_arrows} arrow for {len(readings)} readings')


def check_cut(folder):
    svg = folder / 'cut.svg'
    done = run('cut', EXAMPLES / 'OV-26-03.yaml', '--station', 'fore', '--with', 'relief=upper', '--rack', 'inboard=1203.5',
               '--rack', 'outboard=1000', '--svg', svg)
    ok(done.returncode == 4 and not svg.exists(), 'cut --svg: nothing is drawn while lengths disagree')
    done = run('cut', EXAMPLES / 'OV-26-03.yaml', '--station', 'fore', '--with', 'relief=upper', '--rack', 'inboard=1203.5',
               '--rack', 'outboard=1204', '--svg', svg)
    ok(done.returncode == 0 and 'cut.svg' in done.stdout, 'cut --svg: drawn beside the answer')
    root = ET.parse(svg).getroot()
    desc = root.find(f'{SVG}desc').text
    ok('mark 1203.5 mm from the upper end' in desc and 'mark 1204 mm from the upper end' in desc, 'cut --svg: the marks stand in words')
    lines = [pts[0][0] for style, pts in paths(root) if len(pts) == 2 and pts[0][0] == pts[1][0] and is_of(style, 'b4521c')]
    left, right = 28, float(root.get('viewBox').split()[2]) - 28  # the margins of the drawing: the stock's ends
    shares = [(x - left) / (right - left) for x in lines]
    wanted = [1203.5 / 1480, 1204 / 1480]  # stock 1480 mm: the bulletin
    ok(len(shares) == 2 and all(abs(a - b) < 1e-4 for a, b in zip(shares, wanted)),
       f'cut --svg: the lines stand at {[round(v, 4) for v in shares]} of the stock, wanted {[round(v, 4) for v in wanted]}')


with tempfile.TemporaryDirectory() as name_:
    folder_ = pathlib.Path(name_)
    check_true(folder_)
    check_cut(folder_)
    done_ = run('true', EXAMPLES / 'problems/ramp-hinges.json', '--svg', folder_ / 'ramp.svg', '--json')
    ok(done_.returncode in (0, 1, 4) and ET.parse(folder_ / 'ramp.svg').getroot().tag == f'{SVG}svg' and done_.stdout.startswith('{'),
       'true --svg: a problem file in inches is drawn too, JSON stays alone on standard output')
    done_ = run('true', EXAMPLES / 'OV-26-03.yaml', '--reading', 'leaks=0', '--svg', folder_ / 'none.svg')
    ok(done_.returncode == 2 and not (folder_ / 'none.svg').exists(), 'true --svg: nothing to true, nothing drawn, and said so')
    done_ = run('true', EXAMPLES / 'problems/wall-gaps.json', '--svg', folder_ / 'no' / 'such.svg')
    ok(done_.returncode == 3, 'true --svg: a folder that is not there is exit 3')
sys.exit(tap.done())
