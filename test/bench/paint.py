"""paint: the time to first useful paint of every page of the Desk and of the Bench, and what each weighs over the wire, on the store of `make demo`
(300 of its units, made anew here), in Chromium on the same machine. Called by run; or paint.py BUILD [ROUNDS] for these figures alone."""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

TREE = pathlib.Path(__file__).resolve().parent.parent.parent
UNITS = 300


def median(values):
    return sorted(values)[len(values) // 2]


def show_paint(build, rounds=7, units=UNITS):
    build = pathlib.Path(build).resolve()
    if not (build / 'ui' / 'desk' / 'index.html').exists() or not (shutil.which('chromium') or shutil.which('chromium-browser')):
        print('\nfirst useful paint: not measured, the pages are not built or Chromium is not installed')
        return None
    with tempfile.TemporaryDirectory(prefix='mendwright-paint-') as folder:
        made = subprocess.run([TREE / 'tools/campaign', build / 'mendwright', str(units), folder], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if made.returncode:
            sys.exit(f'bench: tools/campaign ended with {made.returncode}: {made.stdout[-800:]}')
        done = subprocess.run(['node', TREE / 'ui/test/run.mjs', TREE / 'ui/test/browser/paint.ts', build / 'ui/pages', build / 'mendwright', TREE, pathlib.Path(folder) / 'store', 'fern-mobile-2', str(rounds)],
                              capture_output=True, text=True, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith('{')]
    if done.returncode or not lines:
        sys.exit(f'bench: first useful paint ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}')
    r = json.loads(lines[-1])
    r['load'] = os.getloadavg()[0]
    s = r['slow']
    print(f"\nfirst useful paint: until the page's data stands on the screen; {r['claims']:,} claims; Chromium and server on this machine, median of {r['rounds']}")
    print(f"  kept: what a browser keeps is used; new: from an empty cache; yard: new, processor slowed to a {'quarter' if s['processor'] == 4 else s['processor']}, {s['megabit']} Mbit/s, {s['delay_ms']} ms there and back; load {r['load']:.1f}")
    print(f"  {'':<26}{'pages KiB':>10}{'data KiB':>10}{'kept ms':>9}{'new ms':>9}{'yard ms':>9}")
    for p in r['pages']:
        print(f"  {p['page']:<26}{p['weight']['pages'] / 1024:>10.1f}{p['weight']['data'] / 1024:>10.1f}{median(p['warm_ms']):>9.0f}{median(p['cold_ms']):>9.0f}{median(p['slow_ms']):>9.0f}")
    return r


if __name__ == '__main__':
    show_paint(sys.argv[1], *map(int, sys.argv[2:4]))
