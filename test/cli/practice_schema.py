#!/usr/bin/env python3
"""Holds doc/practice.schema.json to what `mendwright practice check --export` prints, and doc/practice.md to the program. Prints TAP.

usage: practice_schema.py PROGRAM

The schema is read by the checker of schema.py and, where Debian's python3-jsonschema is there, by that as well.
"""
import copy
import json
import pathlib
import re
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import schema  # noqa: E402
from run import ROOT, Tap  # noqa: E402

SETS = sorted((ROOT / 'examples' / 'practice').glob('*.yaml'))
BREAKS = [  # what the schema must refuse: path to a value, and the value in its place (None: taken out)
    (['set'], 'First Steps'), (['sha256'], 'abc'), (['exam'], 'yes'), (['exercises'], []), (['title', 'en'], ''), (['language'], None),
    (['exercises', 0, 'level'], 'simple'), (['exercises', 0, 'seed'], -1), (['exercises', 0, 'seed'], 1.5), (['exercises', 0, 'faults'], []),
    (['exercises', 0, 'faults', 0, 'fault'], 'tooth'), (['exercises', 0, 'faults', 0, 'side'], 'left'), (['exercises', 0, 'faults', 0, 'amount'], '1 teeth'),
    (['exercises', 0, 'goal'], ['gaps', 'gaps']), (['exercises', 0, 'limits', 'minutes'], 0), (['exercises', 0, 'limits', 'moves'], None),
    (['exercises', 0, 'pace'], 3), (['exercises', 0, 'questions', 0, 'choices', 0, 'right'], False), (['exercises', 0, 'id'], None),
]


def change(data, path, value):
    for step in path[:-1]:
        data = data[step]
    if value is None:
        del data[path[-1]]
    else:
        data[path[-1]] = value


def main():
    tap = Tap()
    program = sys.argv[1]
    text = json.loads((ROOT / 'doc' / 'practice.schema.json').read_text())
    out = subprocess.run([program, 'practice', 'check', '--export', *map(str, SETS)], capture_output=True, text=True)
    tap.ok(out.returncode == 0, 'the sets are exported', out.stderr)
    sets = json.loads(out.stdout)
    tap.ok(len(sets) == len(SETS), f'{len(SETS)} files give {len(SETS)} sets')

    outside = schema.outside_checker(text)

    def is_good(value):
        ours = schema.applies(text, text, value)
        if outside is not None and outside.is_valid(value) != ours:
            raise RuntimeError(f'two checkers disagree on {json.dumps(value)[:300]}')
        return ours

    tap.ok(is_good(sets), 'what is exported holds to the schema')
    for path, value in BREAKS:
        broken = copy.deepcopy(sets[[s['set'] for s in sets].index('first-steps')])
        change(broken, path, value)
        tap.ok(not is_good([broken]), f'the schema refuses {".".join(map(str, path))} {"left out" if value is None else json.dumps(value)}')
    faults = text['$defs']['fault']['properties']['fault']['enum']
    header = (ROOT / 'src' / 'core' / 'practice.h').read_text()
    known = re.findall(r'X\(PRACTICE_\w+, \d+,[\s\\\\]*"([a-z-]+)"\)', header.split('PRACTICE_FAULT_TABLE')[1].split('enum practice_fault_kind')[0])
    tap.ok(faults == known, 'the schema has the faults of the model', f'{faults} {known}')
    manual = (ROOT / 'doc' / 'practice.md').read_text()
    tap.ok(all(f'`{f}`' in manual for f in faults), 'doc/practice.md names each fault')
    tap.ok(all(f'`{g}`' in manual or f'[{g}]' in manual for g in text['$defs']['exercise']['properties']['goal']['items']['enum']), 'and each goal')
    for s in sets:
        tap.ok(f"{s['set']}.yaml" in manual, f"and the set {s['set']}")
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
