"""Charts of `study KIND --plot`, looked at from outside: places in the SVG go back through the axis' own figures to numbers, and these are held
against what went in, or against what a book, or a few lines of Python here, make of it. Nothing is compared with what the program
says of itself. The data are invented, but for the published ones that are named.

usage: chart.py MENDWRIGHT
"""
import csv
import datetime
import io
import math
import pathlib
import random
import subprocess
import sys
import tempfile

import chartkit
from chartkit import ACT, GREY, INK, STOP, Picture

PROGRAM = str(pathlib.Path(sys.argv[1]).resolve())
ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
tap = chartkit.Tap()
ok = tap.ok
R = random.Random(20260305)


def write(folder, name, head, rows):
    out = io.StringIO()
    csv.writer(out, lineterminator='\n').writerows([head, *rows])
    (folder / name).write_text(out.getvalue())
    return name


def near(a, b, slack):
    return abs(a - b) <= slack


# ---- what is worked out here ---------------------------------------------------------------------

def poisson_bounds(n, level=0.95):
    """Exact interval of a Poisson mean by bisection on its tails (Garwood 1936)."""
    def below(k, m):
        return math.fsum(math.exp(i * math.log(m) - m - math.lgamma(i + 1)) for i in range(k + 1)) if m > 0 else 1.0

    def solve(f):
        lo, hi = 1e-9, 10.0 * n + 20
        for _ in range(200):
            mid = (lo + hi) / 2
            lo, hi = (mid, hi) if f(mid) else (lo, mid)
        return lo
    tail = (1 - level) / 2
    return (solve(lambda m: 1 - below(n - 1, m) < tail) if n else 0.0), solve(lambda m: below(n, m) > tail)


def beta_binomial_quantile(p, n, a, b):
    total = 0.0
    for k in range(n + 1):
        total += math.exp(math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1) + math.lgamma(k + a) + math.lgamma(n - k + b)
                          - math.lgamma(n + a + b) + math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b))
        if total >= p:
            return k
    return n


def quantile7(x, p):
    x = sorted(x)
    h = (len(x) - 1) * p
    i = min(int(h), len(x) - 2)
    return x[i] + (h - i) * (x[i + 1] - x[i])


# ---- kinds ---------------------------------------------------------------------------------------

def life(folder):
    # 6-mercaptopurine, weeks in remission: Freireich et al. 1963, Blood 21, 699-716; the steps 0.857 ... 0.448 as in Kalbfleisch & Prentice.
    rows = [(6, 1)] * 3 + [(6, 0), (7, 1), (9, 0), (10, 1), (10, 0), (11, 0), (13, 1), (16, 1), (17, 0), (19, 0), (20, 0), (22, 1), (23, 1),
                           (25, 0), (32, 0), (32, 0), (34, 0), (35, 0)]
    steps = [(6, .857), (7, .807), (10, .753), (13, .690), (16, .627), (22, .538), (23, .448)]
    write(folder, '6mp.csv', ['weeks', 'relapsed'], rows)
    p = Picture(PROGRAM, folder, ['life', '6mp.csv', '--time', 'weeks', '--event', 'relapsed'])
    y, x = p.y_axis(), next(a for a in (p.x_axis(i) for i in range(3)) if a.values[0] == 0 and a.values[-1] >= 35)
    corners = [(x.at(t), y.at(100 * s)) for t, s in steps]
    ok(p.has_corners(corners, ACT, 0.7), f'life: the steps pass through {steps} (Freireich et al. 1963)')
    ticks = [q for q in p.paths if q.stroke == ACT and len(q.points) == 2 and near(q.xs[0], q.xs[1], 1e-6) and near(abs(q.ys[0] - q.ys[1]), 6, 0.01)]
    places = sorted({t for t, e in rows if not e})
    ok(len(ticks) == len(places) and all(near(a.xs[0], x.at(t), 0.7) for a, t in zip(sorted(ticks, key=lambda q: q.xs[0]), places)),
       f'life: a tick at each of the {len(places)} times at which someone was last seen well')
    under = [w for w in p.words if w.number is not None and w.y0 > max(v.y0 for v in p.words if v.text == 'watch')]
    seen = {x_value: sum(1 for t, _ in rows if t >= x_value) for x_value in x.values}
    got = {round(x.value((w.x0 + w.x1) / 2)): w.number for w in under if near(x.value((w.x0 + w.x1) / 2), round(x.value((w.x0 + w.x1) / 2)), 0.3)}
    ok(all(got.get(round(k)) == v for k, v in seen.items()), f'life: under watch at {seen}')
    ok('Half of the patients' not in p.title and '23 weeks' in p.title, f'life: the title says the median, 23 weeks (same source): {p.title}')
    # Groups: the end of each curve is named at the curve.
    write(folder, 'two.csv', ['g', 'days', 'failed'], [('early', 10 + i, 1) for i in range(20)] + [('late', 60 + i, 1) for i in range(20)])
    p = Picture(PROGRAM, folder, ['life', 'two.csv', '--time', 'days', '--event', 'failed', '--group', 'g'])
    ok('early fails sooner' in p.title, f'life: the title names the group that fails sooner: {p.title}')
    ok(sum(w.text in ('early', 'late') for w in p.words if w.y0 > 60) >= 2, 'life: each curve carries its name')


