#!/usr/bin/env python3
"""study life against R (package survival) on made-up files. TAP; skipped with its reason where R is not
installed.

usage: study_life.py PROGRAM
"""
import csv
import json
import math
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402

R_CODE = r'''
suppressMessages(library(survival))
args <- commandArgs(TRUE)
put <- function(key, ...) cat(key, sprintf("%.17g", c(...)), "\n")
for (file in args) {
  d <- read.csv(file)
  cat("file", file, "\n")
  late <- any(d$entry > 0)
  for (g in unique(d$group)) {
    x <- d[d$group == g, ]
    s <- if (late) survfit(Surv(entry, time, event) ~ 1, data = x, conf.type = "log-log")
         else survfit(Surv(time, event) ~ 1, data = x, conf.type = "log-log")
    cat("group", g, "\n")
    k <- s$n.event > 0
    put("t", s$time[k]); put("risk", s$n.risk[k]); put("surv", s$surv[k])
    se <- s$std.err[k] * s$surv[k]; se[!is.finite(se)] <- -1
    low <- s$lower[k]; high <- s$upper[k]; low[is.na(low)] <- -1; high[is.na(high)] <- -1
    put("se", se); put("low", low); put("high", high)
    if (!late) {
      w <- survreg(Surv(time, event) ~ 1, data = x, dist = "weibull", control = survreg.control(rel.tolerance = 1e-13, maxiter = 100))
      put("weibull", 1 / w$scale, exp(coef(w)), w$loglik[1], sqrt(diag(w$var)))
      at <- c(coef(w), -log(w$scale)); top <- w$loglik[1]; se <- sqrt(diag(w$var))
    } else {
      nl <- function(q) { k <- exp(q[2]); z <- function(t) (t / exp(q[1]))^k
        -(sum(x$event * (log(k) - k * q[1] + (k - 1) * log(x$time))) - sum(z(x$time)) + sum(z(x$entry))) }
      a <- optim(c(log(mean(x$time)), 0), nl, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000), hessian = TRUE)
      a <- nlm(nl, a$par, hessian = TRUE, gradtol = 1e-10, steptol = 1e-12)
      se <- sqrt(diag(solve(a$hessian)))
      put("weibull", exp(a$estimate[2]), exp(a$estimate[1]), -a$minimum, se)
      at <- a$estimate; top <- -a$minimum
    }
    # ends of the likelihood's own intervals: the other parameter at its best, the log-likelihood qchisq(.95, 1)/2 below
    ll <- function(m, lk) { k <- exp(lk); e <- ifelse(x$entry > 0, (x$entry / exp(m))^k, 0)
      sum(x$event * (lk - k * m + (k - 1) * log(x$time))) - sum((x$time / exp(m))^k) + sum(e) }
    best <- function(f, mid, width) optimize(f, mid + c(-1, 1) * width, maximum = TRUE, tol = 1e-10)$objective
    for (i in 1:2) for (side in c(-1, 1)) {
      g <- function(v) 2 * (top - if (i == 1) best(function(lk) ll(v, lk), at[2], 8 * se[2]) else best(function(m) ll(m, v), at[1], 8 * se[1])) - qchisq(.95, 1)
      put(paste0("end", i, side), exp(uniroot(g, sort(at[i] + side * c(0, 5) * se[i]), tol = 1e-10)$root))
    }
  }
  ties <- any(duplicated(d$time[d$event == 1]))
  if (length(unique(d$group)) > 1) {
    if (!late) put("logrank", survdiff(Surv(time, event) ~ group, data = d)$chisq)
    else if (!ties) put("logrank", coxph(Surv(entry, time, event) ~ group, data = d)$score) # the score test, equal without ties
  }
}
'''

