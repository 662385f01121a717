"""rulings: ruling on many claims beside a bare read of the same rows by SQLite. Imported by run."""
import json
import pathlib
import re
import shutil
import subprocess
import tempfile

TREE = pathlib.Path(__file__).resolve().parent.parent.parent
BULLETIN = TREE / 'examples' / 'OV-26-03.yaml'
EVENTS = TREE / 'examples' / 'jobs' / 'ov-26-03-a' / 'events.json'
ROUNDS = 3


def without_photos(text):
    """The example's bulletin asking for no photos: the claims measured have none, and are to be clean ones."""
    text = re.sub(r'^    photos: \[.*\]\n', '', text, flags=re.M).replace('hold: photo', 'hold: confirm')
    return re.sub(r'^  photos:\n(    - .*\n)+', '', text, flags=re.M)


def measure(bench, n, folder):
    """Best of some rounds, in turns. `first`: with a ruling written for each claim; `again`: nothing has changed."""
    program = bench / 'test' / 'bench' / 'bench_rule'

    def call(*words):
        return json.loads(subprocess.run([program, *map(str, words)], check=True, capture_output=True, text=True).stdout)

    with tempfile.TemporaryDirectory(dir=folder) as scratch:
        store, bulletin = pathlib.Path(scratch) / 'store', pathlib.Path(scratch) / 'bulletin.yaml'
        bulletin.write_text(without_photos(BULLETIN.read_text(encoding='utf-8')), encoding='utf-8')
        subprocess.run([program, 'make', store, str(n), EVENTS, bulletin], check=True)
        least = {'bare': call('bare', store), 'first': call('rule', store, bulletin)}
        for _ in range(ROUNDS):
            for name, words in (('again', ('rule', store, bulletin)), ('bare', ('bare', store))):
                got = call(*words)
                if name not in least or got['seconds'] < least[name]['seconds']:
                    least[name] = got
        shutil.rmtree(store)
    return {'claims': n, **least, 'ratio': least['again']['seconds'] / least['bare']['seconds'],
            'first_ratio': least['first']['seconds'] / least['bare']['seconds'],
            'cpu_ratio': least['again']['cpu_s'] / least['bare']['cpu_s']}


def show_rulings(bench, n):
    r = measure(bench, n, bench)
    bare, again, first = r['bare'], r['again'], r['first']
    print(f"\nruling on {n:,} claims without photos against sqlite3_step over the same {bare['rows']:,} rows ({bare['bytes'] / 1e6:.0f} MB), best of {ROUNDS}")
    print(f"  bare read                   {bare['seconds'] * 1000:9.0f} ms")
    print(f"  ruling, nothing new         {again['seconds'] * 1000:9.0f} ms   {r['ratio']:7.2f} x the bare read ({r['cpu_ratio']:.2f} x its processor time)")
    print(f"  ruling, each one written    {first['seconds'] * 1000:9.0f} ms   {r['first_ratio']:7.2f} x the bare read   ({first['pay']:,} pay)")
    return r


if __name__ == '__main__':
    import sys
    show_rulings(pathlib.Path(sys.argv[1]), int(sys.argv[2]))