def window(folder):
    day, rows = datetime.date(2024, 1, 1), []  # a Monday
    while day < datetime.date(2024, 10, 7):
        built = R.randint(6, 14)
        bad = datetime.date(2024, 5, 6) <= day <= datetime.date(2024, 6, 23)
        rows.append((day.isoformat(), built, sum(R.random() < (0.2 if bad else 0.02) for _ in range(built))))
        day += datetime.timedelta(1)
    write(folder, 'days.csv', ['day', 'built', 'failed'], rows)
    p = Picture(PROGRAM, folder, ['window', 'days.csv', '--day', 'day', '--built', 'built', '--failed', 'failed', '--draws', '999'])
    weeks = [(sum(r[2] for r in rows[i:i + 7]), sum(r[1] for r in rows[i:i + 7])) for i in range(0, len(rows), 7)]
    y = p.y_axis()
    bars = sorted((q for q in p.paths if q.fill in (ACT, GREY) and len(set(q.points)) == 4 and q.middle[0] < p.size[0] * 0.64
                   and near(max(q.ys), y.at(0), 0.4)), key=lambda q: q.xs[0])
    heights = [y.value(min(q.ys)) for q in bars]
    wanted = [100 * f / b for f, b in weeks if f]
    ok(len(heights) == len(wanted) and all(near(a, b, 0.15) for a, b in zip(heights, wanted)),
       f'window: {len(wanted)} weeks with failures are bars of the right height (greatest {max(heights):.2f}, {max(wanted):.2f} of 100)')
    inside = [q for q in bars if q.fill == ACT]
    first = min(q.xs[0] for q in bars)
    ok(5 <= len(inside) <= 9 and '2024-0' in p.title, f'window: the planted weeks are told by tone and by the title: {p.title}')
    brackets = [q for q in p.paths if q.stroke == INK and len(q.points) == 2 and near(q.ys[0], q.ys[1], 1e-6) and near(q.thick, 1.4, 0.01)]
    ok(len(brackets) == 2 and all(first <= min(q.xs) for q in brackets), 'window: two brackets, for where the run may begin and end')
    ok('units swept in needlessly' in p.text and 'bad units left out' in p.text, 'window: the price of each line stands beside')


def completion(folder):
    rows = []
    for _ in range(300):
        waited, comes = R.choice([40, 90, 150]), R.weibullvariate(60, 1.1) if R.random() < 0.7 else 1e9
        rows.append((max(1, round(min(comes, waited))), int(comes < waited)))
    write(folder, 'come.csv', ['days', 'come'], rows)
    p = Picture(PROGRAM, folder, ['completion', 'come.csv', '--time', 'days', '--event', 'come'])
    left, steps = 1.0, []
    for t in sorted({t for t, e in rows if e}):
        at_risk = sum(1 for u, _ in rows if u >= t)
        left *= 1 - sum(1 for u, e in rows if e and u == t) / at_risk
        steps.append((t, 100 * (1 - left)))
    y, x = p.y_axis(), next(a for a in (p.x_axis(i) for i in range(3)) if a.values[0] == 0 and a.values[-1] >= 100)
    ok(p.has_corners([(x.at(t), y.at(s)) for t, s in steps], ACT, 0.7), f'completion: the steps pass through all {len(steps)} shares (product limit, by hand here)')
    done = subprocess.run([PROGRAM, 'study', 'completion', 'come.csv', '--time', 'days', '--event', 'come'], capture_output=True, text=True, cwd=folder).stdout
    total = [int(line.split('(')[0].split()[-1]) for line in done.splitlines() if line.strip().startswith('ever')][0]
    dots = [d for d in p.dots(ACT) if d[0] > p.size[0] * 0.56]
    right = p.y_axis(1)
    ok(len(dots) == 1 and near(right.value(dots[0][1]), total, 1.5), f'completion: the dot of what will ever come stands at {total}, as the answer says')
    ok(f'{sum(e for _, e in rows)} of 300' in p.title, f'completion: how many have come stands in the title: {p.title}')


