"""chartkit: what the tests of charts share: a picture as SVG and PDF of one call, its paths and its words, and the way from a place on paper
back to a number by the axis' own figures, as a reader would go."""
import pathlib
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402, F401

SVG = '{http://www.w3.org/2000/svg}'
INK, GREY, BAND, ACT, STOP = '22262a', '5d5a50', 'd9d2c0', '0f5b5e', 'b4521c'


def colour_of(style, what):
    found = re.search(what + r':rgb\(([\d.]+)%,\s*([\d.]+)%,\s*([\d.]+)%\)', style or '')
    return ''.join(f'{round(float(v) * 2.55):02x}' for v in found.groups()) if found else None


class Path:
    """One path: its corners (curves by their ends), fill and stroke as 'rrggbb' or None."""

    def __init__(self, e):
        style, d = e.get('style') or '', e.get('d') or ''
        matrix = [float(v) for v in re.findall(r'-?[\d.]+', e.get('transform') or '')] or [1, 0, 0, 1, 0, 0]
        self.fill, self.stroke = colour_of(style, 'fill'), colour_of(style, 'stroke')
        found = re.search(r'stroke-width:([\d.]+)', style)
        self.thick = float(found.group(1)) if found else 0
        self.is_curved = 'C' in d
        self.points = []
        for letter, numbers in re.findall(r'([MLC])([^MLCZ]*)', d):
            v = [float(x) for x in re.findall(r'-?\d+(?:\.\d+)?', numbers)]
            if len(v) >= 2:
                x, y = v[-2], v[-1]
                self.points.append((matrix[0] * x + matrix[2] * y + matrix[4], matrix[1] * x + matrix[3] * y + matrix[5]))
        self.xs, self.ys = [p[0] for p in self.points], [p[1] for p in self.points]

    @property
    def middle(self):
        return (min(self.xs) + max(self.xs)) / 2, (min(self.ys) + max(self.ys)) / 2


class Word:
    def __init__(self, text, x0, y0, x1, y1):
        self.text, self.x0, self.y0, self.x1, self.y1 = text, x0, y0, x1, y1

    @property
    def number(self):
        text = self.text.replace('\u2009', '').replace('\u2212', '-')
        return float(text) if re.fullmatch(r'-?\d+(\.\d+)?', text) else None


def words_of(pdf):
    """Words with their boxes in points, as poppler sees them; and the page's sides."""
    text = subprocess.run(['pdftotext', '-bbox', pdf, '-'], capture_output=True, check=True).stdout.decode()
    page = re.search(r'<page width="([\d.]+)" height="([\d.]+)"', text)
    words = [Word(re.sub(r'&(lt|gt|amp|quot);', lambda m: {'lt': '<', 'gt': '>', 'amp': '&', 'quot': '"'}[m.group(1)], t), *map(float, box))
             for *box, t in re.findall(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', text)]
    return words, (float(page.group(1)), float(page.group(2)))


class Picture:
    def __init__(self, program, folder, words, stdin=None):
        """words: the call without --plot; made as SVG and as PDF."""
        base = pathlib.Path(folder) / 'picture'
        self.svg, self.pdf = base.with_suffix('.svg'), base.with_suffix('.pdf')
        for path in (self.svg, self.pdf):
            path.unlink(missing_ok=True)
            self.done = subprocess.run([program, 'study', *map(str, words), '--plot', path], capture_output=True, text=True, cwd=folder, input=stdin)
            if not path.exists():
                raise AssertionError(f'{words}: no picture: {self.done.stderr}{self.done.stdout}')
        root = ET.parse(self.svg).getroot()
        self.title, self.how = root.find(f'{SVG}title').text, root.find(f'{SVG}desc').text
        self.paths = [Path(e) for parent in root if parent.tag != f'{SVG}defs' for e in parent.iter(f'{SVG}path')]
        self.words, self.size = words_of(self.pdf)
        self.text = ' '.join(w.text for w in self.words)

    def x_axis(self, n=0):
        """The n-th row of numbers that stand side by side, evenly, under small upright ticks: (number -> place, place -> number)."""
        return self._axis(lambda w: round(w.y0, 1), lambda w: (w.x0 + w.x1) / 2, n)

    def y_axis(self, n=0):
        """The n-th column of numbers that end at one edge, evenly below one another."""
        return self._axis(lambda w: round(w.x1, 0), lambda w: (w.y0 + w.y1) / 2, n)

    def _axis(self, line, place, n):
        lines = {}
        for w in self.words:
            if w.number is not None:
                lines.setdefault(line(w), []).append(w)
        found = []
        for key, row in sorted(lines.items()):
            row.sort(key=place)
            for run in runs(row, place):
                found.append(Axis([w.number for w in run], [place(w) for w in run]))
        return found[n]

    def dots(self, colour):
        return [p.middle for p in self.paths if p.is_curved and colour in (p.fill, p.stroke)]

    def has_corners(self, wanted, colour, slack=0.35):
        """Whether one stroked path of this colour passes through all the wanted places."""
        def near(p, q):
            return abs(p[0] - q[0]) < slack and abs(p[1] - q[1]) < slack
        return any(p.stroke == colour and all(any(near(q, w) for q in p.points) for w in wanted) for p in self.paths)


def runs(row, place):
    """Runs of numbers with one step between neighbours, in value and in place: the figures of one axis."""
    found, at = [], 0
    while at + 1 < len(row):
        end = at + 1
        step, gap = row[end].number - row[at].number, place(row[end]) - place(row[at])
        while (end + 1 < len(row) and abs(row[end + 1].number - row[end].number - step) < 1e-6 * max(1, abs(step))
               and abs(place(row[end + 1]) - place(row[end]) - gap) < 1.2):
            end += 1
        if end - at >= 2 and step != 0:
            found.append(row[at:end + 1])
            at = end + 1
        else:
            at += 1
    return found


class Axis:
    """A straight line through the figures and their places."""

    def __init__(self, values, places):
        n = len(values)
        mean_v, mean_p = sum(values) / n, sum(places) / n
        self.slope = sum((v - mean_v) * (p - mean_p) for v, p in zip(values, places)) / sum((v - mean_v) ** 2 for v in values)
        self.base = mean_p - self.slope * mean_v
        self.values = values

    def at(self, value):
        return self.base + self.slope * value

    def value(self, place):
        return (place - self.base) / self.slope


def overlaps(words):
    """Pairs of words whose letters touch: boxes shrunk to where letters are (ascent and descent leave room above and below)."""
    found = []
    boxes = [(w.x0 + 0.4, w.y0 + 0.22 * (w.y1 - w.y0), w.x1 - 0.4, w.y1 - 0.22 * (w.y1 - w.y0), w.text) for w in words]
    for i, a in enumerate(boxes):
        for b in boxes[i + 1:]:
            if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]:
                found.append((a[4], b[4]))
    return found


def outside(words, size):
    return [w.text for w in words if w.x0 < -0.5 or w.y0 < -0.5 or w.x1 > size[0] + 0.5 or w.y1 > size[1] + 0.5]
