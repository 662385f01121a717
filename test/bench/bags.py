"""bags: verifying and taking in a bag of a GiB beside `openssl dgst -sha256` over the same bytes, and the memory it takes. Imported by run."""
import hashlib
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import zipfile

TREE = pathlib.Path(__file__).resolve().parent.parent
sys.path[:0] = [str(TREE / 'take'), str(TREE / 'bag')]
from bagkit import DECLARATION, run  # noqa: E402
from takekit import small_job  # noqa: E402

FILES, FILE_BYTES, ROUNDS = 256, 4 << 20, 5


def make_bag(folder):
    """A small job and 256 files of 4 MiB that cannot be packed."""
    lines = []
    for name, body in small_job().payload().items():
        path = folder / 'data' / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body)
        lines.append(f'{hashlib.sha256(body).hexdigest()}  data/{name}\n')
    big = folder / 'data' / 'big'
    big.mkdir()
    for i in range(FILES):
        body = os.urandom(FILE_BYTES)
        (big / f'{i:03}').write_bytes(body)
        lines.append(f'{hashlib.sha256(body).hexdigest()}  data/big/{i:03}\n')
    (folder / 'manifest-sha256.txt').write_text(''.join(lines))
    (folder / 'bagit.txt').write_text(DECLARATION.format('1.0'))
    return [str(p) for p in sorted(folder.rglob('*')) if p.is_file()]


def make_zip(folder, path):
    with zipfile.ZipFile(path, 'w') as z:
        for file in sorted(folder.rglob('*')):
            if file.is_file():
                z.write(file, file.relative_to(folder.parent))


def timed(what, program, *words, verb):
    done = run(program, *words, verb=verb, cpu_s=600)
    if done.code:
        sys.exit(f'bench: {what} ended with {done.code}: {done.err[:500]}')
    return done


def in_turns(ours, path, peer, files):
    """Best processor seconds of ours and of openssl's, in turns, on one core; best seconds by the clock beside them; our peak memory."""
    best, clock, peak = [float('inf')] * 2, [float('inf')] * 2, 0
    for _ in range(ROUNDS):
        done = [timed('bag verify', ours, 'verify', path, verb='bag'), timed('openssl', peer, '-sha256', *files, verb='dgst')]
        peak = max(peak, done[0].peak_kib)
        best = [min(b, d.processor_s) for b, d in zip(best, done)]
        clock = [min(b, d.seconds) for b, d in zip(clock, done)]
    return {'ours_s': best[0], 'openssl_s': best[1], 'throughput_ratio': best[1] / best[0], 'ours_clock_s': clock[0],
            'openssl_clock_s': clock[1], 'peak_kib': peak}


def bench_bags(build, bench):
    program, peer = (build / 'mendwright').resolve(), shutil.which('openssl')
    if peer is None:
        return None
    memory = pathlib.Path('/dev/shm')
    where = memory if memory.is_dir() and shutil.disk_usage(memory).free > 4 << 30 else bench
    cores = os.sched_getaffinity(0)
    with tempfile.TemporaryDirectory(dir=where) as scratch:
        scratch = pathlib.Path(scratch)
        files = make_bag(scratch / 'job')
        make_zip(scratch / 'job', scratch / 'job.zip')
        os.sched_setaffinity(0, {min(cores)})  # whatever is started from here on has one core
        try:
            result = {'bytes': FILES * FILE_BYTES, 'folder': in_turns(program, scratch / 'job', peer, files),
                      'zip': in_turns(program, scratch / 'job.zip', peer, [str(scratch / 'job.zip')])}
            subprocess.run([program, 'store', 'init', '--store', scratch / 'store'], check=True, stdout=subprocess.DEVNULL)
            done = timed('take', program, scratch / 'job.zip', '--store', scratch / 'store', verb='take')
        finally:
            os.sched_setaffinity(0, cores)
        result['take'] = {'s': done.processor_s, 'clock_s': done.seconds, 'peak_kib': done.peak_kib}
    return result


def show_bags(build, bench):
    r = bench_bags(build, bench)
    if r is None:
        print('\nbags: there is no openssl to measure against')
        return None
    print(f"\nverifying a bag of {r['bytes'] / 2**30:.0f} GiB against openssl dgst -sha256 over the same bytes, one core each, in turns, "
          f"processor time (and by the clock), best of {ROUNDS}")
    for name in ('folder', 'zip'):
        b = r[name]
        print(f"  openssl dgst, {name:<12}  {b['openssl_s'] * 1000:9.0f} ms ({b['openssl_clock_s'] * 1000:.0f})")
        print(f"  bag verify, {name:<12}    {b['ours_s'] * 1000:9.0f} ms ({b['ours_clock_s'] * 1000:.0f})   {b['throughput_ratio']:7.2f} of its throughput   "
              f"peak {b['peak_kib'] / 1024:.0f} MiB")
    print(f"  take, zip                   {r['take']['s'] * 1000:9.0f} ms ({r['take']['clock_s'] * 1000:.0f})   peak {r['take']['peak_kib'] / 1024:.0f} MiB")
    return r
