#!/usr/bin/env python3
"""One shared folder of photos under several machines' servers: takers in namespaces of their own (another host name, the same process
numbers: Linux's unshare) write photos into the same folder while tidiers from yet another one sweep it. Nothing that is being written is
swept, and each claim is there with its photos. A real network file system is not part of this test. TAP.

usage: server.py shared.py WRITER PROGRAM      (WRITER: ../bench/bench_store.c; MENDWRIGHT_TEST_SERVER as server.py sets it)
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import threading

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

CLAIMS, TAKERS = 60, 3
PID = 4000  # takers of every machine have this process number, which no tidier's machine knows


def elsewhere(name, *command):
    """The command as another machine's: its own name, its own process numbers."""
    script = f'hostname {name}; echo {PID - 1} >/proc/sys/kernel/ns_last_pid; "$@"; exit $?'
    return ['unshare', '--uts', '--pid', '--fork', '--mount-proc', '--kill-child', 'sh', '-c', script, 'sh', *map(str, command)]


def can_be_elsewhere():
    done = subprocess.run(elsewhere('yard', 'sh', '-c', 'hostname; echo $$'), capture_output=True, text=True)
    return done.returncode == 0 and done.stdout.split() == ['yard', str(PID)]


def take_and_tidy(writer, program, store):
    """(what takers ended with, how often it was tidied, what tidiers ended with)"""
    takers = [subprocess.Popen(elsewhere(f'taker-{i}', writer, '--claims', CLAIMS, '--photos', '--from', i * CLAIMS, store),
                               stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) for i in range(TAKERS)]
    told, is_over = [], threading.Event()

    def tidy():
        while not is_over.is_set():
            told.append(subprocess.run(['unshare', '--uts', '--pid', '--fork', '--mount-proc', 'sh', '-c', 'hostname tidier; "$@"', 'sh', program,
                                        'store', 'tidy', '--store', store, '--json'], capture_output=True, text=True))

    tidier = threading.Thread(target=tidy)
    tidier.start()
    ended = [(t.communicate()[1], t.returncode) for t in takers]
    is_over.set()
    tidier.join()
    return ended, told


def main(writer, program):
    if not can_be_elsewhere():
        tap.skip('several machines on one folder', 'namespaces cannot be made here')
        return tap.done()
    scratch = pathlib.Path(tempfile.mkdtemp(prefix='mw-shared-'))
    try:
        store = f"{os.environ['MENDWRIGHT_TEST_SERVER']}&files={scratch / 'files'}&schema=shared"
        subprocess.run([program, 'store', 'init', '--store', store], check=True, capture_output=True)
        ended, told = take_and_tidy(writer, program, store)
        ok(all(code == 0 for _, code in ended), f'{TAKERS} machines take {CLAIMS} claims each into one folder', str(ended))
        bad = [t.stderr for t in told if t.returncode != 0]
        ok(not bad and told, f'while another tidies it, {len(told)} times', str(bad[:2]))
        done = subprocess.run([program, 'store', 'verify', '--store', store, '--json'], capture_output=True, text=True)
        health = json.loads(done.stdout)
        ok(done.returncode == 0 and health['claims'] == TAKERS * CLAIMS and health['orphans'] == 0,
           'every claim is there, every photo under its digest, nothing else', done.stdout[:400])
        left = [p.name for p in (scratch / 'files/photos').iterdir() if p.is_file()]
        ok(not left, 'no file under way is left', str(left))
        # One that is being written by a machine whose processes cannot be asked.
        part = scratch / 'files/photos' / f'part-{PID}-0-taker-9'
        part.write_bytes(b'half')
        subprocess.run([program, 'store', 'tidy', '--store', store], check=True, capture_output=True)
        ok(part.exists(), "another machine's file under way is left alone")
        os.utime(part, (part.stat().st_mtime - 2 * 86400,) * 2)
        subprocess.run([program, 'store', 'tidy', '--store', store], check=True, capture_output=True)
        ok(not part.exists(), 'until nobody has written to it for two days')
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(*sys.argv[1:]))
