#!/usr/bin/env python3
"""Ctrl-C during a study: the answer so far that says so, or a plain word that there is none. Prints TAP.

usage: study_stop.py PROGRAM
"""
import json
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time

count = n_bad = 0


def ok(good, what, *notes):
    global count, n_bad
    count, n_bad = count + 1, n_bad + (not good)
    print(f"{'' if good else 'not '}ok {count} - {what}")
    for note in notes if not good else ():
        print(f'# {note}')


def while_reading(program):
    """More rows come as long as it lives; it stops by itself, without a figure from half a file."""
    run = subprocess.Popen([program, 'study', 'labour', '-', '--minutes', 'min'], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE)
    end = time.monotonic() + 120
    try:
        run.stdin.write(b'min\n' + b'5\n6\n' * 20000)
        run.stdin.flush()
        run.send_signal(signal.SIGINT)
        while run.poll() is None and time.monotonic() < end:
            run.stdin.write(b'5\n6\n' * 5000)
            run.stdin.flush()
    except BrokenPipeError:
        pass
    try:
        run.stdin.close()
    except BrokenPipeError:
        pass
    out, err = run.stdout.read(), run.stderr.read().decode()
    code = run.wait()
    ok(code == 3 and out == b'', f'stopped while reading: exit {code}, no figures')
    ok(err.count('\n') == 1 and 'stopped after' in err and 'before all were read' in err, 'and says so in a line', err)


def while_working(program, folder):
    """Thousands of small groups are simulated one by one; the ones that were done are told."""
    rng = random.Random(5)
    path = folder / 'groups.csv'
    path.write_text('mm,shop\n' + ''.join(f'{rng.gauss(58, 2):.1f},S{i % 4000}\n' for i in range(160000)))
    for wait in (1, 2, 4, 8):
        run = subprocess.Popen([program, 'study', 'digits', path, '--value', 'mm', '--by', 'shop', '--step', '0.1', '--json'],
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(wait)
        run.send_signal(signal.SIGINT)
        out, err = run.communicate()
        if run.returncode in (0, 1):  # else it was still reading, or had not begun
            break
    ok(run.returncode in (0, 1) and err == b'', f'stopped at work: exit {run.returncode}', err.decode())
    answer = json.loads(out) if out else {'groups': [], 'partial': None, 'assumptions': []}
    known = sum(g['p'] is not None for g in answer['groups'])
    ok(answer['partial'] is True and 0 < known < 4000, f'the answer so far: {known} of 4000 groups')
    ok(any('Stopped early' in note['text'] for note in answer['assumptions']), 'and says so')


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    while_reading(program)
    with tempfile.TemporaryDirectory(prefix='mendwright-stop-') as name:
        while_working(program, pathlib.Path(name))
    print(f'1..{count}')
    return 1 if n_bad else 0


if __name__ == '__main__':
    sys.exit(main())
