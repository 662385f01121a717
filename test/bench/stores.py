#!/usr/bin/env python3
"""SQLite beside PostgreSQL beside four server processes on one PostgreSQL, under the same load: claims taken in at the store, bags
taken in over HTTP, the campaign's call, a claim's call, the list of claims, and a mix of all by turns, as pgbench runs its scripts by weight.
Prints a table with the machine and its load before and after. Each is warmed up first (a second, and a bag, that are not counted); p50 and p99
are of single calls; whatever is answered otherwise than well is counted and shown. PostgreSQL is Debian's, on the same machine and disk,
waits for the disk as SQLite does (fsync, synchronous_commit), and has its settings as they come otherwise.

usage: stores.py PROGRAM BENCH_STORE [--claims N] [--bags N] [--seconds N]       (the optimised build; a machine that does nothing else)

All run on one machine, so that what a second machine would add is not seen here: with as few cores as servers, four share what one had.
"""
import argparse
import json
import os
import pathlib
import platform
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / 'test' / 'serve'), str(ROOT / 'test' / 'store')]
import door  # noqa: E402
import server as postgresql  # noqa: E402

CLIENTS = 8


def machine():
    name = next((r.split(':', 1)[1].strip() for r in pathlib.Path('/proc/cpuinfo').read_text().splitlines() if r.startswith('model name')), platform.machine())
    return f'{name}, {os.cpu_count()} cores, load before the run {os.getloadavg()[0]:.1f}'


def make_bags(program, folder, n):
    """The example job, made into different bags by a note in each."""
    made = []
    for i in range(n):
        job, out = folder / f'job{i}', folder / f'{i}.zip'
        shutil.copytree(ROOT / 'examples/jobs/ov-26-03-a', job)
        (job / 'note.txt').write_text(f'{i}\n')
        subprocess.run([program, 'bag', 'make', job, '-o', out], check=True, stdout=subprocess.DEVNULL)
        shutil.rmtree(job)
        made.append(out.read_bytes())
    return made


def take_at_store(writer, store, n, n_processes):
    """Claims a second, by processes that each take their share."""
    each = n // n_processes
    began = time.perf_counter()
    running = [subprocess.Popen([writer, '--claims', str(each), '--from', str(k * each), store], stdout=subprocess.DEVNULL) for k in range(n_processes)]
    assert all(p.wait() == 0 for p in running)
    return each * n_processes / (time.perf_counter() - began)


def starts(program, store, folder, n):
    """n server processes on one store, as door.Server each."""
    servers = []
    for i in range(n):
        s = door.Server.__new__(door.Server)
        s.program, s.folder, s.store, s.options, s.process = program, folder / f'server{i}', store, ('--threads', '2'), None
        s.folder.mkdir()
        servers.append(s.start())
    return servers


def shares(calls):
    """What clients in threads say that they did, together: seconds for each call that went well, and how many did not."""
    times, bad, lock = [], [], threading.Lock()

    def run(call):
        mine, wrong = call()
        with lock:
            times.extend(mine)
            bad.extend(wrong)

    threads = [threading.Thread(target=run, args=(call,)) for call in calls]
    began = time.perf_counter()
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    return figure(len(times) / (time.perf_counter() - began), times, bad)


def figure(rate, times, bad):
    times = sorted(times)
    at = lambda share: 1000 * times[min(len(times) - 1, int(share * len(times)))] if times else float('nan')  # noqa: E731
    return {'rate': rate, 'p50_ms': at(0.50), 'p99_ms': at(0.99), 'errors': len(bad), 'first': str(bad[0])[:200] if bad else ''}


def as_person(server, cookies):
    someone = door.Someone(server)
    someone.cookie, someone.csrf = cookies
    return someone


def send_bags(servers, cookies, made):
    """Bags a second, by clients that each speak to one of the servers. The first bag is not counted."""
    left, lock = list(made), threading.Lock()
    warm = left.pop()
    as_person(servers[0], cookies).send('PUT', f'/api/v1/bags/{door.sha256(warm)}', warm)

    def client(i):
        someone, times, bad = as_person(servers[i % len(servers)], cookies), [], []
        while True:
            with lock:
                if not left:
                    return times, bad
                data = left.pop()
            began = time.perf_counter()
            answer = someone.send('PUT', f'/api/v1/bags/{door.sha256(data)}', data)
            (times if answer.status == 201 else bad).append(time.perf_counter() - began if answer.status == 201 else answer.text)

    return shares([lambda i=i: client(i) for i in range(CLIENTS)])


MIX = (('bag', 1), ('claim', 5), ('list', 3), ('campaign', 1))  # weights


def mix(servers, tech, clerk, made, paths, seconds):
    """By weight and at random, the same for all (seeded), for so many seconds: a bag, a claim's page, the list, the campaign."""
    left, lock = list(made), threading.Lock()

    def client(i):
        draw, times, bad = random.Random(1000 + i), [], []
        server = servers[i % len(servers)]
        sender, reader = as_person(server, tech), as_person(server, clerk)
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            what = draw.choices([m[0] for m in MIX], [m[1] for m in MIX])[0]
            with lock:
                data = left.pop() if what == 'bag' and left else None
            if what == 'bag' and data is None:
                what = 'claim'
            began = time.perf_counter()
            answer = sender.send('PUT', f'/api/v1/bags/{door.sha256(data)}', data) if data else reader.get(paths[what])
            took = time.perf_counter() - began
            is_good = answer.status == (201 if data else 200)
            (times if is_good else bad).append(took if is_good else answer.text)
        return times, bad

    return shares([lambda i=i: client(i) for i in range(CLIENTS)])


