#!/usr/bin/env python3
"""Studies against R on the same made-up files: lm, quantile, t.test, aov, phyper, chisq.test, p.adjust, pbeta. Prints TAP;
skips when there is no Rscript. R is a peer in tests only.

usage: study_peer.py PROGRAM
"""
import json
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402


def near(got, want, tolerance, what):
    off = abs(got - want) / abs(want) if want else abs(got)
    ok(off <= tolerance, f'{what} (R {want:.12g})', f'got {got!r}, relative difference {off:.3g}')


def study(program, *words):
    done = subprocess.run([program, 'study', *map(str, words), '--json'], capture_output=True)
    if done.returncode not in (0, 1):
        raise SystemExit(f'Bail out! study {words}: {done.stderr.decode()}{done.stdout.decode()}')
    return json.loads(done.stdout)


def r(code):
    """R prints numbers; here they are, in order."""
    done = subprocess.run(['Rscript', '--vanilla', '-'], input='options(digits=17)\n' + code, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f'Bail out! R: {done.stderr}')
    return [float(word) for word in done.stdout.split()]


def labour(program, folder, rng):
    path = folder / 'labour.csv'
    rows = [(k, 90 * k ** -0.2 * rng.lognormvariate(0, 0.1)) for k in range(1, 201)]
    path.write_text('k,min\n' + ''.join(f'{k},{m:.6f}\n' for k, m in rows))
    got = study(program, 'labour', path, '--minutes', 'min', '--order', 'k')
    want = r(f'''d <- read.csv("{path}"); f <- lm(log(min) ~ log(k), d); ci <- confint(f)
        cat(mean(d$min), sd(d$min), quantile(d$min, c(.5, .8)), 2^coef(f)[2], exp(coef(f)[1]), t.test(d$min)$conf.int, 2^ci[2,], exp(ci[1,]), "\\n")''')
    flat = [got['mean'], got['sd'], got['p50'], got['p80'], got['learning_rate'], got['first_unit'], *got['mean_interval'],
            *got['learning_rate_interval'], *got['first_unit_interval']]
    names = ['mean', 'sd', 'median', '80th percentile', 'learning rate', 'first unit', 'mean, low', 'mean, high', 'rate, low', 'rate, high',
             'first, low', 'first, high']
    for name, g, w in zip(names, flat, want):
        near(g, w, 1e-9, f'labour: {name}')


def gauge(program, folder, rng):
    for trial in range(3):
        path = folder / f'gauge{trial}.csv'
        parts = [rng.gauss(50, 2) for _ in range(7)]
        who = [rng.gauss(0, 0.3) for _ in range(4)]
        rows = [(p, o, parts[p] + who[o] + rng.gauss(0, 0.2)) for p in range(7) for o in range(4) for _ in range(3)]
        rng.shuffle(rows)
        path.write_text('p,o,v\n' + ''.join(f'P{p},O{o},{v:.5f}\n' for p, o, v in rows))
        got = study(program, 'gauge', path, '--part', 'p', '--operator', 'o', '--value', 'v')
        want = r(f'''d <- read.csv("{path}"); s <- summary(aov(v ~ factor(p) * factor(o), d))[[1]]
            cat(s[["Sum Sq"]], s[["Mean Sq"]], s[["Pr(>F)"]][3], "\\n")''')
        flat = [t['ss'] for t in got['anova'][:4]] + [t['ms'] for t in got['anova'][:4]] + [got['anova'][2]['p']]
        for name, g, w in zip(('SS part', 'SS operator', 'SS both', 'SS within', 'MS part', 'MS operator', 'MS both', 'MS within', 'p of both'), flat, want):
            near(g, w, 1e-9, f'gauge {trial + 1}: {name}')


def audit(program):
    for lot, n, c in ((500, 50, 2), (12000, 315, 7), (1000000, 1250, 10)):
        bad = sorted({round(lot * share) for share in (.001, .004, .01, .03, .08)})
        got = study(program, 'audit', '--lot', lot, '--sample', n, '--accept', c, *[w for d in bad for w in ('--bad', d)])
        want = r(f'cat(phyper({c}, c({",".join(map(str, bad))}), {lot} - c({",".join(map(str, bad))}), {n}), "\\n")')
        for point, w in zip(got['curve'], want):
            near(point['p_accept'], w, 1e-10, f'audit: lot {lot}, n {n}, c {c}, {point["bad"]} bad')


def digits(program, folder, rng):
    path = folder / 'digits.csv'
    rows = [(s, rng.gauss(58, 3)) for s in range(12) for _ in range(120)]
    rows = [(s, round(v) if s == 3 and rng.random() < 0.3 else round(v, 1)) for s, v in rows]
    path.write_text('shop,mm\n' + ''.join(f'S{s:02d},{v:.1f}\n' for s, v in rows))
    got = study(program, 'digits', path, '--value', 'mm', '--by', 'shop', '--step', '0.1')
    want = r(f'''d <- read.csv("{path}"); d$digit <- round(d$mm * 10) %% 10
        x <- lapply(split(d$digit, d$shop), function(g) chisq.test(table(factor(g, 0:9))))
        p <- sapply(x, function(t) t$p.value); cat(sapply(x, function(t) t$statistic), p, p.adjust(p, "BH"), "\\n")''')
    groups = sorted(got['groups'], key=lambda g: g['by'])
    for i, g in enumerate(groups):
        near(g['chi2'], want[i], 1e-10, f'digits: chi-square of {g["by"]}')
        near(g['p'], want[12 + i], 1e-9, f'digits: p of {g["by"]}')
        near(g['q'], want[24 + i], 1e-9, f'digits: q of {g["by"]}')
    ok([g['by'] for g in groups if g['flag']] == ['S03'], 'digits: the one that rounds is flagged, no other')


def kits(program, folder):
    path = folder / 'kits.csv'
    path.write_text('kit,n\nA,61\nB,27\nC,9\n')
    got = study(program, 'stock', path, '--kit', 'kit', '--count', 'n', '--lead', '21', '--watched', '180', '--service', '97')
    want = r('cat(qnbinom(.97, c(61, 27, 9) + .5, 180/(180 + 21)), "\\n")')
    for k, w in zip(got['kits'], want):
        ok(k['order'] == w, f'kits: {k["kit"]} by lead time: {k["order"]} (R qnbinom {w:g})')
    got = study(program, 'stock', path, '--kit', 'kit', '--count', 'n', '--units', '150', '--service', '90')
    want = r('''for (a in c(61, 27, 9) + .5) { k <- 0:150
        p <- exp(lchoose(150, k) + lbeta(k + a, 150 - k + 98.5 - a) - lbeta(a, 98.5 - a)); cat(min(k[cumsum(p) >= .9]), "\\n") }''')
    for k, w in zip(got['kits'], want):
        ok(k['order'] == w, f'kits: {k["kit"]} for 150 units: {k["order"]} (R, from its lbeta {w:g})')


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    if not shutil.which('Rscript'):
        return tap.skip_all('no Rscript here')
    seed = 20261
    rng = random.Random(seed)
    tap.note(f'made-up data by seed {seed}')
    with tempfile.TemporaryDirectory(prefix='mendwright-peer-') as name:
        folder = pathlib.Path(name)
        labour(program, folder, rng)
        gauge(program, folder, rng)
        audit(program)
        digits(program, folder, rng)
        kits(program, folder)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