def held(folder):
    write(folder, 'held.csv', ['fixed', 'failed', 'days'], [(1, 3, 1200), (0, 17, 900)])
    p = Picture(PROGRAM, folder, ['held', 'held.csv', '--repaired', 'fixed', '--failed', 'failed', '--time', 'days'])
    x = p.x_axis(0)
    bars = sorted((q for q in p.paths if len(q.points) == 2 and near(q.ys[0], q.ys[1], 1e-6) and near(q.thick, 1.6, 0.01)), key=lambda q: q.ys[0])
    for (n, time), bar, name in zip(((3, 1200), (17, 900)), bars, ('repaired', 'not repaired')):
        low, high = (1000 * v / time for v in poisson_bounds(n))
        ok(near(x.value(min(bar.xs)), low, 0.03) and near(x.value(max(bar.xs)), high, 0.03),
           f'held: {name} {low:.3f} to {high:.3f} (Garwood 1936, by bisection here), drawn {x.value(min(bar.xs)):.3f} to {x.value(max(bar.xs)):.3f}')
        ok(any(near(x.value(d[0]), 1000 * n / time, 0.03) for d in p.dots(ACT) + p.dots(INK)), f'held: the dot of {name} at {1000 * n / time:.3f}')
    # The ratio's axis is logarithmic: its 0.1 and 1 are a decade apart. 0.132, 0.0249 to 0.458: R 4.2 poisson.test(c(3, 17), c(1200, 900)).
    row = {w.text: (w.x0 + w.x1) / 2 for w in p.words if w.y0 > bars[2].ys[0] and w.number is not None}
    decade = row['1'] - row['0.1']
    drawn = [10 ** ((v - row['1']) / decade) for v in (min(bars[2].xs), max(bars[2].xs))]
    ok(near(drawn[0], 0.0249, 0.0003) and near(drawn[1], 0.458, 0.003), f'held: the ratio from {drawn[0]:.4f} to {drawn[1]:.3f} (R: 0.0249 to 0.458)')
    ok(p.title.startswith('The fix holds'), f'held: the title says so: {p.title}')
    write(folder, 'none.csv', ['fixed', 'failed', 'days'], [(1, 0, 1200), (0, 17, 900)])
    p = Picture(PROGRAM, folder, ['held', 'none.csv', '--repaired', 'fixed', '--failed', 'failed', '--time', 'days'])
    arrows = [q for q in p.paths if q.fill == ACT and len(set(q.points)) == 3]
    ok(len(arrows) == 1, 'held: a ratio of 0 has no low end: an arrow to the left')


