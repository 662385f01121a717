"""studies: the window scan against looking at every run plainly; Weibull and steps on a million rows against R on the same file; and how
long a table takes to read. Called by run."""
import json
import random
import shutil
import subprocess
import time

R_CODE = '''
suppressMessages(library(survival))
d <- read.csv(commandArgs(TRUE)[1])
w <- survreg(Surv(time, event) ~ 1, data = d, dist = "weibull")
s <- survfit(Surv(time, event) ~ 1, data = d)
cat(1 / w$scale, exp(coef(w)), length(s$time), "\\n")
'''


def timed(command):
    start = time.perf_counter()
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=True)
    return time.perf_counter() - start, done.stdout


def best(command, rounds):
    return min((timed(command) for _ in range(rounds)), key=lambda r: r[0])


def make_rows(path, n):
    """Seeded: a Weibull time of scale 1200 and shape 1.6, watched for 100 to 900."""
    chance = random.Random(4)
    with path.open('w', encoding='ascii') as out:
        out.write('time,event\n')
        for _ in range(n):
            t, end = chance.weibullvariate(1200, 1.6), chance.uniform(100, 900)
            out.write(f'{min(t, end):.6f},{int(t <= end)}\n')


def show_window(bench):
    _, text = best([bench / 'test' / 'bench' / 'bench_window', 100], 2)
    w = json.loads(text)
    w['ratio'] = w['plain_s'] / w['fast_s']
    same = 'the same' if w['plain_reach'] == w['fast_reach'] else 'DIFFERENT'
    print(f"\nwindow scan, {w['days']:,} days, {w['failures']:,} failures, {w['draws']} draws on one core; {same} {w['fast_reach']} of them reach the run found")
    print(f"  every run of every draw     {w['plain_s'] * 1000:9.0f} ms")
    print(f"  mendwright                  {w['fast_s'] * 1000:9.1f} ms   {w['ratio']:7.0f} x as fast")
    print(f"  all {w['all_draws']:,} draws, all cores   {w['all_s'] * 1000:7.0f} ms   p {w['p']:.4f}")
    return w


def show_life(build, bench, n):
    path, script = bench / f'life-{n}.csv', bench / 'life.R'
    if not path.exists():
        make_rows(path, n)
    script.write_text(R_CODE)
    ours, text = best([build / 'mendwright', 'study', 'life', path, '--time', 'time', '--event', 'event'], 3)
    as_json, found = best([build / 'mendwright', 'study', 'life', path, '--time', 'time', '--event', 'event', '--json'], 2)
    lines, _ = best(['wc', '-l', path], 5)
    r = {'rows': n, 'bytes': path.stat().st_size, 'ours_s': ours, 'json_s': as_json, 'wc_s': lines, 'r_s': None}
    print(f"\nsteps and Weibull curve of {n:,} rows ({r['bytes'] / 1e6:.0f} MB), reading the file included")
    if shutil.which('Rscript'):
        r['r_s'], told = best(['Rscript', '--vanilla', script, path], 1)
        shape = json.loads(found)['groups'][0]['weibull']['shape']
        r['shape'], r['r_shape'] = shape, float(told.split()[0])
        print(f"  R, survreg and survfit      {r['r_s'] * 1000:9.0f} ms   shape {r['r_shape']:.5f}")
        print(f"  mendwright study life       {ours * 1000:9.0f} ms   {r['r_s'] / ours:7.1f} x as fast   shape {shape:.5f}")
    else:
        print(f"  mendwright study life       {ours * 1000:9.0f} ms   (R is not installed)")
    print(f"  the same with --json        {as_json * 1000:9.0f} ms   every step written, {len(found) / 1e6:.0f} MB")
    print(f"  wc -l                       {lines * 1000:9.1f} ms")
    return r


def show_studies(build, bench, n=1_000_000):
    return {'window': show_window(bench), 'life': show_life(build, bench, n)}
