#!/usr/bin/env python3
"""The verb store on a store with claims in it: exit codes and words when all is well, when a table, the log or a photo is
wrong, when leftovers lie about, when the disk cannot be written; its progress on a terminal. TAP.

usage: verb.py WRITER PROGRAM
"""
import json
import os
import pathlib
import pty
import shutil
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402


class Desk:
    """A store of 30 invented claims in a folder of its own."""

    def __init__(self, writer, program, scratch):
        self.program, self.store, self.scratch = program, scratch / 'store', scratch
        subprocess.run([writer, '--claims', '30', '--photos', self.store], check=True, stdout=subprocess.DEVNULL)

    def call(self, *words, as_json=True, store=None):
        """(exit code, the object or the text, stderr)"""
        command = [self.program, 'store', *words, '--store', store or self.store] + (['--json'] if as_json else [])
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        return done.returncode, json.loads(done.stdout) if as_json and done.stdout else done.stdout, done.stderr

    def meddle(self, *statements):
        db = sqlite3.connect(self.store / 'store.db', isolation_level=None)
        for statement in statements:
            db.execute(statement)
        db.close()

    def terminal(self, *words):
        """What the call writes to a terminal as its stderr."""
        ours, theirs = pty.openpty()
        process = subprocess.Popen([self.program, 'store', *words, '--store', self.store], stdout=subprocess.DEVNULL, stderr=theirs)
        os.close(theirs)
        text = b''
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                piece = b''
            if not piece:
                break
            text += piece
        os.close(ours)
        return process.wait(), text.decode()


def check_good(desk):
    code, told, err = desk.call('verify')
    ok(code == 0 and told['ok'] and told['faults'] == [] and told['events'] == 300 and told['photos'] == 60 and not err, 'verify: whole, exit 0', code, told, err)
    code, text, _ = desk.call('verify', as_json=False)
    ok(code == 0 and text.startswith('[=] The store is whole.\n') and '30 claims on 15 units' in text and '2 papers and 2 rows of the build list' in ' '.join(text.split()), 'verify says it first, for people', text)
    code, told_again, _ = desk.call('verify', '--head', told['head'])
    ok(code == 0 and told_again['ok'], 'the head that was noted is there')
    code, told_again, _ = desk.call('verify', '--head', '00' * 32)
    ok(code == 1 and [f['kind'] for f in told_again['faults']] == ['head'], 'a head that never was is missed, exit 1')
    code, _, err = desk.call('verify', '--head', '12ab')
    ok(code == 2 and '64 hexadecimal digits' in err, 'a head that is none, exit 2', err)
    code, told, _ = desk.call('rebuild')
    ok(code == 0 and told == {'ok': True, 'entries': 335, 'fault': None}, 'rebuild: exit 0', told)
    code, told, _ = desk.call('init')
    ok(code == 0 and told['made'] is False, 'init on a store that is there changes nothing')


def check_circle(desk):
    circle = desk.scratch / 'circle'
    circle.symlink_to('circle')
    for words in (['verify'], ['rebuild'], ['tidy'], ['init'], ['backup', str(desk.scratch / 'copy')]):
        code, told, err = desk.call(*words, store=circle)
        ok(code == 2 and told == '' and 'links go round in a circle' in err, f'{words[0]} on a circle of links: exit 2', code, told, err)
    code, told, err = desk.call('backup', str(circle / 'copy'))
    ok(code == 2 and 'links go round in a circle' in err, 'backup into one: exit 2', code, told, err)


def check_leftovers(desk):
    leftover = desk.store / 'photos' / 'part-999999999-0'
    leftover.write_bytes(b'half a photo')
    code, told, _ = desk.call('verify')
    ok(code == 0 and told['ok'] and told['orphans'] == 1 and told['orphan_bytes'] == 12 and told['photos'] == 60, 'a leftover is told and is no fault')
    _, text, _ = desk.call('verify', as_json=False)
    ok('1 leftover file (12 bytes)' in text and '`store tidy` removes' in ' '.join(text.split()), 'and people are told what to do', text)
    code, told, _ = desk.call('tidy')
    ok(code == 0 and told == {'removed': 1, 'bytes': 12} and not leftover.exists(), 'tidy removes it')


