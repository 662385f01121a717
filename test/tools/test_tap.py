#!/usr/bin/env python3
"""What test/tap.py prints, as another reader of the protocol takes it: Perl's own TAP::Parser. Passed, failed and skipped tests, the plan, what
is told where a script crashes or ends too early. TAP.

usage: test_tap.py
"""
import json
import os
import pathlib
import subprocess
import sys

FOLDER = pathlib.Path(__file__).resolve().parents[1]
sys.path.insert(0, str(FOLDER))
import tap  # noqa: E402

READER = r'''
use TAP::Parser; use JSON::PP;
local $/; my $p = TAP::Parser->new({ tap => <STDIN> });
my (@comments, @bail);
while (my $r = $p->next) { push @comments, $r->raw if $r->is_comment; push @bail, $r->explanation if $r->is_bailout }
print encode_json({ passed => [$p->actual_passed], failed => [$p->actual_failed], skipped => [$p->skipped], todo => [$p->todo], plan => $p->plan,
    all => $p->skip_all, bail => \@bail, comments => \@comments, errors => [$p->parse_errors] });
'''

# A name; what the script does; its exit status; what the reader says of its lines (lists that are not named are empty).
CASES = [
    ('tests that hold', 'ok(True, "a", "hidden"); ok(2, "b"); sys.exit(done())', 0, {'passed': [1, 2], 'plan': '1..2'}),
    ('one that does not', 'ok(1, "a"); ok(0, "b", "one\\ntwo", 3, ""); ok(1, "c"); sys.exit(done())', 1,
     {'passed': [1, 3], 'failed': [2], 'plan': '1..3', 'comments': ['#   one', '#   two', '#   3']}),
    ('nothing that is nothing', 'ok(None, "a"); ok([], "b"); ok("", "c"); sys.exit(done())', 1, {'failed': [1, 2, 3], 'plan': '1..3'}),
    ('notes that are always shown', 't = tap.Tap(notes_always=True); t.ok(1, "a", "5 mm"); sys.exit(t.done())', 0, {'passed': [1], 'plan': '1..1', 'comments': ['#   5 mm']}),
    ('words of the protocol in a text', 'ok(0, "a # SKIP b"); ok(0, "a # TODO b"); ok(0, "a\\nok 4 - b\\n1..4"); tap.note("ok 5\\nok 6"); sys.exit(done())', 1,
     {'failed': [1, 2, 3], 'plan': '1..3', 'comments': ['#   ok 5', '#   ok 6']}),
    ('one that is skipped', 'ok(1, "a"); tap.skip("b", "no # here"); sys.exit(done())', 0, {'passed': [1, 2], 'skipped': [2], 'plan': '1..2'}),
    ('all are skipped', 'sys.exit(tap.skip_all("no R here"))', 0, {'plan': '1..0', 'all': 'no R here'}),
    ('a crash', 'ok(1, "a"); 1 / 0', 1, {'passed': [1], 'bail': ['the script ended after 1 tests without a plan']}),
    ('an end with 0 before the plan', 'ok(1, "a"); sys.exit(0)', 0, {'passed': [1], 'bail': ['the script ended after 1 tests without a plan']}),
    ('a failure, and no plan', 'ok(0, "a")', 0, {'failed': [1], 'bail': ['the script ended after 1 tests without a plan']}),
    ('nothing was tested', 'sys.exit(done())', 1, {'bail': ['nothing was tested']}),
    ('a child that ends', 'ok(1, "a")\nif os.fork() == 0:\n    sys.exit(0)\nos.wait(); sys.exit(done())', 0, {'passed': [1], 'plan': '1..1'}),
]


def read(text):
    done = subprocess.run(['perl', '-e', READER], input=text, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def run(code):
    script = f'import os, signal, sys\nsys.path.insert(0, {str(FOLDER)!r})\nimport tap\nfrom tap import done, ok\n{code}\n'
    environment = {name: value for name, value in os.environ.items() if name != 'PYTHONUNBUFFERED'}
    return subprocess.run([sys.executable, '-c', script], env=environment, capture_output=True, text=True, check=False)


def main():
    for name, code, status, wanted in CASES:
        done = run(code)
        found = read(done.stdout)
        plain = {key: value for key, value in found.items() if value and key != 'errors'}
        is_whole = 'bail' in plain or not found['errors']
        tap.ok(done.returncode == status and plain == wanted and is_whole, f'{name}: what TAP::Parser makes of it, exit {status}', done.stdout, found, done.stderr)
    killed = run('ok(1, "a"); os.kill(os.getpid(), signal.SIGKILL)')
    tap.ok(killed.returncode == -9 and killed.stdout == 'ok 1 - a\n', 'a line is out as soon as it is printed', killed)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
