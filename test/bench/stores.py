#!/usr/bin/env python3
"""SQLite beside PostgreSQL beside four server processes on one PostgreSQL, under the same load: claims taken in at the store, bags
taken in over HTTP, the campaign's call, a claim's call, the list of claims. Prints a table with the machine. PostgreSQL is Debian's, on
the same machine and disk, waits for the disk as SQLite does (fsync, synchronous_commit), and has its settings as they come otherwise.

usage: stores.py PROGRAM BENCH_STORE [--claims N] [--bags N] [--seconds N]

All run on one machine, so that what a second machine would add is not seen here: with as few cores as servers, four share what one had.
"""
import argparse
import json
import os
import pathlib
import platform
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


def send_bags(servers, cookies, made):
    """Bags a second, by clients that each speak to one of the servers."""
    left, lock, bad = list(made), threading.Lock(), []

    def client(i):
        someone = door.Someone(servers[i % len(servers)])
        someone.cookie, someone.csrf = cookies
        while True:
            with lock:
                if not left:
                    return
                data = left.pop()
            answer = someone.send('PUT', f'/api/v1/bags/{door.sha256(data)}', data)
            if answer.status != 201:
                bad.append(answer.text)

    threads = [threading.Thread(target=client, args=(i,)) for i in range(CLIENTS)]
    began = time.perf_counter()
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert not bad, bad[0]
    return len(made) / (time.perf_counter() - began)


def ask(servers, cookie, path, seconds):
    """Answers a second, by wrk: the clients shared out among the servers."""
    each = CLIENTS // len(servers)
    running = [subprocess.Popen(['wrk', '-t', '1', '-c', str(each), '-d', f'{seconds}s', '-H', f'Cookie: {cookie}', f'http://127.0.0.1:{s.port}{path}'],
                                stdout=subprocess.PIPE, text=True) for s in servers]
    total = 0.0
    for p in running:
        said = p.communicate()[0]
        assert p.returncode == 0 and 'Non-2xx' not in said, said
        total += float(re.search(r'Requests/sec:\s+([\d.]+)', said)[1])
    return total


def measure(options, store_word, n_servers, made, folder):
    program = options.program
    row = {}
    row['claims'] = take_at_store(options.writer, store_word('direct'), options.claims, n_servers)
    store = store_word('served')
    subprocess.run([program, 'store', 'init', '--store', store], check=True, stdout=subprocess.DEVNULL)
    subprocess.run([program, 'store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', store], check=True, stdout=subprocess.DEVNULL)
    servers = starts(program, store, folder, n_servers)
    try:
        tech, clerk = servers[0].person('ines', 'technician', 'fern-mobile-2'), servers[0].person('clara', 'clerk')
        row['bags'] = send_bags(servers, (tech.cookie, tech.csrf), made)
        subprocess.run([program, 'rule', '--store', store], stdout=subprocess.DEVNULL)
        claim = clerk.get('/api/v1/claims').json['claims'][0]['claim']
        for name, path in (('campaign', '/api/v1/campaign?since=0'), ('claim', f'/api/v1/claims/{claim}'), ('list', '/api/v1/claims?needs=shop&limit=50')):
            assert clerk.get(path).status == 200, path
            row[name] = ask(servers, clerk.cookie, path, options.seconds)
    finally:
        for s in servers:
            s.stop(signal.SIGTERM)
    verified = json.loads(subprocess.run([program, 'store', 'verify', '--store', store, '--json'], check=True, capture_output=True, text=True).stdout)
    assert verified['ok'] and verified['claims'] == len(made), verified
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
    with tempfile.TemporaryDirectory(prefix='mw-stores-') as scratch, postgresql.Server(fsync='on', listen_addresses='') as pg:
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
    heads = {'claims': 'claims/s taken in', 'bags': 'bags/s over HTTP', 'campaign': 'campaign/s', 'claim': 'claim/s', 'list': 'list/s'}
    print(f"{'':26}" + ''.join(f'{h:>20}' for h in heads.values()))
    for name, row in rows.items():
        print(f'{name:26}' + ''.join(f'{row[k]:20.1f}' for k in heads))
    print(f'{options.claims} claims without photos by as many processes as servers; {options.bags} bags with photos by {CLIENTS} clients; '
          f'each call {options.seconds} s by {CLIENTS} clients (wrk), on the {options.bags} claims that came in')
    return 0


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
