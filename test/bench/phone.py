"""phone: how long the truing answer takes on the phone's page, and how many frames a second the practice pages show while the room runs, in
Chromium with its processor slowed to a quarter. Called by run; or phone.py BUILD [ROUNDS] for these figures alone."""
import json
import os
import pathlib
import shutil
import subprocess
import sys

TREE = pathlib.Path(__file__).resolve().parent.parent.parent


def show_phone(build, rounds=60):
    build = pathlib.Path(build).resolve()
    if not (build / 'ui' / 'pages' / 'index.html').exists() or not (shutil.which('chromium') or shutil.which('chromium-browser')):
        print('\ntruing on the phone: not measured, the pages are not built or Chromium is not installed')
        return None
    print(f'\ntruing on the phone page of the demo bulletin, Chromium with its processor slowed to a quarter, {rounds} readings', flush=True)
    done = subprocess.run(['node', TREE / 'ui/test/run.mjs', TREE / 'ui/test/browser/speed.ts', build / 'ui/pages', build / 'mendwright', TREE, str(rounds)],
                          capture_output=True, text=True, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith('{')]
    if done.returncode or not lines:
        sys.exit(f'bench: the phone ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}')
    r = json.loads(lines[-1])
    for name, key in (('the answer', 'answer_ms'), ('last reading to verdict on screen', 'shown_ms')):
        t = r[key]
        print(f"  {name:<36} median {t['median']:7.1f} ms   p95 {t['p95']:7.1f} ms   worst {t['worst']:7.1f} ms")
    return r


def show_frames(build):
    """A whole run out at its true speed, on a phone's screen and on a projector's. Frames need the machine to themselves: the load is told."""
    build = pathlib.Path(build).resolve()
    if not (build / 'ui' / 'pages' / 'index.html').exists() or not (shutil.which('chromium') or shutil.which('chromium-browser')):
        return None
    print('\npractice, a run out at its true speed, Chromium (no graphics processor) with its processor slowed to a quarter', flush=True)
    rows = []
    for screen in ('phone', 'projector'):
        load = os.getloadavg()[0]
        done = subprocess.run(['node', TREE / 'ui/test/run.mjs', TREE / 'ui/test/browser/frames.ts', build / 'ui/pages', build / 'mendwright', TREE, screen],
                              capture_output=True, text=True, check=False)
        lines = [line for line in done.stdout.splitlines() if line.startswith('{')]
        if done.returncode or not lines:
            sys.exit(f'bench: the frames ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}')
        r = {**json.loads(lines[-1]), 'load': load}
        rows.append(r)
        print(f"  {r['screen']:<11} {r['per_second']:5.1f} frames a second over {r['seconds']:.0f} s; between frames median {r['median_ms']:.1f} ms, p95 {r['p95_ms']:.1f} ms, worst {r['worst_ms']:.0f} ms "
              f"(load before: {load:.1f} on {os.cpu_count()} processors)")
    return rows


if __name__ == '__main__':
    show_phone(sys.argv[1], *map(int, sys.argv[2:3]))
    show_frames(sys.argv[1])