def labour(folder):
    shops = {f'shop {i}': [R.gauss(90 + 4 * i, 6) for _ in range(R.randint(3, 9))] for i in range(9)}
    write(folder, 'jobs.csv', ['shop', 'n', 'min'], [(s, k + 1, f'{m:.2f}') for s, jobs in shops.items() for k, m in enumerate(jobs)])
    p = Picture(PROGRAM, folder, ['labour', 'jobs.csv', '--minutes', 'min', '--order', 'n', '--by', 'shop', '--paid', '100'])
    means = sorted(sum(float(f'{m:.2f}') for m in jobs) / len(jobs) for jobs in shops.values())
    y = p.y_axis(1)
    x = next(a for a in (p.x_axis(i) for i in range(4)) if a.at(a.values[0]) > p.size[0] / 2)
    ok(p.has_corners([(x.at(m), y.at(100 * (i + 1) / 9)) for i, m in enumerate(means)], INK, 0.7), 'labour: the steps rise by a ninth at each shop\'s mean')
    allowance = quantile7(means, 0.8)
    ok(any(near(x.value(d[0]), allowance, 0.2) and near(y.value(d[1]), 80, 0.4) for d in p.dots(ACT)),
       f'labour: the dot at 80 % and {allowance:.2f} min (Hyndman and Fan\'s definition 7)')
    paid = [q for q in p.paths if q.stroke == STOP and len(q.points) == 2]
    ok(len(paid) == 1 and near(x.value(paid[0].xs[0]), 100, 0.2) and 'too short' in p.text and 'not enough' in p.title,
       'labour: what is paid stands at 100 min, and that it is too short is said in words')
    left = p.y_axis(0)
    dots = [d for d in p.dots(GREY) if d[0] < p.size[0] / 2]
    jobs = [(math.log(k + 1), float(f'{m:.2f}')) for values in shops.values() for k, m in enumerate(values)]
    # Dots nearer than a dot's own radius are one: none may be missing by more than that.
    ok(0.9 * len(jobs) <= len(dots) <= len(jobs) and all(min(abs(left.at(m) - d[1]) for d in dots) < 2 for _, m in jobs),
       f'labour: {len(jobs)} jobs are {len(dots)} dots at their minutes')
    mean_x, mean_y = sum(j[0] for j in jobs) / len(jobs), sum(math.log(j[1]) for j in jobs) / len(jobs)
    slope = sum((a - mean_x) * (math.log(b) - mean_y) for a, b in jobs) / sum((a - mean_x) ** 2 for a, _ in jobs)
    curve = max((q for q in p.paths if q.stroke == ACT), key=lambda q: len(q.points))
    ends = [left.value(y_) for _, y_ in (curve.points[0], curve.points[-1])]
    wanted = [math.exp(mean_y + slope * (t - mean_x)) for t in (min(j[0] for j in jobs), max(j[0] for j in jobs))]
    ok(all(near(a, b, 0.6) for a, b in zip(ends, wanted)), f'labour: Wright\'s curve goes from {wanted[0]:.2f} to {wanted[1]:.2f} min (least squares here)')


def gauge(folder):
    # 2 parts x 2 people x 2 readings, worked by hand: means of squares 0.02, MSo 0, interaction 0, parts.
    rows = [('1', 'A', 10.1), ('1', 'A', 10.3), ('1', 'B', 10.1), ('1', 'B', 10.3), ('2', 'A', 12.1), ('2', 'A', 12.3), ('2', 'B', 12.1), ('2', 'B', 12.3)]
    write(folder, 'gauge.csv', ['part', 'who', 'mm'], rows)
    p = Picture(PROGRAM, folder, ['gauge', 'gauge.csv', '--part', 'part', '--operator', 'who', '--value', 'mm', '--unit', 'mm'])
    # Within: each cell's sum of squares is 0.02 on 1 degree, so MSe = 0.02; parts: 4 x 1^2 x 2 = 8 on 1 degree; (8 - 0)/4 = 2.
    x = p.x_axis(0)
    ends = sorted((q for q in p.paths if q.stroke == INK and len(q.points) == 2 and near(q.xs[0], q.xs[1], 1e-6) and near(q.thick, 1.4, 0.01)),
                  key=lambda q: q.ys[0])
    wanted = [math.sqrt(0.02), 0, 0, math.sqrt(0.02), math.sqrt(2)]
    ok(len(ends) == 5 and all(near(x.value(q.xs[0]), v, 0.015) for q, v in zip(ends, wanted)), f'gauge: bars end at {[round(v, 3) for v in wanted]} mm (by hand)')
    right = [d for d in p.dots(GREY) if d[0] > p.size[0] * 0.58]
    ok(len(right) == 8, f'gauge: {len(right)} dots for eight readings')


