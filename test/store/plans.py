#!/usr/bin/env python3
"""How PostgreSQL goes about every statement that the store's tests send: by an index, or by reading a large table whole. TAP.

PostgreSQL itself says it: its module auto_explain writes each statement's plan into the server's log. The store has some hundred claims
and the planner its statistics; reading tables whole is switched off for it, and so are the joins that read both sides whole, which are cheapest
where tables are as small as here: what it then still reads whole, no index serves. A statement with values bound asks for one claim, one unit,
one shop or what came after a place; each of its tables must be read by a condition on an index, or in an
index's order until a page is full. What is asked for all there is (a list of
everything, a count, the passes of rebuild and verify) has no values and reads all there is: those are not judged.

usage: plans.py WRITER PROGRAM ASKER    WRITER makes a store of invented claims, ASKER asks it everything
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import server

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

SETTINGS = {'session_preload_libraries': 'auto_explain', 'auto_explain.log_min_duration': '0', 'auto_explain.log_format': 'json',
            'auto_explain.log_timing': 'off', 'auto_explain.log_nested_statements': 'off', 'log_line_prefix': '', 'enable_seqscan': 'off',
            'enable_mergejoin': 'off', 'enable_hashjoin': 'off', 'random_page_cost': '1'}
CLAIMS = 600
# Small by their nature: a handful of rows however large the campaign.
SMALL = {'meta', 'tallies', 'papers', 'people', 'links', 'sessions', 't'}
# The first row that comes is the answer, whichever it is.
FIRST_ROW = {'SELECT 1 FROM builds WHERE seq >= $1 LIMIT 1'}


def plans(log):
    """Each plan of the log as an object."""
    decoder = json.JSONDecoder(strict=False)
    for found in re.finditer(r'plan:\n', log):
        start = log.index('{', found.end())
        yield decoder.raw_decode(log, start)[0]


def scans(node, stops=False):
    """Every node that reads a table, as (node, table, whether it stops once a LIMIT above it has its rows)."""
    if 'Relation Name' in node and 'Scan' in node['Node Type']:
        yield node, re.sub(r'_p\d+$', '', node['Relation Name']), stops
    stops = node['Node Type'] == 'Limit' or (stops and node['Node Type'] not in ('Sort', 'Aggregate', 'Hash', 'Unique', 'Materialize'))
    for below in node.get('Plans', []):
        yield from scans(below, stops)


def is_whole(node, stops):
    """Reads the table from end to end: without a condition on an index, and not in an index's order until there are enough."""
    if node['Node Type'] == 'Bitmap Heap Scan':  # the index is in a node of its own below
        return 'Recheck Cond' not in node
    return node['Node Type'] == 'Seq Scan' or ('Index Cond' not in node and not stops)


def main(argv):
    if len(argv) != 3:
        sys.exit(__doc__)
    writer, program, asker = argv
    with server.Server(**SETTINGS) as s, tempfile.TemporaryDirectory() as scratch:
        subprocess.run([writer, '--claims', str(CLAIMS), '--photos', f'{scratch}/store'], check=True, stdout=subprocess.DEVNULL)
        address = s.store(f'{scratch}/files', log_part=10000)
        done = subprocess.run([program, 'store', 'copy', f'{scratch}/store', address], capture_output=True, text=True)
        ok(done.returncode == 0, f'{CLAIMS} claims copied to the server', done.stderr)
        s.ask('ANALYZE')
        before = (s.folder / 'log').stat().st_size
        done = subprocess.run([asker, address], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        ok(done.returncode == 0 and int(done.stdout) > 500, f'everything asked: {done.stdout.strip()} answers')
        log = re.sub(r'\n\t', '\n', (s.folder / 'log').read_bytes()[before:].decode(errors='replace'))
    seen = {}
    for plan in plans(log):
        text = ' '.join(plan['Query Text'].split())
        text = re.sub(r'^DECLARE m\d+ NO SCROLL CURSOR FOR ', '', text)
        if text.startswith('FETCH') or not re.match('SELECT|INSERT|UPDATE|DELETE', text):
            continue
        for node, table, stops in scans(plan['Plan']):
            if is_whole(node, stops) and table not in SMALL:
                seen.setdefault(text, set()).add(table)
        seen.setdefault(text, set())
    asked = {t: tables for t, tables in seen.items() if '$1' in t and t not in FIRST_ROW}
    ok(len(asked) > 40, f'{len(asked)} statements with values were planned, {len(seen)} in all')
    bad = {t: tables for t, tables in asked.items() if tables}
    ok(not bad, 'none of them reads a large table whole', *(f'{sorted(tables)}: {t}' for t, tables in sorted(bad.items())))
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
