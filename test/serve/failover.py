#!/usr/bin/env python3
"""A PostgreSQL that goes away in the middle of the work. Two servers take bags in, `take` brings more from a folder, a clerk rules and pays
at one server while `rule` and `rule --settle` run from the command line; meanwhile the PostgreSQL is

restart    restarted (fast, immediate), one of its processes killed -9 (it then restarts itself), its postmaster killed -9 and it started again
failover   killed -9, and its standby, which had all that was acknowledged, promoted: the address of the store names both
standby    cut off from its standby while a bag waits for it, and then lost

Nothing of ours is restarted. Callers are told 503 or exit code 3, and what they send again goes through by itself once it is back. In the
end everything that was acknowledged is there, nothing was paid twice, the chain is whole.

usage: failover.py PROGRAM restart|failover|standby
MENDWRIGHT_PG_ROUNDS: how many times over (1). The load is bounded by counts, not by time; all is on this machine.
"""
import collections
import json
import os
import pathlib
import signal
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / 'store'))
import server as postgresql  # noqa: E402
from door import ROOT, Server, done, ok, sha256  # noqa: E402
from load import bags  # noqa: E402
from several import at, second, verify  # noqa: E402

ROUNDS = int(os.environ.get('MENDWRIGHT_PG_ROUNDS', '1'))
EACH = 3  # bags between two faults
PATIENCE_S = 120  # after which a caller gives up: far beyond what any of it takes