def check_backup(desk):
    copy = desk.scratch / 'copy'
    code, told, err = desk.call('backup', str(copy))
    ok(code == 0 and told['claims'] == 30 and told['photos'] == 60, 'backup: exit 0', told, err)
    ok(sorted(p.name for p in copy.iterdir()) == ['photos', 'store.db'], 'and holds the database and the photos alone, for no job is open',
       *copy.iterdir())
    code, told, _ = desk.call('verify', store=copy)
    ok(code == 0 and told['ok'] and told['claims'] == 30, 'the copy is whole')
    code, _, err = desk.call('backup', str(copy))
    ok(code == 2 and 'is there already' in err, 'it is not written over', code, err)
    shutil.rmtree(copy)


def check_read_only(desk):
    place = desk.scratch / 'fixed'
    place.mkdir()
    shutil.copytree(desk.store, place / 'store')
    shutil.rmtree(place / 'store' / 'photos')
    is_root = os.geteuid() == 0
    if is_root:  # nothing else keeps root from writing
        mounts = [['mount', '--bind', place, place], ['mount', '-o', 'remount,bind,ro', place]]
        if any(subprocess.run(m, capture_output=True, check=False).returncode for m in mounts):
            tap.skip('a place that may only be read', 'nothing can be mounted here')
            return
    else:
        for path in (place / 'store' / 'store.db', place / 'store', place):
            path.chmod(0o555)
    try:
        for words in (['init'], ['rebuild'], ['tidy']):
            code, told, err = desk.call(*words, store=place / 'store')
            ok(code == 3 and told == '' and 'may only be read' in err and err.count('\n') == 1,
               f'{words[0]} where nothing may be written: exit 3 and a word', code, told, err)
        code, told, err = desk.call('backup', str(place / 'copy'))
        ok(code == 3 and 'may only be read' in err, 'backup to there: exit 3 and a word', code, told, err)
        code, told, err = desk.call('verify', store=place / 'store')
        ok(code == 1 and {f['kind'] for f in told['faults']} == {'photo'} and len(told['faults']) == 60,
           'verify reads it and misses its photos', code, told, err)
    finally:
        if is_root:
            subprocess.run(['umount', place], check=False)
        else:
            for path in (place, place / 'store'):
                path.chmod(0o755)


def check_damage(desk):
    desk.meddle('UPDATE readings SET value_nano = 1 WHERE claim_seq = 1 AND n = 2')
    code, told, _ = desk.call('verify')
    ok(code == 1 and not told['ok'] and told['faults'][0]['kind'] == 'derived', 'a changed table: exit 1', told)
    _, text, _ = desk.call('verify', as_json=False)
    ok(text.startswith('[x] The store is not whole: 1 fault.\n') and '`store rebuild` mends them' in text, 'and rebuild is named as the cure', text)
    code, _, _ = desk.call('rebuild')
    ok(code == 0 and desk.call('verify')[0] == 0, 'rebuild mends it')
    desk.meddle('DROP TRIGGER log_keeps_values', "UPDATE log SET type = 'note' WHERE seq = 5")
    code, told, _ = desk.call('verify')
    ok(code == 1 and ('chain', 'entry 5') in [(f['kind'], f['where']) for f in told['faults']], 'a changed entry: exit 1', told)
    _, text, _ = desk.call('verify', as_json=False)
    ok('restore the last good backup' in text, 'and a backup is named as the cure', text)
    code, told, _ = desk.call('rebuild')
    ok(code == 1 and not told['ok'] and 'entry 5' in told['fault'], 'a broken log is not built upon: exit 1', told)
    code, text, _ = desk.call('rebuild', as_json=False)
    ok(code == 1 and text.startswith('[x] Not rebuilt'), 'said to people, too', text)


def check_terminal(desk):
    code, text = desk.terminal('verify')
    ok(code == 0 and (text == '' or text.endswith('\r' + ' ' * 78 + '\r')), 'progress on a terminal is wiped at the end', repr(text))
    ok(text.startswith('\r'), 'and is shown', repr(text))


def main(argv):
    writer, program = argv
    with tempfile.TemporaryDirectory() as scratch:
        desk = Desk(writer, program, pathlib.Path(scratch))
        check_good(desk)
        check_circle(desk)
        check_leftovers(desk)
        check_backup(desk)
        check_terminal(desk)
        check_read_only(desk)
        check_damage(desk)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
