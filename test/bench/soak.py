#!/usr/bin/env python3
"""Soak: technicians and the desk on one server for a long time: sign-ins by link, bulletins, open jobs passed on, bags whole, in pieces,
twice, broken off; lists, claims, words over the rules with If-Match, notes, words taken back, payments, the rules' turn, campaign, news,
studies, letters, drafts, exports. All invented: the bags are `demo make`'s, their truth.json tells which must be refused.

usage: soak.py PROGRAM [--minutes 30] [--clients 200] [--think 8] [--campaign FOLDER] [--seed 1] [--store STORE]

PROGRAM may be of any build; of one with sanitizers what they find is on standard error, which must stay empty, or in the exit status. At the
end the server is told to stop, and what it had acknowledged is looked for in the store: every bag once, under the job and the VIN that are
in the bag; every word, note and payment once; what stands for each claim is the last word that was acknowledged. Then `store verify`, and
the memory of a server that is started anew on the same store, beside the memory after the soak.
Exit 1 when anything of this is not so. Growth of memory is printed, with its slope after the first third, and judged by whoever reads it.
"""
import argparse
import asyncio
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
from soakkit import Figures, memory, read_bags, share, slope  # noqa: E402
from soakpeople import Clerk, Ledger, Owner, Technician, listen  # noqa: E402

TREE = pathlib.Path(__file__).resolve().parents[2]
SAMPLE_S = 5


def call(program, *words, codes=(0,)):
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True, check=False)
    if done.returncode not in codes:
        raise RuntimeError(f'{words}: {done.returncode} {done.stderr[:500]}')
    return done.stdout


def processor_s(pid):
    """What the process, its children (they read photos), and those that ended used of the processors."""
    fields = pathlib.Path(f'/proc/{pid}/stat').read_text().rsplit(')', 1)[1].split()
    own = sum(int(f) for f in fields[11:15]) / os.sysconf('SC_CLK_TCK')
    try:
        return own + sum(processor_s(int(child)) for task in pathlib.Path(f'/proc/{pid}/task').iterdir() for child in (task / 'children').read_text().split())
    except OSError:  # one ended just now
        return own