class Work:
    """Callers who do not give up, and what they were told."""

    def __init__(self, a, b, people, made):
        self.a, self.b, self.people, self.made = a, b, people, made
        self.lock = threading.Condition()
        self.n_sent, self.n_allowed = 0, EACH
        self.taken, self.words, self.paid = [], [], []  # acknowledged
        self.to_rule = collections.deque()
        self.said, self.odd = collections.Counter(), []
        self.is_over = self.is_ruled = False
        senders = [threading.Thread(target=self.send, args=(w,)) for w in 'ab'] + [threading.Thread(target=self.take)]
        self.takers = senders
        self.others = [threading.Thread(target=self.rule), threading.Thread(target=self.commands)]
        for t in senders + self.others:
            t.start()

    def next_bag(self):
        with self.lock:
            while self.n_sent == self.n_allowed and self.n_sent < len(self.made):
                self.lock.wait()
            if self.n_sent == len(self.made):
                return None
            self.n_sent += 1
            return self.n_sent - 1

    def note(self, what, more):
        with self.lock:
            self.said[what] += 1
            if more:
                self.odd.append((what, more))

    def acknowledged(self, claim):
        with self.lock:
            self.taken.append(claim)
            self.to_rule.append(claim)
            self.lock.notify_all()

    def call(self, someone, method, path, body=None, headers=None, fine=(200, 201)):
        """Until it is answered otherwise than by 503."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            try:
                answer = someone.send(method, path, body, headers)
            except OSError as e:
                self.note(f'no answer to {method}', str(e))
                return None
            is_bad = answer.status not in (*fine, 503) or (answer.status == 503 and not answer.headers.get('Retry-After'))
            self.note(answer.status, answer.text[:200] if is_bad else '')
            if answer.status != 503:
                return answer
            time.sleep(0.05)
        self.note(f'gave up {method}', path)
        return None

    def run(self, *words, fine):
        done_ = subprocess.run([self.a.program, *map(str, words), '--store', str(self.a.store)], capture_output=True, text=True, timeout=PATIENCE_S)
        is_bad = done_.returncode not in (*fine, 3) or (done_.returncode == 3 and not any(w in done_.stderr for w in ('cannot be reached', 'broke off', 'try again', 'send it again')))
        self.note(f'{words[0]} {done_.returncode}', done_.stderr[:300] if is_bad else '')
        return done_

    def send(self, which):
        while (i := self.next_bag()) is not None:
            answer = self.call(self.people[which]['tech'], 'PUT', f'/api/v1/bags/{sha256(self.made[i])}', self.made[i])
            if answer is not None and answer.status in (200, 201):
                self.acknowledged(answer.json['claim'])

    def take(self):
        while (i := self.next_bag()) is not None:
            path = self.a.folder / f'take{i}.zip'
            path.write_bytes(self.made[i])
            while (told := self.run('take', path, '--json', fine=(0,))).returncode == 3:
                time.sleep(0.05)
            if told.returncode == 0:
                self.acknowledged(json.loads(told.stdout)['claim'])

    def rule(self):
        """A word and a payment for each claim, at the second server; after 412 it is looked again, as a page does."""
        clerk = self.people['b']['clerk']
        while True:
            with self.lock:
                while not self.to_rule and not self.is_over:
                    self.lock.wait()
                if not self.to_rule:
                    return
                claim = self.to_rule.popleft()
            path = f'/api/v1/claims/{claim}'
            for do, kept in (('ruling', self.words), ('payment', self.paid)):
                while not self.is_ruled:
                    now = self.call(clerk, 'GET', path)
                    if now is None or now.status != 200:
                        break
                    kinds = [r['kind'] for r in now.json['rulings']]
                    if do == 'ruling' and 'overruled' in kinds or do == 'payment' and now.json['paid_minor'] == now.json['amount_minor']:
                        break  # it went through although no answer came, or the command paid it
                    body = {'verdict': 'pay', 'reason': 'seen', 'amount_minor': 1000} if do == 'ruling' else None
                    answer = self.call(clerk, 'POST', f'{path}/{do}', body, {'If-Match': now.headers['ETag']}, fine=(200, 409, 412))
                    if answer is not None and answer.status == 200:
                        kept.append(claim)
                    if answer is None or answer.status not in (409, 412):
                        break
                    if answer.status == 409 and 'rule first' not in answer.json['detail']:
                        self.note('not ruled', answer.text)
                        break
                    time.sleep(0.05)  # `rule` has not come to it yet

    def commands(self):
        while not self.is_ruled:
            self.run('rule', fine=(0, 1, 4))
            self.run('rule', '--settle', '--person', 'otto', fine=(0, 1, 4))

    def wait(self, n):
        postgresql.until(lambda: len(self.taken) >= n, f'{n} bags are acknowledged (now {len(self.taken)}, {dict(self.said)}, {self.odd[:3]})', PATIENCE_S)

    def allow(self):
        with self.lock:
            self.n_allowed += EACH
            self.lock.notify_all()

    def finish(self):
        for t in self.takers:
            t.join()
        with self.lock:
            self.is_over = True
            self.lock.notify_all()
        self.others[0].join()  # it needs the commands
        self.is_ruled = True
        self.others[1].join()

    def stop(self):
        """When the test fails: the threads end."""
        with self.lock:
            self.n_sent = self.n_allowed = len(self.made)
            self.is_over = self.is_ruled = True
            self.to_rule.clear()
            self.lock.notify_all()


def shake(work, faults):
    """Each fault comes when the next bags are on their way; the next ones are sent when it is over."""
    for i, (name, do) in enumerate(faults):
        work.wait(i * EACH + 1)
        do()
        work.allow()
        print(f'# {name}: {len(work.taken)} acknowledged, {dict(work.said)}', flush=True)
    work.finish()


def check_away(work):
    """What callers are told while there is nobody."""
    told = subprocess.run([work.a.program, 'store', 'verify', '--store', str(work.a.store)], capture_output=True, text=True)
    page = work.people['a']['clerk'].get('/api/v1/claims')
    return told.returncode == 3 and 'cannot be reached' in told.stderr and page.status == 503 and int(page.headers['Retry-After']) > 0 and 'try again' in page.json['detail']


def check_end(work, n_faults):
    a, clerk = work.a, work.people['a']['clerk']
    ok(not work.odd, f'{n_faults} faults; callers were told {dict(work.said)}, and nothing else', str(work.odd)[:600])
    ok(len(work.taken) == len(work.made) == len(set(work.taken)), f'{len(work.made)} bags were acknowledged, sent again by themselves where it was needed', f'{len(work.taken)}')
    health = verify(a)
    ok(health['ok'] and health['claims'] == len(work.made), '`store verify` is good: every bag once', str(health)[:400])
    ok(a.call('rule', '--settle', '--person', 'otto', '--store', a.store, codes=(0, 1, 4)) is not None, 'what is left is settled')
    lost, twice, n_paid = [], [], 0
    for claim in work.taken:
        last = clerk.get(f'/api/v1/claims/{claim}')
        kinds = [r['kind'] for r in last.json['rulings']] if last.status == 200 else []
        if last.status != 200 or (claim in work.words and 'overruled' not in kinds) or (claim in work.paid and 'paid' not in kinds):
            lost.append((claim, last.status, kinds))
        elif last.json['paid_minor'] != last.json['amount_minor'] or kinds.count('overruled') != 1:
            twice.append((claim, kinds, last.json['paid_minor'], last.json['amount_minor']))
        n_paid += 'paid' in kinds
    ok(not lost, f'of {len(work.taken)} bags, {len(work.words)} words and {len(work.paid)} payments that were acknowledged none is lost', str(lost)[:400])
    ok(not twice and n_paid == len(work.taken), 'each claim has one word and is paid what stands, once', str(twice)[:400])
    a.call('store', 'export', 'payments', a.folder / 'payments.csv', '--store', a.store)
    ok(work.a.process.poll() is None and work.b.process.poll() is None and work.people['b']['tech'].get('/api/v1/session').status == 200,
       'both servers are those that were started, and whoever was signed in still is')


def prepare(program, n_bags):
    a = Server(program, '--threads', '2').start()
    b = second(a)
    a.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', a.store)
    people = {'a': {'tech': a.person('ines', 'technician', 'fern-mobile-2'), 'clerk': a.person('clara', 'clerk')}}
    people['b'] = {k: at(b, v) for k, v in people['a'].items()}
    return a, b, people, bags(a, n_bags)


def restart_faults(pg, work, told):
    def stop(mode):
        pg.stop(mode)
        told.append(check_away(work()))
        pg.start()

    def kill_backend():
        """One that is speaking to one of ours. PostgreSQL then ends all others and goes through its recovery."""
        victim = next(pid for pid, title in pg.children().items() if 'tester postgres' in title)
        os.kill(victim, signal.SIGKILL)
        postgresql.until(lambda: not postgresql.is_alive(victim), 'it is gone')
        pg.wait_ready()

    def kill_all():
        pg.kill()
        told.append(check_away(work()))
        pg.start()

    return [('restarted, fast', lambda: stop('fast')), ('one process killed', kill_backend), ('restarted, immediate', lambda: stop('immediate')), ('killed', kill_all)] * ROUNDS


def shaken(program, faults_of):
    told, box = [], []
    faults = faults_of(lambda: box[0], told)
    a, b, people, made = prepare(program, EACH * (len(faults) + 1))
    try:
        box.append(Work(a, b, people, made))
        try:
            shake(box[0], faults)
        finally:
            box[0].stop()
        ok(told and all(told), 'while it was away: exit code 3 and why, 503 and when to come again', str(told))
        check_end(box[0], len(faults))
        ok(a.stop() == 0 and b.stop() == 0, 'both end with 0')
    finally:
        if b.process.poll() is None:
            b.process.kill()
        a.end()


def restart(program):
    with postgresql.Server() as pg:
        os.environ['MENDWRIGHT_TEST_SERVER'] = pg.address
        shaken(program, lambda work, told: restart_faults(pg, work, told))


def failover(program):
    with postgresql.Pair() as pair:
        os.environ['MENDWRIGHT_TEST_SERVER'] = pair.address

        def faults(work, told):
            def fall():
                if pair.is_alone:
                    pair.join()
                pair.primary.kill()
                told.append(check_away(work()))
                pair.take_over()
            return [('failed over', fall)] * ROUNDS

        shaken(program, faults)


def hanging(server):
    """Backends whose commit waits for the standby."""
    return [int(pid) for pid in server.ask("SELECT pid FROM pg_stat_activity WHERE wait_event = 'SyncRep'")]


def sending(someone, data):
    told = []
    thread = threading.Thread(target=lambda: told.append(someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data)))
    thread.start()
    return thread, told


def answered(thread, told):
    thread.join()
    return (told[0].status, told[0].json.get('detail', '')) if told else (0, 'no answer')


def standby(program):
    """Whoever is told `taken` or `already` is told it of what the standby has, too: also when the primary has it already, because
    whoever brought it was cut off while it waited for the standby. PostgreSQL itself then lets it be read, and says COMMIT."""
    with postgresql.Pair() as pair:
        os.environ['MENDWRIGHT_TEST_SERVER'] = pair.address
        a = Server(program, '--threads', '2').start()
        try:
            tech = a.person('ines', 'technician', 'fern-mobile-2')
            data, later = bags(a, 2)
            receiver = next(pid for pid, title in pair.standby.children().items() if 'walreceiver' in title)
            os.kill(receiver, signal.SIGSTOP)
            sent = sending(tech, data)
            postgresql.until(lambda: hanging(pair.primary), 'the commit waits for the standby')
            ok(not sent[1], 'while the standby does not answer, a bag is not acknowledged')
            for pid in hanging(pair.primary):
                pair.primary.ask(f'SELECT pg_cancel_backend({pid})')
            code, text = answered(*sent)
            ok(code == 503, 'told to wait no longer, PostgreSQL says COMMIT: the phone is told 503, not taken', f'{code} {text}')
            n_there = int(pair.primary.ask(f"SELECT count(*) FROM {a.store.rpartition('schema=')[2]}.claims")[0])
            ok(n_there == 1, 'the claim can be read at the primary by now', str(n_there))
            sent = sending(tech, data)
            postgresql.until(lambda: hanging(pair.primary), 'it is waited for again')
            ok(not sent[1], 'sent again, it is not said to be there already, either')
            pair.primary.kill()
            os.kill(receiver, signal.SIGKILL)
            ok(answered(*sent)[0] == 503, 'the primary dies: 503')
            postgresql.until(lambda: not postgresql.is_alive(receiver), 'the receiver is gone')
            pair.standby.wait_ready()
            pair.take_over()
            again = tech.send('PUT', f'/api/v1/bags/{sha256(data)}', data)
            ok(again.status == 201 and again.json['result'] == 'taken', 'the standby takes over and has it not; sent once more it is taken', f'{again.status} {again.text[:200]}')
            more = tech.send('PUT', f'/api/v1/bags/{sha256(data)}', data), tech.send('PUT', f'/api/v1/bags/{sha256(later)}', later)
            ok([m.status for m in more] == [200, 201], 'then it is there already, and the next one is taken', str([m.text[:200] for m in more]))
            health = verify(a)
            ok(health['ok'] and health['claims'] == 2, '`store verify` is good', str(health)[:300])
            ok(a.stop() == 0, 'it ends with 0')
        finally:
            a.end()


def main(argv):
    {'restart': restart, 'failover': failover, 'standby': standby}[argv[2]](argv[1])
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
