#!/usr/bin/env python3
"""The whole way, from a made-up campaign to its score: every sure fault found, nothing said of a clean claim, every claim ruled on, and
paid once. Three seeds; the kinds of all three together are all that are planted. Prints TAP.

usage: whole.py PROGRAM [UNITS [SEED...]]
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import ROOT, Tap  # noqa: E402

EVENING = '2026-12-01T18:00:00Z'
# So that few claims hold every kind: most of the later ones are faulty.
FAULTY = '70'


def call(program, *args):
    return subprocess.run([program, *map(str, args)], capture_output=True, text=True, timeout=900)


def lines(text):
    return [json.loads(line) for line in text.splitlines()]


def prepare(tap, program, campaign, store, units, seed):
    steps = [('demo', 'make', campaign, '--units', units, '--seed', seed, '--faulty', FAULTY), ('store', 'init', '--store', store),
             ('store', 'keep', 'bulletin', campaign / 'bulletin.yaml', '--store', store),
             ('store', 'keep', 'shops', campaign / 'shops.csv', '--store', store),
             ('store', 'keep', 'keys', campaign / 'keys.txt', '--store', store),
             ('store', 'builds', campaign / 'builds.csv', '--store', store)]
    for step in steps:
        done = call(program, *step)
        tap.ok(done.returncode == 0, f'seed {seed}: {step[0]} {step[1]} is good', done.stdout, done.stderr)


def one_seed(tap, program, scratch, units, seed):
    campaign, store = scratch / f'campaign-{seed}', scratch / f'store-{seed}'
    prepare(tap, program, campaign, store, units, seed)
    truth = json.loads((campaign / 'truth.json').read_text(encoding='utf-8'))
    kinds = {c['bag']: c['kind'] for c in truth['claims']}
    took = lines(call(program, 'take', '--arrivals', campaign / 'arrivals.csv', '--store', store, '--json').stdout)
    refused = sorted(pathlib.Path(t['bag']).name for t in took if t['result'] == 'refused')
    tap.ok(len(took) == len(kinds) and refused == sorted(b for b, k in kinds.items() if k == 'tampered'),
           f'seed {seed}: all bags are taken in but those that were tampered with', refused)
    unruled = call(program, 'demo', 'score', campaign, '--store', store)
    tap.ok(unruled.returncode == 1, f'seed {seed}: the score is no good before anything is ruled', unruled.stdout)
    ruled = call(program, 'rule', '--store', store, '--at', EVENING, '--json')
    rulings = lines(ruled.stdout)
    jobs = {t['claim']: pathlib.Path(t['bag']).name for t in took if t['result'] == 'taken'}
    for r in rulings:
        kind = kinds[jobs[r['claim']]] if r.get('claim') in jobs else None
        if kind == 'clean':
            tap.ok(r['verdict'] == 'pay' and r['findings'] == [] and r['amount_minor'] > 0, f'seed {seed}: {jobs[r["claim"]]} is clean and is paid',
                   json.dumps(r['findings'], indent=1))
        elif kind is not None and kind != 'expense-capped':
            tap.ok(r['verdict'] != 'pay' or kind == 'vin-wrong', f'seed {seed}: {jobs[r["claim"]]} is not paid: {kind}', json.dumps(r, indent=1))
    score = json.loads(call(program, 'demo', 'score', campaign, '--store', store, '--json').stdout)
    tap.ok(score['ok'] and score['missed'] == [] and score['blamed'] == [], f'seed {seed}: the score is good', json.dumps(score, indent=1))
    for kind in score['kinds']:
        if kind['deterministic']:
            tap.ok(kind['found'] == kind['planted'], f"seed {seed}: {kind['kind']}: all {kind['planted']} found")
        else:
            print(f"# seed {seed}: {kind['kind']}: {kind['found']} of {kind['planted']} found")
    # Counted here from the truth, apart from the program.
    counted = {k: sum(v == k for v in kinds.values()) for k in set(kinds.values()) - {'clean'}}
    tap.ok({k['kind']: k['planted'] for k in score['kinds']} == counted, f'seed {seed}: as many of each kind as the truth has')
    due = sum(r['amount_minor'] for r in rulings if r['verdict'] == 'pay')
    for _ in range(2):
        call(program, 'rule', '--settle', '--person', 'test', '--store', store, '--at', EVENING)
    paid = json.loads(call(program, 'demo', 'score', campaign, '--store', store, '--json').stdout)['paid_minor']
    tap.ok(paid == due > 0, f'seed {seed}: what was ruled to be paid is paid, once', paid, due)
    return set(counted)


def false_truths(tap, program, scratch, seed):
    """A truth that is not so must show in the score: a fault that was never planted is missed, a faulty claim called clean is blamed."""
    campaign, store, other = scratch / f'campaign-{seed}', scratch / f'store-{seed}', scratch / 'other'
    truth = json.loads((campaign / 'truth.json').read_text(encoding='utf-8'))
    other.mkdir()
    clean = next(c for c in truth['claims'] if c['kind'] == 'clean')
    faulty = next(c for c in truth['claims'] if c['kind'] == 'cut-missing')
    clean.update({'kind': 'late', 'deterministic': True, 'take': 'taken', 'expect': ['late']})
    faulty.clear()
    faulty.update({'bag': 'none.zip', 'job': '0' * 25 + '1', 'kind': 'clean'})
    (other / 'truth.json').write_text(json.dumps(truth), encoding='utf-8')
    done = call(program, 'demo', 'score', other, '--store', store, '--json')
    score = json.loads(done.stdout)
    tap.ok(done.returncode == 1 and score['missed'] == [f"{clean['bag']} late"], 'a fault that is nowhere is missed', done.stdout)
    tap.ok(score['blamed'] == ['none.zip not in the store'] and score['clean_with_findings'] == 1, 'a clean claim that is not there is told', done.stdout)


def main(argv):
    program, tap, seen = argv[0], Tap(), set()
    units = argv[1] if len(argv) > 1 else '60'
    with tempfile.TemporaryDirectory(prefix='mendwright-whole-') as scratch:
        for seed in argv[2:] or ('1', '2', '3'):
            seen |= one_seed(tap, program, pathlib.Path(scratch), units, seed)
        false_truths(tap, program, pathlib.Path(scratch), (argv[2:] or '1')[0])
    told = set(re.findall(r'^\| `([a-z-]+)` \|', (ROOT / 'doc' / 'demo.md').read_text(encoding='utf-8'), re.M)) - {'not-trued'}
    tap.ok(len(told) == 41 and told <= seen, 'every kind that doc/demo.md tells of came up', sorted(told - seen))
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