REPEATS = r'''
suppressMessages(library(survival))
d <- read.csv(commandArgs(TRUE)[1]); d <- d[order(d$unit, d$t), ]
d$from <- ave(d$t, d$unit, FUN = function(t) c(0, head(t, -1)))
s <- survfit(Surv(from, t, e) ~ 1, data = d, id = unit); k <- s$n.event > 0
cat(sprintf("%.17g %.17g %.17g %d\n", s$time[k], s$cumhaz[k], s$std.chaz[k], as.integer(s$n.risk[k])), sep = "")
'''
# The mixture's likelihood written out; several beginnings, the best of them.
MIXTURE = r'''
d <- read.csv(commandArgs(TRUE)[1])
nl <- function(q) { p <- plogis(q[1]); k <- exp(q[3]); z <- (d$t / exp(q[2]))^k
  -sum(ifelse(d$e == 1, log(p) + log(k) - k * q[2] + (k - 1) * log(d$t) - z, log(1 - p + p * exp(-z)))) }
best <- NULL
for (p in c(-1, 0, 1, 2)) { a <- nlm(nl, c(p, log(mean(d$t)), 0), gradtol = 1e-10, steptol = 1e-12, iterlim = 500)
  if (is.null(best) || a$minimum < best$minimum) best <- a }
cat(sprintf("%.17g\n", c(plogis(best$estimate[1]), exp(best$estimate[2:3]), -best$minimum)))
'''

tap = Tap(notes_always=True)
ok = tap.ok


def write(path, chance, late, whole, n_groups):
    size = chance.choice([20, 60, 300])
    with open(path, 'w', newline='', encoding='utf-8') as f:
        out = csv.writer(f)
        out.writerow(['time', 'event', 'entry', 'group'])
        for i in range(size * n_groups):
            group = i % n_groups
            t = (20 + 15 * group) * chance.weibullvariate(1, chance.choice([1.4])) + 0.1
            end = chance.uniform(5, 60)
            entry = chance.uniform(0, 6) if late and chance.random() < 0.6 else 0.0
            event = t <= end
            t = min(t, end) + entry + 0.01
            if whole:
                t, entry = math.ceil(t), math.floor(entry)
            out.writerow([t, int(event), entry, f'g{group}'])


def read_r(text):
    files, here = {}, None
    for line in text.splitlines():
        key, *values = line.split()
        if key == 'file':
            files[values[0]] = here = {'groups': {}}
        elif key == 'group':
            group = here['groups'][values[0]] = {}
        elif key == 'logrank':
            here['logrank'] = float(values[0])
        else:
            group[key] = [float(v) for v in values]
    return files


def near(a, b, tolerance):
    return abs(a - b) <= tolerance * max(1, abs(b))


def worst(found, expected):
    return max((abs(a - b) / max(1, abs(b)) for a, b in zip(found, expected)), default=0)


def hold(name, found, expected):
    far = {'km': 0.0, 'interval': 0.0, 'fit': 0.0, 'loglik': 0.0, 'se': 0.0, 'ends': 0.0}
    same = True
    for g in found['groups']:
        r, km = expected['groups'][g['group']], g['km']
        same &= [s['at_risk'] for s in km] == r['risk'] and worst([s['t'] for s in km], r['t']) < 1e-12
        far['km'] = max(far['km'], worst([s['survival'] for s in km], r['surv']),
                        worst([-1 if s['se'] is None else s['se'] for s in km], r['se']))
        far['interval'] = max(far['interval'], worst([s.get('low', -1) for s in km], r['low']), worst([s.get('high', -1) for s in km], r['high']))
        w = g['weibull']
        far['fit'] = max(far['fit'], worst([w['shape'], w['scale']], r['weibull'][:2]))
        far['loglik'] = max(far['loglik'], worst([w['loglik']], [r['weibull'][2]]))
        far['se'] = max(far['se'], worst([w['se_log_scale'], w['se_log_shape']], r['weibull'][3:]))
        if g['events'] <= 200:
            far['ends'] = max(far['ends'], worst([*w['scale_interval'], *w['shape_interval']], [r[k][0] for k in ('end1-1', 'end11', 'end2-1', 'end21')]))
    rank = 'logrank' not in expected or near(found['logrank']['chi2'], expected['logrank'], 1e-8)
    ok(same and far['km'] < 1e-9 and far['interval'] < 1e-8, f'{name}: steps, at risk and errors are R\'s to 1e-9')
    ok(far['fit'] < 2e-6 and far['loglik'] < 1e-8 and far['se'] < 1e-4, f'{name}: Weibull curve, log-likelihood, standard errors are R\'s',
       ' '.join(f'{k} {v:.1e}' for k, v in far.items()))
    ok(far['ends'] < 1e-4, f'{name}: intervals of scale and shape are the likelihood\'s, as R finds them')
    if 'logrank' in expected:
        ok(rank, f'{name}: log-rank is R\'s', f"chi-square {expected['logrank']:.6f}")


