"""desk: the Desk's calls on a large store: how long they take while many look at once, and what memory the server holds. Imported by run.

usage: desk.py BUILD BENCH_BUILD CLAIMS [UNITS [STORE]]     (a STORE that is there already is used as it is, and kept)
"""
import http.client
import json
import os
import pathlib
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from rulings import BULLETIN, EVENTS, without_photos  # noqa: E402

USERS, SECONDS = 20, 3
EXPORTS = [f'{name}.{form}' for name in ('units', 'claims', 'stations', 'readings', 'rulings', 'awards', 'payments', 'failures', 'shops') for form in ('csv', 'json')]
# Page of the Desk -> what it is called here -> (method, path, body). {..} is filled from what the store holds; BULLETIN stands for its file.
TEXT = object()
CALLS = {
    'every page': {'session': '/api/v1/session'},
    'campaign': {'campaign': '/api/v1/campaign', 'campaign, news since': '/api/v1/campaign?since=1700000000000', 'campaign, unchanged': '/api/v1/campaign [If-None-Match]'},
    'claims': {'claims': '/api/v1/claims?limit=100', 'the next hundred': '/api/v1/claims?limit=100&after={hundredth}', 'for a person': '/api/v1/claims?limit=100&needs=person',
               'to be paid': '/api/v1/claims?limit=100&needs=payment', 'paid verdict': '/api/v1/claims?limit=100&verdict=pay', 'asked': '/api/v1/claims?limit=100&verdict=ask',
               'without findings': '/api/v1/claims?limit=100&needs=payment&findings=none', 'of a shop': '/api/v1/claims?limit=100&shop={shop}', 'of a bulletin': '/api/v1/claims?limit=100&bulletin={bulletin}',
               'by VIN tail': '/api/v1/claims?limit=100&tail={tail}', 'by whole VIN': '/api/v1/claims?limit=100&vin={vin}', 'by rule': '/api/v1/claims?limit=100&rule={rule}'},
    'a claim': {'a claim': '/api/v1/claims/{claim}', 'its events': '/api/v1/claims/{claim}/events', 'its bulletin': '/api/v1/bulletins/{bulletin}/{revision}',
                'its letter, text': '/api/v1/claims/{claim}/letter?as=text&language=en', 'its letter, PDF': '/api/v1/claims/{claim}/letter?as=pdf&language=en'},
    'bulletins': {'bulletins': '/api/v1/bulletins', "a bulletin's file": '/api/v1/bulletins/{bulletin}/{revision}/file', 'drafts': '/api/v1/drafts', 'a draft': '/api/v1/drafts/bench',
                  'reference': '/api/v1/bulletins/reference', 'check': ('POST', '/api/v1/bulletins/check', {'text': TEXT, 'whole': False}),
                  'check, with preview': ('POST', '/api/v1/bulletins/check', {'text': TEXT, 'whole': True}), 'sheet, PDF': ('POST', '/api/v1/bulletins/sheet', {'text': TEXT, 'paper': 'a4'})},
    'units': {'by VIN, 4 characters': '/api/v1/units?limit=20&vin={tail4}', 'by VIN, 5 characters': '/api/v1/units?limit=20&vin={tail}', 'by VIN, 6 characters': '/api/v1/units?limit=20&vin={tail6}',
              'by VIN, whole': '/api/v1/units?limit=20&vin={vin}', 'by label': '/api/v1/units?limit=20&label=WD40%202024-W1', 'by shop': '/api/v1/units?limit=20&shop={shop}'},
    'people and shops': {'people': '/api/v1/people', 'shops': '/api/v1/shops', 'audit': '/api/v1/audit?limit=50', 'audit of a person': '/api/v1/audit?limit=50&who=bench', 'audit by what': '/api/v1/audit?limit=50&what=paid'},
    "a shop's Bench": {'open jobs': '/api/v1/jobs [technician]'},
}