def capability(folder):
    groups = {('a', 'N'): [58.0, 58.4, 57.6, 58.2, 57.8, 58.0], ('a', 'S'): [60.2, 60.6, 59.8, 60.4, 61.4, 60.0]}
    write(folder, 'cap.csv', ['point', 'shop', 'mm'], [(*k, v) for k, values in groups.items() for v in values])
    p = Picture(PROGRAM, folder, ['capability', 'cap.csv', '--value', 'mm', '--low', '56', '--high', '61', '--point', 'point', '--by', 'shop', '--least', '1'])
    ppk = {}
    for k, v in groups.items():
        mean = sum(v) / len(v)
        ppk[k] = min(61 - mean, mean - 56) / (3 * math.sqrt(sum((u - mean) ** 2 for u in v) / (len(v) - 1)))
    x = next(a for a in (p.x_axis(i) for i in range(4)) if a.at(a.values[0]) > p.size[0] * 0.65)
    worst = [d for d in p.dots(STOP) if d[0] > p.size[0] * 0.7]
    best = [d for d in p.dots(INK) if d[0] > p.size[0] * 0.7]
    ok(len(worst) == 1 and near(x.value(worst[0][0]), ppk[('a', 'S')], 0.03), f'capability: the ring of S at Ppk {ppk[("a", "S")]:.3f}')
    ok(len(best) == 1 and near(x.value(best[0][0]), ppk[('a', 'N')], 0.03), f'capability: the dot of N at Ppk {ppk[("a", "N")]:.3f}')
    ok(worst[0][1] < best[0][1], 'capability: the worst stands first')
    left = p.x_axis(0)
    limits = [q for q in p.paths if q.stroke == INK and len(q.points) == 2 and near(q.xs[0], q.xs[1], 1e-6) and near(q.thick, 1.1, 0.01)]
    ok(sorted({round(left.value(q.xs[0])) for q in limits}) == [56, 61], 'capability: the limits stand at 56 and 61')
    dots = sorted(left.value(d[0]) for d in p.dots(STOP) if d[0] < p.size[0] * 0.7)
    ok(len(dots) == 6 and all(near(a, b, 0.12) for a, b in zip(dots, sorted(groups[('a', 'S')]))), f'capability: six readings, {[round(v, 1) for v in dots]}')
    ok('1 outside' in p.text, 'capability: the one outside is counted in words')


def audit(folder):
    p = Picture(PROGRAM, folder, ['audit', '--lot', '280', '--aql', '1', '--lq', '10'])
    n, c = int(p.title.split('Look at ')[1].split()[0]), int(p.title.split('at most ')[1].split()[0])

    def accept(bad):
        return sum(math.comb(bad, k) * math.comb(280 - bad, n - k) for k in range(c + 1)) / math.comb(280, n)
    y, x = p.y_axis(), p.x_axis()
    curve = max((q for q in p.paths if q.stroke == INK), key=lambda q: len(q.points))
    off = [abs(y.value(b) - 100 * accept(round(x.value(a) * 2.8))) for a, b in curve.points if near(x.value(a) * 2.8, round(x.value(a) * 2.8), 0.15)]
    ok(len(off) > 20 and max(off) < 1.2, f'audit: {len(off)} corners of the curve lie on the hypergeometric distribution (farthest {max(off):.2f} %)')
    dots = sorted(p.dots(ACT))
    for d, bad in zip(dots, (2, 28)):  # 1 % of 280 rounded down, 10 % of it
        ok(near(y.value(d[1]), 100 * accept(bad), 0.4), f'audit: the promise for {bad} bad stands at {100 * accept(bad):.2f} % accepted')
    ok(len(dots) == 2 and near(x.value(dots[0][0]), 1, 0.1) and near(x.value(dots[1][0]), 10, 0.1), 'audit: the promises stand at 1 % and 10 %')


def digits(folder):
    shops = {'Even': [f'{40 + i % 23}.{i % 10}' for i in range(200)], 'Round': [f'{40 + i % 23}.{0 if i % 2 else i % 10}' for i in range(200)]}
    write(folder, 'digits.csv', ['shop', 'mm'], [(s, v) for s, values in shops.items() for v in values])
    p = Picture(PROGRAM, folder, ['digits', 'digits.csv', '--value', 'mm', '--by', 'shop', '--step', '0.1'])
    for shop, colour, n in (('Round', STOP, 0), ('Even', GREY, 1)):
        y = p.y_axis(n)
        bars = sorted((q for q in p.paths if q.fill == colour and len(set(q.points)) == 4), key=lambda q: q.xs[0])
        share = [100 * sum(v.endswith(f'.{k}') for v in shops[shop]) / 200 for k in range(10)]
        got = [round(y.value(min(q.ys)), 1) for q in bars]
        ok(len(got) == sum(v > 0 for v in share) and all(near(a, b, 0.6) for a, b in zip(got, [v for v in share if v > 0])),
           f'digits: {shop} has {[v for v in share if v > 0]} %')
    ok('LOOK:' in p.text and 'Round ends on 0 mm' in p.title, f'digits: the flag is said in words: {p.title}')