class Soak:
    def __init__(self, program, store, bags, options):
        self.program, self.store, self.seed, self.think_s, self.seconds = program, store, options.seed, options.think, options.minutes * 60
        self.figures, self.ledger, self.samples, self.lags = Figures(), Ledger(), [], []
        self.bulletin = (TREE / 'examples/OV-26-03.yaml').read_text(encoding='utf-8')
        n_desk = max(4, options.clients * 7 // 20)
        n_owners = max(1, n_desk // 8)
        self.owners = [Owner(self, f'owner-{i}') for i in range(n_owners)]
        self.clerks = [Clerk(self, f'clerk-{i}') for i in range(n_desk - n_owners)]
        self.technicians = self.crew(bags, options.clients - n_desk)
        self.bags, self.root = bags, self.owners[0]
        self.log = tempfile.TemporaryFile()

    def crew(self, bags, n):
        """n technicians of the shops that the bags are of; each shop's bags shared out among its people."""
        shops = sorted({b.shop for b in bags})
        of = {s: [i for i in range(n) if shops[i % len(shops)] == s] for s in shops}
        mine = {i: [] for i in range(n)}
        for shop, people in of.items():
            for k, bag in enumerate(b for b in bags if b.shop == shop):
                if people:
                    mine[people[k % len(people)]].append(bag)
        return [Technician(self, f'tech-{i}', shops[i % len(shops)], mine[i]) for i in range(n)]

    def is_over(self):
        return time.monotonic() >= self.end

    async def link_for(self, name):
        a = await self.door.call('a link made', 'POST', f'/api/v1/people/{name}/link', good=(201,))
        return a.json['path'].removeprefix('/enter/')

    def start(self):
        self.process = subprocess.Popen([self.program, 'serve', '--store', str(self.store), '--listen', '127.0.0.1:0', '--json'], stdout=subprocess.PIPE, stderr=self.log, text=True)
        self.port = json.loads(self.process.stdout.readline())['port']

    def stop(self):
        """(exit status, what was said on standard error and output after the first line, each as text)."""
        self.process.send_signal(signal.SIGTERM)
        code, rest = self.process.wait(timeout=300), self.process.stdout.read()
        self.log.seek(0)
        said = self.log.read().decode('utf-8', 'replace')
        self.log.seek(0, os.SEEK_END)
        return code, said + rest

    async def let_in(self):
        """Everybody is let in by the first owner, who comes in by the command line's link and has a connection of their own for making links."""
        name = self.root.name
        self.door = Owner(self, 'door')
        call(self.program, 'people', 'add', name, '--role', 'owner', '--store', self.store)
        call(self.program, 'people', 'add', 'door', '--role', 'owner', '--store', self.store)
        await self.door.come_in(json.loads(call(self.program, 'people', 'link', 'door', '--store', self.store, '--json'))['link'])
        for p in [*self.owners[1:], *self.clerks, *self.technicians]:
            await self.door.call('a person let in', 'POST', '/api/v1/people', {'name': p.name, 'role': p.role, **({'shop': p.shop} if p.shop else {})}, good=(201,))
        self.gate = asyncio.Lock()  # the door has one connection
        unlocked = self.link_for

        async def one_by_one(name):
            async with self.gate:
                return await unlocked(name)
        self.link_for = one_by_one

    def sample(self):
        mib, threads, files = memory(self.process.pid)
        self.samples.append(((time.monotonic() - self.began) / 60, mib, len(self.ledger.claims)))
        return mib, threads, files

    async def watch(self):
        """A line a minute; memory and how late this program's own loop is every few seconds."""
        minute, cpu, me = 0, processor_s(self.process.pid), time.process_time()
        print(f"{'minute':>6} {'calls/s':>8} {'p50 ms':>8} {'p99 ms':>8} {'bags':>6} {'words':>6} {'later':>6} {'errors':>6} {'RssAnon MiB':>12} {'threads':>8} {'files':>6} {'server cpu':>10} {'callers':>8} {'load':>6}", flush=True)
        while not self.is_over():
            wants = time.monotonic() + SAMPLE_S
            await asyncio.sleep(SAMPLE_S)
            self.lags.append(time.monotonic() - wants)
            if self.process.poll() is not None:
                self.ledger.wrong.append(f'the server ended by itself: {self.process.returncode}')
                self.end = time.monotonic()
                return
            mib, threads, files = self.sample()
            if time.monotonic() - self.began >= 60 * (minute + 1):
                minute += 1
                t, now, me_now = self.figures.take_minute(), processor_s(self.process.pid), time.process_time()
                print(f'{minute:6} {len(t) / 60:8.1f} {share(t, 0.5):8.1f} {share(t, 0.99):8.1f} {len(self.ledger.claims):6} {len(self.ledger.words):6} {self.figures.busy:6} {len(self.figures.errors):6} '
                      f'{mib:12.1f} {threads:8} {files:6} {(now - cpu) / 60:10.2f} {(me_now - me) / 60:8.2f} {os.getloadavg()[0]:6.1f}', flush=True)
                cpu, me = now, me_now

    async def run(self):
        self.began = time.monotonic()
        self.end = self.began + self.seconds
        self.sample()
        desk = [*self.owners, *self.clerks]
        lives = [t.live(t.work) for t in self.technicians] + [p.live(p.work) for p in desk[:-1]] + [desk[-1].live(desk[-1].rule)]
        listeners = [asyncio.create_task(listen(self, p)) for p in desk[:max(1, len(desk) * 2 // 3)]]
        watch = asyncio.create_task(self.watch())
        ended = await asyncio.gather(*lives, return_exceptions=True)
        for e in ended:
            if isinstance(e, BaseException):
                self.ledger.wrong.append(f'a client ended early: {type(e).__name__}: {e}')
        self.took = time.monotonic() - self.began
        await watch
        for task in listeners:
            task.cancel()
        await asyncio.gather(*listeners, return_exceptions=True)
        self.door.hang_up()


class Verdicts:
    def __init__(self):
        self.n_bad = 0

    def __call__(self, is_good, what, note=''):
        self.n_bad += not is_good
        print(f"  {'good' if is_good else 'BAD '}  {what}" + (f'\n        {note}' if note and not is_good else ''), flush=True)


def exported(soak, folder, name):
    path = folder / f'{name}.json'
    path.unlink(missing_ok=True)
    call(soak.program, 'store', 'export', name, path, '--store', soak.store)
    return json.loads(path.read_text())


def check_bags(soak, folder, good):
    ledger, rows = soak.ledger, exported(soak, folder, 'claims')
    by_claim = {r['claim']: r for r in rows}
    acked = {b.sha256: b for b in soak.bags if b.sha256 in ledger.claims}
    lost = [b.path.name for s, b in acked.items() if by_claim.get(ledger.claims[s], {}).get('job') != b.job or by_claim[ledger.claims[s]]['vin'] != b.vin]
    good(not lost and len(set(ledger.claims.values())) == len(acked) and len(by_claim) == len(rows),
         f'{len(acked)} bags were acknowledged: each is a claim, once, of its own job and VIN', f'{lost}')
    more = set(by_claim) - set(ledger.claims.values())
    in_flight = [b for t in soak.technicians for b in t.sent + t.bags if b.sha256 not in ledger.claims and not b.is_refused]
    jobs = {b.job for b in in_flight}
    good(all(by_claim[c]['job'] in jobs for c in more) and len(rows) == len(acked) + len(more),
         f'{len(more)} claims besides, of bags whose answer nobody waited for')
    wrong = [b.path.name for b in soak.bags if b.is_refused and b.job in {r['job'] for r in rows} and b.job not in {x.job for x in soak.bags if not x.is_refused}]
    good(not wrong, f'{len(ledger.refused)} bags that somebody had changed on the way were refused, and none is a claim', str(wrong))
    return by_claim


def check_words(soak, folder, by_claim, good):
    ledger, rows = soak.ledger, exported(soak, folder, 'rulings')
    words = [r for r in rows if r['kind'] == 'overruled']
    told = {(r['claim'], r['reason'], r['verdict'], r['person']) for r in words}
    acked = {(claim, reason, verdict, person) for reason, (claim, _, verdict, person) in ledger.words.items()}
    good(acked <= told and len(words) == len(told) and all(r[1] in ledger.unsure for r in told - acked), f'{len(acked)} words over the rules were acknowledged: each is on the record once, and no other',
         f'lost {list(acked - told)[:3]}, nobody was told {list(told - acked)[:3]}')
    notes = [(r['reason'], r['claim']) for r in rows if r['kind'] == 'noted']
    good(set(ledger.notes.items()) <= set(notes) and len(notes) == len(set(notes)) and all(t in ledger.unsure for t, _ in set(notes) - set(ledger.notes.items())), f'{len(ledger.notes)} notes: each is there once, and no other')
    backs = sorted((r['claim'], r['person']) for r in rows if r['kind'] == 'taken-back')
    good([b for b in backs if b[0] not in ledger.unsure] == sorted((c, p) for c, _, p in ledger.backs if c not in ledger.unsure), f'{len(ledger.backs)} words taken back: each is on the record, and no other')
    last = {}
    for claim, n, verdict in [(c, n, v) for c, n, v, _ in ledger.words.values()] + [(c, n, None) for c, n, _ in ledger.backs]:
        if n > last.get(claim, (0, None))[0]:
            last[claim] = (n, verdict)
    odd = [c for c, (_, verdict) in last.items() if c not in ledger.unsure and
           (by_claim[c]['is_overruled'] != (verdict is not None) or (verdict is not None and by_claim[c]['verdict'] != verdict))]
    good(not odd, f'for {len(last)} claims a person spoke last: what was acknowledged last is what stands', str(odd[:5]))
    paid = exported(soak, folder, 'payments')
    good(sorted(r['claim'] for r in paid if r['claim'] not in ledger.unsure) == sorted(c for c in ledger.paid if c not in ledger.unsure), f'{len(ledger.paid)} payments were acknowledged: each is made once, and no other', f'{len(paid)} are there')
    sums = {}
    for r in paid:
        sums[r['claim']] = sums.get(r['claim'], 0) + r['amount_minor']
    good(all(by_claim[c]['paid_minor'] == n for c, n in sums.items()), 'what stands as paid is their sum, claim by claim')


def check_store(soak, folder, good):
    told = json.loads(call(soak.program, 'store', 'verify', '--store', soak.store, '--json', codes=(0, 1)))
    good(told['ok'] and not told['faults'] and told['orphans'] == 0, f"store verify: {told['events']} entries, {told['photos']} photos", str(told)[:300])
    good(not soak.ledger.wrong, 'no answer contradicted another', '\n        '.join(soak.ledger.wrong[:10]))
    good(not soak.figures.errors, 'no call ended in an error', '\n        '.join(soak.figures.errors[:20]))


async def fresh_memory(soak):
    """RssAnon of a server begun anew on the same store, after the campaign and a list were asked for."""
    soak.start()
    soak.end = time.monotonic() + 600
    soak.door = Owner(soak, 'door')
    await soak.door.come_in(json.loads(call(soak.program, 'people', 'link', 'door', '--store', soak.store, '--json'))['link'])
    for _ in range(3):
        for path in ('/api/v1/campaign', '/api/v1/claims?limit=50', '/api/v1/bulletins/OV-26-03/2', '/api/v1/export/claims.json'):
            await soak.door.get('anew', path)
    soak.door.hang_up()
    return memory(soak.process.pid)[0]


def show_figures(soak):
    f, people = soak.figures, [*soak.technicians, *soak.clerks, *soak.owners]
    offered = sum(p.calls / max(1.0, soak.took - p.in_answers_s) for p in people) + soak.door.calls / soak.took
    every = sorted(t for times in f.times.values() for t in times)
    print(f'\n{f.n:,} calls in {soak.took / 60:.1f} minutes: {f.n / soak.took:.1f} a second; {offered:.1f} would have come if every answer had come at once.')
    print(f"The callers' own loop was late by {share(sorted(soak.lags), 0.5):.0f} ms (half of the looks) and {share(sorted(soak.lags), 0.99):.0f} ms (99 %); {f.retries} looks were asked again on a new connection.")
    print(f"\n{'call':<26} {'calls':>7} {'p50 ms':>9} {'p95 ms':>9} {'p99 ms':>9} {'most ms':>9}  statuses")
    for kind, times in sorted(f.times.items(), key=lambda kv: -len(kv[1])) + [('all', every)]:
        t = sorted(times)
        print(f"{kind:<26} {len(t):7,} {share(t, 0.5):9.1f} {share(t, 0.95):9.1f} {share(t, 0.99):9.1f} {1000 * t[-1]:9.1f}  {', '.join(f'{s} {n:,}' for s, n in sorted(f.statuses.get(kind, {}).items()))}")
    ledger = soak.ledger
    print(f'\nbags: {len(ledger.claims)} taken, {ledger.pieces} pieces, {ledger.again} times already there, {ledger.broken_off} sendings broken off, {len(ledger.refused)} refused as they must be; news heard {ledger.news:,} times')
    print(f'{f.busy} answers were 429 or 503, which the limits ask for (64 changes at once, 8 tasks that wait), and were tried again when Retry-After said; {f.put_off} calls were left for another time after six of them')


def show_memory(soak):
    """Growth in MiB a minute by least squares, over each third."""
    points, whole = soak.samples, soak.samples[-1][0]
    for i, name in enumerate(('first', 'second', 'last')):
        part = [p for p in points if whole * i / 3 <= p[0] <= whole * (i + 1) / 3]
        mibs, claims = [p[1] for p in part], part[-1][2] - part[0][2]
        print(f'  {name:<6} third: {min(mibs):7.1f} to {max(mibs):7.1f} MiB, slope {slope([p[:2] for p in part]):+7.3f} MiB a minute, {claims} claims more')
    part = [p for p in points if p[0] >= whole / 3]
    print(f'  after the first third: slope {slope([p[:2] for p in part]):+.3f} MiB a minute; most {max(p[1] for p in points):.1f} MiB')


def prepare(program, options, scratch):
    """The campaign's bags, and a store with its bulletin, shops, keys and build list."""
    campaign = pathlib.Path(options.campaign) if options.campaign else scratch / 'campaign'
    if not options.campaign:
        call(program, 'demo', 'make', campaign, '--units', max(24, int(options.minutes * options.clients / 4)), '--seed', 2026)
    store = pathlib.Path(options.store) if options.store else scratch / 'store'
    call(program, 'store', 'init', '--store', store)
    for what, file in (('bulletin', 'bulletin.yaml'), ('shops', 'shops.csv'), ('keys', 'keys.txt')):
        call(program, 'store', 'keep', what, campaign / file, '--store', store)
    call(program, 'store', 'builds', campaign / 'builds.csv', '--store', store)
    return store, read_bags(campaign, options.bags)


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument('program')
    parser.add_argument('--minutes', type=float, default=30)
    parser.add_argument('--clients', type=int, default=200)
    parser.add_argument('--think', type=float, default=8, help='mean pause of a client between what it does, seconds')
    parser.add_argument('--campaign', help='a folder that demo make made; none: it is made')
    parser.add_argument('--bags', type=int, default=1 << 30, help='no more bags than these')
    parser.add_argument('--store', help='where the store is to be; it stays. None: removed')
    parser.add_argument('--seed', type=int, default=1)
    options = parser.parse_args(argv)
    program = str(pathlib.Path(options.program).resolve())
    scratch, good = pathlib.Path(tempfile.mkdtemp(prefix='mendwright-soak-')), Verdicts()
    soak = None
    signal.signal(signal.SIGTERM, lambda *_: sys.exit('soak: told to stop'))
    try:
        store, bags = prepare(program, options, scratch)
        soak = Soak(program, store, bags, options)
        print(f'{options.clients} clients ({len(soak.technicians)} technicians of {len({t.shop for t in soak.technicians})} shops, {len(soak.clerks)} clerks, {len(soak.owners)} owners), '
              f'{len(bags)} bags of {sum(b.size for b in bags) / 1e6:.0f} MB, {options.minutes:g} minutes, pauses of {options.think:g} s on average; {os.cpu_count()} processors, load before {os.getloadavg()[0]:.1f}', flush=True)
        soak.start()

        async def all_of_it():
            await soak.let_in()
            await soak.run()
        asyncio.run(all_of_it())
        after = memory(soak.process.pid)[0] if soak.process.poll() is None else 0.0
        code, said = soak.stop()
        show_figures(soak)
        print('\nmemory (RssAnon) of the server')
        show_memory(soak)
        anew = asyncio.run(fresh_memory(soak))
        again, said_again = soak.stop()
        print(f'  {after:.1f} MiB at the end; a server begun anew on the same store {anew:.1f} MiB')
        print('\nwhat was acknowledged')
        by_claim = check_bags(soak, scratch, good)
        check_words(soak, scratch, by_claim, good)
        check_store(soak, scratch, good)
        good(code == 0 and again == 0 and not said.strip() and not said_again.strip(), 'told to stop, the server ends with 0 and has said nothing (with sanitizers: no finding, no leak)', f'{code} {again} {said[:2000]}')
        return 1 if good.n_bad else 0
    finally:
        if soak is not None and getattr(soak, 'process', None) is not None and soak.process.poll() is None:
            soak.process.kill()
            soak.process.wait()
        shutil.rmtree(scratch, ignore_errors=True)


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
