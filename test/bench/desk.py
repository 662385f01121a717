"""desk: the Desk's calls on a large store: how long they take while many look at once, and what memory the server holds. Imported by run.

usage: desk.py BUILD BENCH_BUILD CLAIMS [UNITS [STORE]]     (a STORE that is there already is used as it is, and kept)
"""
import http.client
import json
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

USERS, SECONDS = 20, 5
CALLS = {'campaign': '/api/v1/campaign', 'campaign since': '/api/v1/campaign?since=1700000000000', 'claims': '/api/v1/claims?limit=100', 'a claim': '/api/v1/claims/{claim}',
         'claims for a person': '/api/v1/claims?limit=100&needs=person', 'claims, ask': '/api/v1/claims?limit=100&verdict=ask', 'claims, clean': '/api/v1/claims?limit=100&needs=payment&findings=none',
         'claims of a shop': '/api/v1/claims?limit=100&shop={shop}', 'claims by VIN tail': '/api/v1/claims?limit=100&tail={tail}', 'claims by rule': '/api/v1/claims?limit=100&rule={rule}',
         'units by VIN tail': '/api/v1/units?vin={tail}', 'drafts': '/api/v1/drafts', 'reference': '/api/v1/bulletins/reference'}


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
    text = pathlib.Path(f'/proc/{pid}/status').read_text()
    return {k: int(next(r for r in text.splitlines() if r.startswith(k)).split()[1]) / 1024 for k in ('VmRSS', 'VmHWM')}


def call(port, cookie, path):
    wire = http.client.HTTPConnection('127.0.0.1', port, timeout=600)
    start = time.perf_counter()
    wire.request('GET', path, headers={'Cookie': cookie})
    answer = wire.getresponse()
    data = answer.read()
    took = time.perf_counter() - start
    wire.close()
    if answer.status != 200:
        raise RuntimeError(f'{path}: {answer.status} {data[:200]}')
    return took, data


def crowd(port, cookie, path):
    """Times of all calls of USERS who ask again and again for SECONDS."""
    times, end = [], time.perf_counter() + SECONDS

    def ask():
        while time.perf_counter() < end:
            times.append(call(port, cookie, path)[0])

    threads = [threading.Thread(target=ask) for _ in range(USERS)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    return sorted(times)


def measure(program, store):
    subprocess.run([program, 'people', 'add', 'bench', '--role', 'owner', '--store', store], check=True, capture_output=True)
    server = subprocess.Popen([program, 'serve', '--store', str(store), '--listen', '127.0.0.1:0', '--json'], stdout=subprocess.PIPE, text=True)
    try:
        port = json.loads(server.stdout.readline())['port']
        link = json.loads(subprocess.run([program, 'people', 'link', 'bench', '--store', store, '--json'], check=True, capture_output=True, text=True).stdout)['link']
        wire = http.client.HTTPConnection('127.0.0.1', port, timeout=60)
        wire.request('POST', '/api/v1/session', json.dumps({'link': link}), {'Content-Type': 'application/json'})
        cookie = wire.getresponse().headers['Set-Cookie'].split(';')[0]
        wire.close()
        first, data = call(port, cookie, CALLS['campaign'])
        told = json.loads(data)
        rows = json.loads(call(port, cookie, CALLS['claims'])[1])['claims']
        of = {'claim': rows[0]['claim'], 'shop': rows[0]['shop'], 'tail': rows[0]['vin'][-5:], 'rule': next((r['finding'] for r in rows if r['finding']), 'late')}
        results = {'first_s': first, 'bytes': len(data), 'units': told['units'], 'claims': sum(c['claims'] for c in told['claims']), 'calls': {}}
        for name, path in CALLS.items():
            times = crowd(port, cookie, path.format(**of))
            results['calls'][name] = {'n': len(times), 'p50_ms': 1000 * times[len(times) // 2], 'p95_ms': 1000 * times[int(len(times) * 0.95)], 'most_ms': 1000 * times[-1]}
        results['memory_mb'] = memory_mb(server.pid)
        return results
    finally:
        server.terminate()
        server.wait(timeout=60)


def show_desk(build, bench, n_claims, n_units=1_000_000, store=None):
    program = build / 'mendwright'
    with tempfile.TemporaryDirectory(dir=bench) as scratch:
        made = store or make(bench, program, pathlib.Path(scratch), n_claims, n_units)
        r = measure(program, made)
        if store is None:
            shutil.rmtree(made)
    print(f"\nthe Desk's calls, {USERS} users at once for {SECONDS} s each: {r['claims']:,} claims, {r['units']['in_scope']:,} units in scope")
    print(f"  first call of the campaign  {r['first_s'] * 1000:9.0f} ms   reads the store into memory; {r['bytes'] / 1024:.0f} KiB")
    for name, c in r['calls'].items():
        print(f"  {name:<26}  {c['p50_ms']:9.1f} ms   p95 {c['p95_ms']:8.1f} ms   most {c['most_ms']:8.1f} ms   {c['n']:,} calls")
    print(f"  memory of the server        {r['memory_mb']['VmRSS']:9.0f} MB   at most {r['memory_mb']['VmHWM']:.0f} MB")
    return r


if __name__ == '__main__':
    show_desk(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]) if len(sys.argv) > 4 else 1_000_000,
              pathlib.Path(sys.argv[5]) if len(sys.argv) > 5 else None)