def wrk(server, cookie, path, n, seconds):
    return subprocess.Popen(['wrk', '--latency', '-t', '1', '-c', str(n), '-d', f'{seconds}s', '-H', f'Cookie: {cookie}', f'http://127.0.0.1:{server.port}{path}'],
                            stdout=subprocess.PIPE, text=True)


def milliseconds(said, share):
    value, unit = re.search(rf'^\s+{share}%\s+([\d.]+)(us|ms|s)$', said, re.M).groups()
    return float(value) * {'us': 0.001, 'ms': 1.0, 's': 1000.0}[unit]


def ask(servers, cookie, path, seconds):
    """Answers a second, by wrk: the clients shared out among the servers. p50 and p99 are of the slowest server."""
    each = CLIENTS // len(servers)
    for p in [wrk(s, cookie, path, each, 1) for s in servers]:
        p.communicate()
    told = [p.communicate()[0] for p in [wrk(s, cookie, path, each, seconds) for s in servers]]
    errors = sum(int(n) for said in told for n in re.findall(r'Non-2xx or 3xx responses: (\d+)', said))
    errors += sum(int(n) for said in told for n in re.findall(r'(?:connect|read|write|timeout) (\d+)', said))
    return {'rate': sum(float(re.search(r'Requests/sec:\s+([\d.]+)', said)[1]) for said in told), 'errors': errors, 'first': '',
            'p50_ms': max(milliseconds(said, 50) for said in told), 'p99_ms': max(milliseconds(said, 99) for said in told)}


def cell(f):
    return f"{f['rate']:.1f}" + (f"  {f['p50_ms']:.1f}/{f['p99_ms']:.1f}" if 'p50_ms' in f else '')


def measure(options, store_word, n_servers, made, folder):
    program = options.program
    row = {}
    row['claims'] = {'rate': take_at_store(options.writer, store_word('direct'), options.claims, n_servers)}
    store = store_word('served')
    subprocess.run([program, 'store', 'init', '--store', store], check=True, stdout=subprocess.DEVNULL)
    subprocess.run([program, 'store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', store], check=True, stdout=subprocess.DEVNULL)
    servers = starts(program, store, folder, n_servers)
    try:
        tech, clerk = servers[0].person('ines', 'technician', 'fern-mobile-2'), servers[0].person('clara', 'clerk')
        half = len(made) // 2
        row['bags'] = send_bags(servers, (tech.cookie, tech.csrf), made[:half])
        subprocess.run([program, 'rule', '--store', store], stdout=subprocess.DEVNULL)
        claim = clerk.get('/api/v1/claims').json['claims'][0]['claim']
        paths = {'campaign': '/api/v1/campaign?since=0', 'claim': f'/api/v1/claims/{claim}', 'list': '/api/v1/claims?needs=shop&limit=50'}
        for name, path in paths.items():
            row[name] = ask(servers, clerk.cookie, path, options.seconds)
        row['mix'] = mix(servers, (tech.cookie, tech.csrf), (clerk.cookie, clerk.csrf), made[half:], paths, options.seconds)
    finally:
        for s in servers:
            s.stop(signal.SIGTERM)
    verified = json.loads(subprocess.run([program, 'store', 'verify', '--store', store, '--json'], check=True, capture_output=True, text=True).stdout)
    assert verified['ok'] and verified['claims'] >= half, verified
    return row


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('program')
    parser.add_argument('writer')
    parser.add_argument('--claims', type=int, default=2000)
    parser.add_argument('--bags', type=int, default=120)
    parser.add_argument('--seconds', type=int, default=5)
    options = parser.parse_args(argv)
    options.program, options.writer = (str(pathlib.Path(p).resolve()) for p in (options.program, options.writer))
    print(machine())
    rows = {}
    with tempfile.TemporaryDirectory(prefix='mw-stores-') as scratch, postgresql.Server(fsync='on', shared_buffers='128MB') as pg:
        scratch = pathlib.Path(scratch)
        (scratch / 'bags').mkdir()
        made = make_bags(options.program, scratch / 'bags', options.bags)
        for name, n_servers, on_server in (('SQLite, one server', 1, False), ('PostgreSQL, one server', 1, True), ('PostgreSQL, four servers', 4, True)):
            folder = scratch / name.replace(' ', '').replace(',', '')
            folder.mkdir()
            schema = f's{n_servers}'

            def word(what, folder=folder, schema=schema, on_server=on_server):
                return pg.store(folder / what, f'{schema}_{what}') if on_server else str(folder / what)

            rows[name] = measure(options, word, n_servers, made, folder)
    heads = {'claims': 'claims taken in', 'bags': 'bags over HTTP', 'campaign': 'campaign', 'claim': 'a claim', 'list': 'the list', 'mix': 'the mix'}
    print(f"{'a second; p50/p99 in ms':26}" + ''.join(f'{h:>24}' for h in heads.values()))
    for name, row in rows.items():
        print(f'{name:26}' + ''.join(f'{cell(row[k]):>24}' for k in heads))
    for name, row in rows.items():
        print(f"{name}: errors {sum(f.get('errors', 0) for f in row.values())}", *(f['first'] for f in row.values() if f.get('first')))
    print(f'{options.claims} claims without photos by as many processes as servers; {options.bags // 2} bags with photos by {CLIENTS} clients; '
          f'each call {options.seconds} s by {CLIENTS} clients (wrk); the mix ({", ".join(f"{w} {n}" for n, w in MIX)}) {options.seconds} s by {CLIENTS} clients')
    print(f'load after the run {os.getloadavg()[0]:.1f}')
    return 0


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