def make(bench, program, folder, n_claims, n_units):
    """Claims by the generator of the rulings' bench, ruled on; and a build list of so many units that holds theirs."""
    store, bulletin = folder / 'store', folder / 'bulletin.yaml'
    bulletin.write_text(without_photos(BULLETIN.read_text(encoding='utf-8')), encoding='utf-8')
    tool = bench / 'test' / 'bench' / 'bench_rule'
    subprocess.run([tool, 'make', store, str(n_claims), EVENTS, bulletin], check=True)
    subprocess.run([tool, 'rule', store, bulletin], check=True, stdout=subprocess.DEVNULL)
    put_builds(program, folder, store, n_units)
    return store


def put_builds(program, folder, store, n_units):
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    vins = [r[0] for r in db.execute('SELECT DISTINCT vin FROM claims')]
    db.close()
    with (folder / 'builds.csv').open('w') as out:
        out.write('vin,station,label\n')
        for i in range(max(0, n_units - len(vins))):
            vins.append(f'ZZZFM24T0S{i:07d}')
        for i, vin in enumerate(vins):
            out.write(f'{vin},fore,WD40 2024-W{1 + i % 40:02d}\n{vin},aft,WD40 2024-W{1 + i % 37:02d}\n')
    subprocess.run([program, 'store', 'builds', folder / 'builds.csv', '--store', store], check=True, stdout=subprocess.DEVNULL)


def memory_mb(pid):
    """VmRSS now, VmHWM its peak (since forget_peak), and what of the present is anonymous: the rest are pages of files, which the system may take back."""
    text = pathlib.Path(f'/proc/{pid}/status').read_text()
    return {k: int(next(r for r in text.splitlines() if r.startswith(k)).split()[1]) / 1024 for k in ('VmRSS', 'VmHWM', 'RssAnon')}


def forget_peak(pid):
    """VmHWM begins anew from what the process holds now (proc(5), clear_refs)."""
    pathlib.Path(f'/proc/{pid}/clear_refs').write_text('5')


def tell_memory(pid, what):
    """What the work of that name took at most, and left; the next begins anew."""
    m = memory_mb(pid)
    forget_peak(pid)
    print(f"  {'memory: ' + what:<38} at most {m['VmHWM']:7.1f} MB, then {m['VmRSS']:7.1f}, of it anonymous {m['RssAnon']:.1f}", flush=True)
    return m


