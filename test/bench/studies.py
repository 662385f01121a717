"""studies: the window scan against looking at every run plainly; Weibull and steps on a million rows against R on the same file; and how
long a table takes to read, against wc -l; and stock lengths for 5,000 needs. Called by run."""
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


def timed(command, good=(0,)):
    start = time.perf_counter()
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)
    if done.returncode not in good:
        raise SystemExit(f'bench: {command[0]} ended with {done.returncode}: {done.stderr}')
    return time.perf_counter() - start, done.stdout


def best(command, rounds, good=(0,)):
    return min((timed(command, good) for _ in range(rounds)), key=lambda r: r[0])


def make_rows(path, n):
    """Seeded: a Weibull time of scale 1200 and shape 1.6, watched for 100 to 900."""
    chance = random.Random(4)
    with path.open('w', encoding='ascii') as out:
        out.write('time,event\n')
        for _ in range(n):
            t, end = chance.weibullvariate(1200, 1.6), chance.uniform(100, 900)
            out.write(f'{min(t, end):.6f},{int(t <= end)}\n')


def show_window(bench, draws=1000):
    """draws: of the plain way, too; all 9,999 take it minutes (bench_window 9999)."""
    _, text = best([bench / 'test' / 'bench' / 'bench_window', draws], 1)
    w = json.loads(text)
    w['ratio'] = w['plain_s'] / w['fast_s']
    same = 'the same' if w['plain_reach'] == w['fast_reach'] else 'DIFFERENT'
    print(f"\nwindow scan, {w['days']:,} days, {w['failures']:,} failures, {w['draws']} draws on one core; {same} {w['fast_reach']} of them reach the run found")
    p = {way: (1 + w[f'{way}_reach']) / (1 + w['draws']) for way in ('plain', 'fast')}
    print(f"  every run of every draw     {w['plain_s'] * 1000:9.0f} ms   p {p['plain']:.6f}")
    print(f"  mendwright                  {w['fast_s'] * 1000:9.1f} ms   p {p['fast']:.6f} {w['ratio']:7.0f} x as fast")
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


def show_csv(build, bench, n):
    """The reader alone, and a study that keeps two of the columns as numbers (did it hold: sums only, so reading is what it does)."""
    path = bench / f'wide-{n}.csv'
    if not path.exists():
        chance = random.Random(5)
        with path.open('w', encoding='ascii') as out:
            out.write('unit,shop,repaired,failed,days,remark\n')
            for i in range(n):
                out.write(f'U{i:07d},S{i % 60},{i % 2},{int(chance.random() < 0.1)},{chance.uniform(1, 900):.2f},"as found, then mended"\n')
    reader, told = best([bench / 'test' / 'bench' / 'bench_csv', path], 5)
    study, _ = best([build / 'mendwright', 'study', 'held', path, '--repaired', 'repaired', '--failed', 'failed', '--time', 'days'], 5, (0, 1, 4))
    lines, _ = best(['wc', '-l', path], 5)
    size = path.stat().st_size
    r = {'rows': json.loads(told)['rows'], 'bytes': size, 'reader_s': reader, 'study_s': study, 'wc_s': lines}
    print(f"\nCSV of {n:,} rows, 6 columns ({size / 1e6:.0f} MB), quoted fields among them, best of 5")
    print(f"  wc -l                       {lines * 1000:9.1f} ms")
    print(f"  base/csv, every field       {reader * 1000:9.1f} ms   {reader / lines:7.1f} x wc   {size / reader / 1e6:.0f} MB a second")
    print(f"  mendwright study held       {study * 1000:9.1f} ms   {study / lines:7.1f} x wc   three columns kept as numbers")
    return r


def show_assort(build, bench, n=5000, k=12):
    path = bench / f'needs-{n}.csv'
    chance = random.Random(6)
    path.write_text('mm,n\n' + ''.join(f'{mm / 10},{chance.randint(1, 40)}\n' for mm in chance.sample(range(2000, 52000), n)))
    took, _ = best([build / 'mendwright', 'study', 'stock', path, '--length', 'mm', '--count', 'n', '--k', k], 5)
    print(f"\nstock lengths: the best {k} of {n:,} needed ones, exact, reading included, best of 5")
    print(f"  mendwright study stock      {took * 1000:9.1f} ms")
    return {'needs': n, 'k': k, 's': took}


def show_studies(build, bench, n=1_000_000):
    return {'window': show_window(bench), 'life': show_life(build, bench, n), 'csv': show_csv(build, bench, n), 'assort': show_assort(build, bench)}