def stock(folder):
    needs = {22: 5, 25: 8, 28: 12, 31: 7, 34: 9, 37: 4, 40: 6}
    write(folder, 'needs.csv', ['need', 'n'], needs.items())
    p = Picture(PROGRAM, folder, ['stock', 'needs.csv', '--length', 'need', '--count', 'n', '--k', '3', '--unit', 'in'])
    y, x = p.y_axis(), p.x_axis()
    bars = sorted((q for q in p.paths if q.fill == GREY and len(set(q.points)) == 4), key=lambda q: q.xs[0])
    ok(len(bars) == 7 and all(near(x.value(q.middle[0]), k, 0.15) and near(y.value(min(q.ys)), v, 0.1) for q, (k, v) in zip(bars, needs.items())),
       f'stock: seven columns at their lengths and counts')
    # Every choice of three, the longest among them, tried here.
    best = min((sum(n * (min(s for s in (a, b, 40) if s >= k) - k) for k, n in needs.items()), a, b) for a in needs for b in needs if a < b < 40)
    lines = sorted(x.value(q.xs[0]) for q in p.paths if q.stroke == ACT and len(q.points) == 2 and near(q.xs[0], q.xs[1], 1e-6))
    ok(len(lines) == 3 and all(near(a, b, 0.1) for a, b in zip(lines, (best[1], best[2], 40))), f'stock: lines at {best[1]}, {best[2]}, 40 (all choices tried)')
    ok(f'{best[0]} in is cut away' in p.title, f'stock: {best[0]} in cut away: {p.title}')


def kits(folder):
    asked = {'upper': 60, 'lower': 30, 'both': 5}
    write(folder, 'kits.csv', ['kit', 'n'], asked.items())
    p = Picture(PROGRAM, folder, ['stock', 'kits.csv', '--kit', 'kit', '--count', 'n', '--units', '200'])
    x = p.x_axis()
    wedges = sorted((q for q in p.paths if q.fill == ACT and len(set(q.points)) == 3), key=lambda q: q.middle[1])
    whole = sum(asked.values()) + 0.5 * len(asked)
    for q, (name, n) in zip(wedges, sorted(asked.items(), key=lambda v: -v[1])):
        a = n + 0.5
        order = beta_binomial_quantile(0.95, 200, a, whole - a)
        ok(near(x.value(q.middle[0]), order, 0.8) and f'order {order}' in p.text, f'kits: {name} at {order} (beta-binomial quantile, added up here)')
    ok(len(wedges) == 3, 'kits: a wedge for each sort')


def document(folder):
    """The calls of doc/studies.md draw, from the data in examples/, and the pictures beside it are small."""
    calls = [line.strip() for line in (ROOT / 'doc/studies.md').read_text().splitlines() if line.startswith('    mendwright study') and '--plot' in line]
    for call in calls:
        done = subprocess.run([PROGRAM, *call.split()[1:-1], folder / 'p.png'], capture_output=True, text=True, cwd=ROOT)
        ok(done.returncode == 0 and (folder / 'p.png').stat().st_size > 10000, f'document: {call}')
    shown = [ROOT / 'doc' / v for v in ('study-window.png', 'study-life.png')]
    ok(len(calls) == 2 and all(5000 < v.stat().st_size < 60000 for v in shown), f'document: its two pictures take {[v.stat().st_size for v in shown]} bytes')


KINDS = (life, window, completion, held, labour, gauge, capability, audit, digits, stock, kits, document)
with tempfile.TemporaryDirectory() as name:
    for kind in KINDS:
        kind(pathlib.Path(name))
sys.exit(tap.done())