def processor_s(pid):
    """What the process has used of the processors so far."""
    fields = pathlib.Path(f'/proc/{pid}/stat').read_text().rsplit(')', 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf('SC_CLK_TCK')


class Caller:
    """One user's browser: a connection that is kept, a session and its token."""

    def __init__(self, port, cookie, csrf=''):
        self.port, self.headers, self.csrf, self.wire, self.last = port, {'Cookie': cookie}, csrf, None, 0.0

    def __call__(self, method, path, body=None, more=None, good=(200,)):
        if self.wire is None or time.perf_counter() - self.last > 10:  # the server closes what is silent for long
            self.wire = http.client.HTTPConnection('127.0.0.1', self.port, timeout=600)
        headers = {**self.headers, **(more or {})}
        if method != 'GET':
            headers |= {'X-Mendwright-Csrf': self.csrf, 'Content-Type': 'application/json'}
        start = time.perf_counter()
        self.wire.request(method, path, body, headers)
        answer = self.wire.getresponse()
        data = answer.read()
        self.last = time.perf_counter()
        took = self.last - start
        if answer.status not in good:
            raise RuntimeError(f'{method} {path}: {answer.status} {data[:200]}')
        return took, data, answer.headers


def sign_in(program, store, port, name, *words):
    subprocess.run([program, 'people', 'add', name, *words, '--store', store], check=False, capture_output=True)  # is there already in a store that was kept
    link = json.loads(subprocess.run([program, 'people', 'link', name, '--store', store, '--json'], check=True, capture_output=True, text=True).stdout)['link']
    wire = http.client.HTTPConnection('127.0.0.1', port, timeout=60)
    wire.request('POST', '/api/v1/session', json.dumps({'link': link}), {'Content-Type': 'application/json'})
    cookie = wire.getresponse().headers['Set-Cookie'].split(';')[0]
    wire.close()
    me = Caller(port, cookie)
    me.csrf = json.loads(me('GET', '/api/v1/session')[1])['csrf']
    return cookie, me.csrf


def crowd(port, who, method, path, body, more):
    """Times of all calls of USERS who ask again and again for SECONDS, each as soon as the last is answered."""
    times, failed, end = [], [], time.perf_counter() + SECONDS

    def ask():
        me = Caller(port, *who)
        try:
            while time.perf_counter() < end:
                times.append(me(method, path, body, more, (200, 304))[0])
        except (RuntimeError, OSError, http.client.HTTPException) as e:
            failed.append(f'{type(e).__name__}: {e}')

    threads = [threading.Thread(target=ask) for _ in range(USERS)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    if failed:
        raise RuntimeError(f'{method} {path}: {len(failed)} of {USERS} users broke off: {failed[0]}')
    return sorted(times)


def told(times):
    at = lambda share: 1000 * times[min(len(times) - 1, int(len(times) * share))]  # noqa: E731
    return {'n': len(times), 'p50_ms': at(0.5), 'p95_ms': at(0.95), 'p99_ms': at(0.99), 'most_ms': 1000 * times[-1]}


def look_around(me):
    """What the paths are filled with."""
    rows = json.loads(me('GET', '/api/v1/claims?limit=100')[1])['claims']
    r = rows[0]
    return {'claim': r['claim'], 'shop': r['shop'], 'vin': r['vin'], 'tail4': r['vin'][-4:], 'tail': r['vin'][-5:], 'tail6': r['vin'][-6:], 'bulletin': r['bulletin'], 'revision': r['revision'],
            'hundredth': rows[-1]['claim'], 'rule': next((x['finding'] for x in rows if x['finding']), 'late')}


def export(port, headers, name):
    """Times of one export, read as it comes; one whose list is not kept is answered 404 and gives no bytes."""
    wire = http.client.HTTPConnection('127.0.0.1', port, timeout=3600)
    start, n = time.perf_counter(), 0
    wire.request('GET', f'/api/v1/export/{name}', headers=headers)
    answer = wire.getresponse()
    first = time.perf_counter() - start
    while piece := answer.read(1 << 20):
        n += len(piece)
    wire.close()
    if answer.status not in (200, 404):
        raise RuntimeError(f'export {name}: {answer.status}')
    return {'first_s': first, 'all_s': time.perf_counter() - start, 'bytes': n if answer.status == 200 else 0}


def what_if(me, text):
    took, _, headers = me('POST', '/api/v1/bulletins/what-if', json.dumps({'text': text}), good=(202,))
    start = time.perf_counter()
    while (state := json.loads(me('GET', headers['Location'])[1])['state']) in ('waiting', 'running'):
        time.sleep(0.1)
    if state != 'done':
        raise RuntimeError(f'what if: {state}')
    return {'first_s': took, 'all_s': time.perf_counter() - start + took, 'bytes': 0}


def at_once(works):
    """What several functions return, each in a thread of its own; the first fault of one is raised."""
    back = [None] * len(works)

    def run(i):
        try:
            back[i] = works[i]()
        except (RuntimeError, OSError, http.client.HTTPException) as e:
            back[i] = e

    threads = [threading.Thread(target=run, args=(i,)) for i in range(len(works))]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    for b in back:
        if isinstance(b, Exception):
            raise b
    return back


def long_work(pid, me, who, text):
    """What takes longer than a call: each by itself, then exports beside a what-if, and two of those one behind the other."""
    results, memory = {}, {}
    mine = lambda: Caller(me.port, *who)  # noqa: E731
    for name in EXPORTS:
        results[f'export {name}'] = export(me.port, me.headers, name)
        memory[f'export {name}'] = tell_memory(pid, f'export {name}')
    results['what if'] = what_if(me, text)
    memory['what if'] = tell_memory(pid, 'what if')
    both = at_once([lambda: what_if(mine(), text), lambda: what_if(mine(), text), *[lambda name=name: export(me.port, me.headers, name) for name in ('units.json', 'readings.json')]])
    results['two what ifs and two exports at once'] = {'first_s': both[0]['first_s'], 'all_s': max(b['all_s'] for b in both), 'bytes': sum(b['bytes'] for b in both)}
    memory['two what ifs and two exports at once'] = tell_memory(pid, 'two what ifs, two exports at once')
    return results, memory


def run_calls(port, pid, who, technician, me, of, text):
    results, memory = {}, {}
    tag = me('GET', '/api/v1/campaign')[2]['ETag']
    for page, calls in CALLS.items():
        for name, what in calls.items():
            method, path, body = what if isinstance(what, tuple) else ('GET', what, None)
            path, _, note = path.partition(' ')
            if body is not None:
                body = json.dumps({k: text if v is TEXT else v for k, v in body.items()})
            more = {'If-None-Match': tag} if 'If-None-Match' in note else None
            before = processor_s(pid)
            c = results[f'{page}: {name}'] = told(crowd(port, technician if 'technician' in note else who, method, path.format(**of), body, more))
            c['processor_ms'] = 1000 * (processor_s(pid) - before) / c['n']
            print(f"  {page + ': ' + name:<38} processor {c['processor_ms']:6.2f}   p50 {c['p50_ms']:7.1f}   p95 {c['p95_ms']:7.1f}   p99 {c['p99_ms']:7.1f}   most {c['most_ms']:8.1f} ms   {c['n']:,} calls", flush=True)
        memory[page] = tell_memory(pid, page)
    return results, memory


def measure(program, store):
    server = subprocess.Popen([program, 'serve', '--store', str(store), '--listen', '127.0.0.1:0', '--json'], stdout=subprocess.PIPE, text=True)
    try:
        began = time.perf_counter()
        port = json.loads(server.stdout.readline())['port']
        who = sign_in(program, store, port, 'bench', '--role', 'owner')
        me = Caller(port, *who)
        of = look_around(me)
        data = me('GET', '/api/v1/campaign')[1]
        first = time.perf_counter() - began
        again = me('GET', '/api/v1/campaign')[0]
        about = json.loads(data)
        text = me('GET', f"/api/v1/bulletins/{of['bulletin']}/{of['revision']}/file")[1].decode()
        me('PUT', '/api/v1/drafts/bench', json.dumps({'text': text}), {'If-None-Match': '*'}, (200, 412))
        technician = sign_in(program, store, port, 'bench-shop', '--role', 'technician', '--shop', of['shop'])
        results = {'first_s': first, 'again_s': again, 'bytes': len(data), 'units': about['units'], 'claims': sum(c['claims'] for c in about['claims'])}
        print(f"\nthe Desk's calls, {USERS} users at once for {SECONDS} s each: {results['claims']:,} claims, {about['units']['in_scope']:,} units in scope; load {os.getloadavg()[0]:.1f}")
        print(f"  campaign, from the start of the server {first * 1000:9.0f} ms   reads the store into memory; again {again * 1000:.1f} ms; {len(data) / 1024:.0f} KiB", flush=True)
        memory = {'campaign, first': tell_memory(server.pid, 'campaign, first')}
        results['calls'], more = run_calls(port, server.pid, who, technician, me, of, text)
        memory |= more
        results['long'], more = long_work(server.pid, me, who, text)
        results['memory_mb'] = memory | more
        return results
    finally:
        server.terminate()
        server.wait(timeout=60)


def measure_import(program, folder, n_units):
    """A build list of so many units, two stations each, into an empty store; beside it `.import` of the sqlite3 shell of the same file, into
    a table that it makes itself and into one with the store's key and indexes. Wall clock and the processor's time, the best of three."""
    (folder / 'list.csv').unlink(missing_ok=True)
    with (folder / 'list.csv').open('w') as out:
        out.write('vin,station,label\n')
        for i in range(n_units):
            vin = f'ZZZFM24T0S{i:07d}'
            out.write(f'{vin},fore,WD40 2024-W{1 + i % 40:02d}\n{vin},aft,WD40 2024-W{1 + i % 37:02d}\n')
    keyed = ('CREATE TABLE builds (vin TEXT NOT NULL, station TEXT NOT NULL, label TEXT, PRIMARY KEY (vin, station)) STRICT, WITHOUT ROWID;'
             'CREATE INDEX by_serial ON builds (substr(vin, 12)); CREATE INDEX by_label ON builds (label);')
    ways = {'plain': ['sqlite3', folder / 'plain.db', '-cmd', '.mode csv', f'.import {folder}/list.csv builds'],
            'keyed': ['sqlite3', folder / 'keyed.db', '-cmd', keyed, '-cmd', '.mode csv', f'.import --skip 1 {folder}/list.csv builds'],
            'ours': [program, 'store', 'builds', folder / 'list.csv', '--store', folder / 'empty']}
    best = {}
    for _ in range(3):  # in turns
        for name, command in ways.items():
            for old in folder.glob('*.db*'):
                old.unlink()
            shutil.rmtree(folder / 'empty', ignore_errors=True)
            subprocess.run([program, 'store', 'init', '--store', folder / 'empty'], check=True, capture_output=True)
            before, start = os.times(), time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            took, after = time.perf_counter() - start, os.times()
            cpu = after.children_user + after.children_system - before.children_user - before.children_system
            best[name] = {'wall_s': min(took, best.get(name, {}).get('wall_s', took)), 'cpu_s': min(cpu, best.get(name, {}).get('cpu_s', cpu))}
    return best


def show_import(program, folder, n_units):
    best = measure_import(program, folder, n_units)
    print(f'\na build list of {n_units:,} units (two stations each) into an empty store, against .import of the sqlite3 shell, best of three in turns')
    for name, what in (('plain', '.import, a table of its own'), ('keyed', '.import, our key and indexes'), ('ours', 'mendwright store builds')):
        b = best[name]
        print(f"  {what:<30} {b['wall_s']:7.2f} s  {b['wall_s'] / best['plain']['wall_s']:5.2f} x   processor {b['cpu_s']:6.2f} s  {b['cpu_s'] / best['plain']['cpu_s']:5.2f} x")
    return best


def show_desk(build, bench, n_claims, n_units=1_000_000, store=None):
    program = build / 'mendwright'
    with tempfile.TemporaryDirectory(dir=bench) as scratch:
        made = store or make(bench, program, pathlib.Path(scratch), n_claims, n_units)
        r = measure(program, made)
        if store is None:
            shutil.rmtree(made)
    for name, c in r['long'].items():
        print(f"  {name:<38} begins {c['first_s'] * 1000:9.0f} ms   is done after {c['all_s']:7.1f} s   {c['bytes'] / 1e6:,.0f} MB, one user")
    name, most = max(r['memory_mb'].items(), key=lambda m: m[1]['VmHWM'])
    print(f"  memory of the server at most           {most['VmHWM']:7.1f} MB, with {name}")
    with tempfile.TemporaryDirectory(dir=bench) as scratch:
        r['import'] = show_import(program, pathlib.Path(scratch), n_units)
    return r


if __name__ == '__main__':
    show_desk(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]) if len(sys.argv) > 4 else 1_000_000,
              pathlib.Path(sys.argv[5]) if len(sys.argv) > 5 else None)