def against_r(program, folder):
    plans = {}
    for i in range(12):
        late, whole, n_groups = i % 2 == 1, i % 4 >= 2, 1 + i % 3
        path = folder / f'{i}.csv'
        write(path, random.Random(900 + i), late, whole, n_groups)
        plans[str(path)] = (f"file {i} ({'late entries' if late else 'all from 0'}, {'whole days' if whole else 'no ties'}, {n_groups} groups)", late)
    script = folder / 'peer.R'
    script.write_text(R_CODE)
    done = subprocess.run(['Rscript', '--vanilla', script, *plans], capture_output=True, text=True, check=True)
    for path, expected in read_r(done.stdout).items():
        name, late = plans[path]
        call = [program, 'study', 'life', path, '--time', 'time', '--event', 'event', '--group', 'group', '--json']
        found = subprocess.run(call + (['--entry', 'entry'] if late else []), capture_output=True, text=True, check=True)
        hold(name, json.loads(found.stdout), expected)


def by_r(folder, code, path):
    script = folder / 'one.R'
    script.write_text(code)
    done = subprocess.run(['Rscript', '--vanilla', script, path], capture_output=True, text=True, check=True)
    return [list(map(float, line.split())) for line in done.stdout.splitlines()]


def repeats_against_r(program, folder):
    for seed in (1, 2, 3):
        chance, path = random.Random(seed), folder / 'repeats.csv'
        rows = []
        for unit in range(30):
            rate, end, t = chance.uniform(0, 0.08), chance.uniform(30, 90), 0
            while (t := t + chance.expovariate(rate)) < end:
                rows.append((f'{t:.6f}', 1, unit))
            rows.append((f'{end:.6f}', 0, unit))
        chance.shuffle(rows)
        path.write_text('t,e,unit\n' + ''.join(f'{t},{e},{u}\n' for t, e, u in rows))
        call = [program, 'study', 'life', path, '--time', 't', '--event', 'e', '--unit', 'unit', '--json']
        found = json.loads(subprocess.run(call, capture_output=True, text=True, check=True).stdout)['mcf']
        expected = by_r(folder, REPEATS, path)
        far = max(worst(f, e) for f, e in zip([[s['t'], s['mean'], s['se'], s['at_risk']] for s in found], expected))
        ends = max(worst([s['low'], s['high']], [e[1] * math.exp(k * 1.959963984540054 * e[2] / e[1]) for k in (-1, 1)]) for s, e in zip(found, expected))
        ok(len(found) == len(expected) > 30 and far < 1e-9 and ends < 1e-9,
           f'repeats of 30 units (seed {seed}): {len(found)} steps of the mean cumulative function, errors and ends are R\'s to 1e-9', f'off by {far:.1e}, {ends:.1e}')


def mixture_against_r(program, folder):
    for seed in (1, 2, 3):
        chance, path = random.Random(seed), folder / 'mixture.csv'
        rows = [(t, 1) if chance.random() < 0.65 and (t := chance.weibullvariate(40, 1.4)) < 150 else (150, 0) for _ in range(150)]
        path.write_text('t,e\n' + ''.join(f'{t:.5f},{e}\n' for t, e in rows))
        call = [program, 'study', 'life', path, '--time', 't', '--event', 'e', '--cure', '--json']
        m = json.loads(subprocess.run(call, capture_output=True, text=True, check=True).stdout)['groups'][0]['mixture']
        expected = [row[0] for row in by_r(folder, MIXTURE, path)]
        far = worst([m['share'], m['scale'], m['shape']], expected[:3])
        ok(far < 1e-5 and near(m['loglik'], expected[3], 1e-9), f'mixture of 150 units (seed {seed}): share {expected[0]:.4f}, scale, shape and log-likelihood are R nlm\'s',
           f"off by {far:.1e}, {abs(m['loglik'] - expected[3]):.1e}")


def has_r():
    return shutil.which('Rscript') and subprocess.run(['Rscript', '--vanilla', '-e', 'library(survival)'], capture_output=True).returncode == 0


def main(argv):
    if not has_r():
        return tap.skip_all('R with its package survival is not installed (tools/deps test)')
    with tempfile.TemporaryDirectory() as folder:
        against_r(argv[0], pathlib.Path(folder))
        repeats_against_r(argv[0], pathlib.Path(folder))
        mixture_against_r(argv[0], pathlib.Path(folder))
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
