"""growth: a power law through measured costs, cost = a * size^b, by plain least squares on the logarithms; with the exponent's standard
error, its 95 % interval by Student's t, and the interval within which one more measurement at another size would lie. Draws them as SVG.

Method: simple linear regression, NIST/SEMATECH e-Handbook of Statistical Methods 4.1.4.1 and 4.5.2; that it is computed rightly is
tested against R's lm, confint and predict (test/bench/test_growth.py).
"""
import html
import math

# Student's t, the quantile at 0.975, by degrees of freedom from 1: any table, here checked against R's qt.
T_975 = (12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469, 2.3646, 2.3060, 2.2622, 2.2281, 2.2010, 2.1788, 2.1604, 2.1448, 2.1314, 2.1199, 2.1098, 2.1009, 2.0930, 2.0860)


class Fit:
    """sizes and costs, all above zero, at least three; sizes not all the same."""

    def __init__(self, sizes, costs):
        x, y = [math.log(v) for v in sizes], [math.log(v) for v in costs]
        if len(x) != len(y) or len(x) < 3:
            raise ValueError(f'{len(x)} sizes and {len(y)} costs: expected the same number, 3 or more')
        self.n, self.free = len(x), len(x) - 2
        if self.free > len(T_975):
            raise ValueError(f'{self.n} measurements: expected at most {len(T_975) + 2}')
        self.mid = sum(x) / self.n
        mean = sum(y) / self.n
        self.spread = sum((v - self.mid) ** 2 for v in x)
        self.exponent = sum((a - self.mid) * (b - mean) for a, b in zip(x, y)) / self.spread
        self.start = mean - self.exponent * self.mid
        self.scatter = math.sqrt(sum((b - self.start - self.exponent * a) ** 2 for a, b in zip(x, y)) / self.free)
        self.se = self.scatter / math.sqrt(self.spread)
        self.t = T_975[self.free - 1]
        self.low, self.high = self.exponent - self.t * self.se, self.exponent + self.t * self.se

    def at(self, size):
        return math.exp(self.start + self.exponent * math.log(size))

    def between(self, size):
        """(low, high): where one more measurement at this size would lie in 95 of 100 cases, if the law holds there."""
        off = self.t * self.scatter * math.sqrt(1 + 1 / self.n + (math.log(size) - self.mid) ** 2 / self.spread)
        return self.at(size) / math.exp(off), self.at(size) * math.exp(off)


def decades(low, high):
    """Powers of ten from the one at or below low to the one at or above high."""
    return range(math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9) + 1)


def power(k):
    return f'10<tspan baseline-shift="super" font-size="9">{k}</tspan>'


def draw(title, lines, beyond, across, up):
    """SVG of several laws. lines: (name, sizes, costs), each fitted. beyond: the size up to which they are drawn on, dashed, with the
    interval there. Measured points are filled; nothing beyond them has a point."""
    inks = ('#1b6ca8', '#b3541e', '#3a7d34', '#7a3e9d', '#8c6d00', '#a3123f', '#3b4a54')
    wide, high, left, top, right, bottom = 760, 470, 70, 46, 215, 54
    fits = [Fit(sizes, costs) for _, sizes, costs in lines]
    xs = decades(min(s for _, sizes, _ in lines for s in sizes), beyond)
    ys = decades(min(c for _, _, costs in lines for c in costs), max(f.at(beyond) for f in fits))
    px = lambda size: left + (math.log10(size) - xs[0]) / (xs[-1] - xs[0]) * (wide - left - right)  # noqa: E731
    py = lambda cost: high - bottom - (math.log10(cost) - ys[0]) / (ys[-1] - ys[0]) * (high - top - bottom)  # noqa: E731
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" font-family="DejaVu Sans, sans-serif" font-size="12" role="img">',
           f'<title>{html.escape(title)}</title>', f'<rect width="{wide}" height="{high}" fill="#fff"/>',
           f'<text x="{left}" y="22" font-size="14" font-weight="bold" fill="#1a1a1a">{html.escape(title)}</text>']
    for k in xs:
        x = px(10 ** k)
        out.append(f'<path d="M{x:.1f} {top}V{high - bottom}" stroke="#ddd"/><text x="{x:.1f}" y="{high - bottom + 18}" text-anchor="middle" fill="#333">{power(k)}</text>')
    for k in ys:
        y = py(10 ** k)
        out.append(f'<path d="M{left} {y:.1f}H{wide - right}" stroke="#ddd"/><text x="{left - 8}" y="{y + 4:.1f}" text-anchor="end" fill="#333">{power(k)}</text>')
    out.append(f'<text x="{(left + wide - right) / 2:.0f}" y="{high - 12}" text-anchor="middle" fill="#333">{html.escape(across)}</text>')
    out.append(f'<text x="{left}" y="{top - 8}" fill="#333">{html.escape(up)}</text>')
    names = []
    for i, ((name, sizes, costs), fit) in enumerate(zip(lines, fits)):
        ink, last = inks[i % len(inks)], max(sizes)
        steps = [last * (beyond / last) ** (j / 20) for j in range(21)]
        low, top_ = [fit.between(s)[0] for s in steps], [fit.between(s)[1] for s in steps]
        clip = lambda c: min(max(c, 10 ** ys[0]), 10 ** ys[-1])  # noqa: E731
        band = ' '.join(f'{px(s):.1f},{py(clip(c)):.1f}' for s, c in [*zip(steps, top_), *reversed([*zip(steps, low)])])
        out.append(f'<polygon points="{band}" fill="{ink}" fill-opacity="0.1"/>')
        out.append(f'<path d="M{px(min(sizes)):.1f} {py(fit.at(min(sizes))):.1f}L{px(last):.1f} {py(fit.at(last)):.1f}" stroke="{ink}" stroke-width="1.6"/>')
        out.append(f'<path d="M{px(last):.1f} {py(fit.at(last)):.1f}L{px(beyond):.1f} {py(fit.at(beyond)):.1f}" stroke="{ink}" stroke-width="1.6" stroke-dasharray="5 4"/>')
        out += [f'<circle cx="{px(s):.1f}" cy="{py(c):.1f}" r="3.4" fill="{ink}"/>' for s, c in zip(sizes, costs)]
        names.append([py(fit.at(beyond)) + 4, name, ink])
    names.sort()
    for i in range(1, len(names)):  # names that would lie on one another are moved down
        names[i][0] = max(names[i][0], names[i - 1][0] + 15)
    out += [f'<text x="{wide - right + 8}" y="{y:.1f}" fill="{ink}">{html.escape(name)}</text>' for y, name, ink in names]
    return '\n'.join(out) + '\n</svg>\n'
