#!/usr/bin/env python3
"""The guards are guarded: arrows, purity, names, tally and coverage must refuse what they are there to refuse. TAP."""
import json
import pathlib
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

TOOLS = pathlib.Path(__file__).resolve().parent.parent.parent / 'tools'


def run(*command):
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    return done.returncode, done.stdout + done.stderr


def arrows(folder):
    rows = [  # file, its text, part of the complaint ("" for none)
        ('core/a.c', '#include "core/a.h"\n#include <string.h>\n', ''),
        ('base/a.c', '#include "core/a.h"\n', ''),
        ('core/a.c', '#include "base/b.h"\n', 'core/ may not know base/'),
        ('base/a.c', '#include "cli/c.h"\n', 'base/ may not know cli/'),
        ('wasm/a.c', '#include "base/b.h"\n', 'wasm/ may not know base/'),
        ('core/a.c', '#include <stdio.h>\n', 'no place in the core'),
        ('core/a.c', '#include <locale.h>\n', 'no place in the core'),
        ('base/a.c', '#include <jansson.h>\n', 'belongs to base/json.c alone'),
        ('cli/a.c', '  #  include <yaml.h>\n', 'belongs to bulletin/ alone'),
        ('cli/a.c', '#include <gsl/gsl_cdf.h>\n', 'belongs to stat/ alone'),
        ('cli/a.c', '#include <zzip/zzip.h>\n', 'neither standard nor has an owner'),
        ('new/a.c', '#include "core/a.h"\n', 'not in the list of arrows'),
        ('cli/a.c', '#include "core/none.h"\n', 'not below src/'),
    ]
    for i, (name, text, complaint) in enumerate(rows):
        tree = folder / f'arrows{i}'
        for header in ('core/a.h', 'base/b.h', 'cli/c.h'):
            (tree / 'src' / header).parent.mkdir(parents=True, exist_ok=True)
            (tree / 'src' / header).write_text('')
        (tree / 'src' / name).parent.mkdir(exist_ok=True)
        (tree / 'src' / name).write_text(text)
        code, out = run(TOOLS / 'arrows', tree)
        good = (code == 1 and complaint in out) if complaint else code == 0
        ok(good, f'arrows: {name} with {text.strip()!r}: {complaint or "fine"}', out)
    tree = folder / 'circle'
    (tree / 'src/core').mkdir(parents=True)
    (tree / 'src/core/a.h').write_text('#include "core/b.h"\n')
    (tree / 'src/core/b.h').write_text('#include "core/a.h"\n')
    code, out = run(TOOLS / 'arrows', tree)
    ok(code == 1 and 'core/a.h -> core/b.h -> core/a.h' in out, 'arrows: a circle of headers is found', out)


def purity(folder):
    rows = [  # name, C text, part of the complaint
        ('pure', '#include <string.h>\nvoid f(char *a, const char *b, int n);\n'
                 'void f(char *a, const char *b, int n) { memcpy(a, b, (unsigned)n); }', ''),
        ('constants', 'extern const char *const names[2];\nconst char *const names[2] = {"a", "b"};', ''),
        ('stdio', '#include <stdio.h>\nvoid f(void);\nvoid f(void) { puts("x"); }', 'puts'),
        ('malloc', '#include <stdlib.h>\nvoid *f(void);\nvoid *f(void) { return malloc(3); }', 'malloc'),
        ('libm', '#include <math.h>\ndouble f(double x);\ndouble f(double x) { return exp(x); }', 'exp'),
        ('data', 'int f(void);\nint f(void) { static int n = 3; return n++; }', '.data'),
        ('bss', 'int f(void);\nint f(void) { static int n; return n++; }', '.bss'),
    ]
    for name, text, complaint in rows:
        source, thing, archive = (folder / f'{name}{end}' for end in ('.c', '.o', '.a'))
        source.write_text(text)
        code, out = run('gcc', '-O2', '-fPIC', '-c', source, '-o', thing)
        code2, out2 = run('ar', 'rcs', archive, thing)
        made = code == 0 and code2 == 0
        code, out3 = run(TOOLS / 'purity', archive)
        good = (code == 1 and complaint in out3) if complaint else code == 0
        ok(made and good, f'purity: {name}: {complaint + " is refused" if complaint else "fine"}', out + out2 + out3)


def names(folder):
    for name, text in (('a', 'int once(void) { return 1; }\nstatic int own(void) { return once(); }\nint a(void) { return own(); }\n'),
                       ('b', 'static int own(void) { return 2; }\nint b(void) { return own(); }\n'), ('c', 'int once(void) { return 3; }\n')):
        (folder / f'{name}.c').write_text(text)
        run('gcc', '-c', folder / f'{name}.c', '-o', folder / f'{name}.o')
        run('ar', 'rcs', folder / f'lib{name}.a', folder / f'{name}.o')
    code, said = run(TOOLS / 'names', folder / 'liba.a', folder / 'libb.a')
    ok(code == 0 and 'not ok' not in said, 'names: file-local names may be alike', said)
    code, said = run(TOOLS / 'names', folder / 'liba.a', folder / 'libb.a', folder / 'libc.a')
    ok(code == 1 and '# once: ' in said, 'names: one global name in two archives is refused', said)


def tally(folder):
    def case(runs, planned, *flags):
        build = folder / 'build'
        (build / 'meson-logs').mkdir(parents=True, exist_ok=True)
        (build / 'meson-info').mkdir(exist_ok=True)
        (build / 'meson-logs/testlog.json').write_text('\n'.join(json.dumps(r) for r in runs))
        (build / 'meson-info/intro-tests.json').write_text(json.dumps([{'name': n} for n in planned]))
        return run(TOOLS / 'tally', *flags, build)

    def log(name, result, stdout, code=0):
        return {'name': f'mendwright:unit / {name}', 'result': result, 'stdout': stdout, 'returncode': code}

    good = log('a', 'OK', 'ok 1 - x\nok 2 # SKIP no node\nok 3 - y\n1..3\n')
    rows = [
        ('all good', [good], ['a'], 0, '2 passed, 0 failed, 1 skipped'),
        ('a failing line', [log('a', 'FAIL', 'ok 1\nnot ok 2 - sum\n1..2\n', 1)], ['a'], 1, '1 passed, 1 failed, 0 skipped'),
        ('a crash after good lines', [log('a', 'FAIL', 'ok 1\n', -6)], ['a'], 1, '1 passed, 1 failed, 0 skipped'),
        ('a time-out', [log('a', 'TIMEOUT', '')], ['a'], 1, '0 passed, 1 failed, 0 skipped'),
        ('a plan that does not fit', [log('a', 'ERROR', 'ok 1\n1..2\n')], ['a'], 1, '1 passed, 1 failed, 0 skipped'),
        ('a test that did not run', [good], ['a', 'b'], 1, '2 passed, 1 failed, 1 skipped'),
        ('two tests of one name', [good], ['a', 'a'], 1, '2 passed, 1 failed, 1 skipped'),
        ('known breakage', [log('a', 'OK', 'not ok 1 # TODO later\n1..1\n')], ['a'], 0, '0 passed, 0 failed, 1 skipped'),
        ('nothing at all ran', [], [], 1, '0 passed, 1 failed, 0 skipped'),
    ]
    for name, runs, planned, want_code, want_line in rows:
        code, out = case(runs, planned)
        ok(code == want_code and out.splitlines()[-1] == want_line, f'tally: {name}: {want_line}', out)
    for status, want_code, want_line in (('0', 0, '3 passed, 0 failed, 1 skipped'), ('2', 1, '2 passed, 1 failed, 1 skipped')):
        code, out = case([good], ['a'], '--close', '--and', f'lint={status}')
        ok(code == want_code and out == want_line + '\n', f'tally: with lint ending {status}: {want_line}, and nothing else', out)
    code, out = case([log('sums', 'FAIL', 'not ok 1 - two and two\n', 1)], ['sums'], '--open')
    ok('two and two' in out and "meson test -C" in out and 'sums' in out and 'passed' not in out,
       'tally: --open names the line and the command that replays it, and does not close', out)
    code, out = case([log('ends', 'FAIL', '# of the first\nok 1 - first\n#   its last words\nnot ok 2 - it ends\n#   got 1\nok 3 - third\n# of nobody\n', 1)], ['ends'])
    lines = [line.strip() for line in out.splitlines()]
    ok(lines[1:4] == ['2 - it ends', '#   its last words', '#   got 1'] and 'of the first' not in out and 'of nobody' not in out,
       'tally: a failing line comes with the notes right before and behind it, and with no others', out)


def coverage(folder):
    """One function of four counted lines (its head, the question, and each answer), of which a program reaches all but one in core/, and all in the others."""
    tree = folder / 'counted'
    (tree / 'tools').mkdir(parents=True)
    (tree / 'tools/coverage').write_text((TOOLS / 'coverage').read_text())
    sources = []
    for part in ('core', 'bulletin', 'proof'):
        path = tree / 'src' / part / f'{part}.c'
        path.parent.mkdir(parents=True)
        path.write_text(f'int {part}(int x);\nint {part}(int x) {{\n    if (x)\n        return 1;\n    return 2; }}\n')
        sources.append(path)
    (tree / 'main.c').write_text('int core(int), bulletin(int), proof(int);\nint main(void) { return core(1) + bulletin(0) + bulletin(1) + proof(0) + proof(1) - 7; }\n')
    (tree / 'build').mkdir()
    for path in (*sources, tree / 'main.c'):
        code, out = run('gcc', '-O0', '--coverage', '-c', path, '-o', tree / 'build' / f'{path.stem}.o')
    code2, out2 = run('gcc', '--coverage', *[tree / 'build' / f'{p.stem}.o' for p in (*sources, tree / 'main.c')], '-o', tree / 'build/main')
    code3, _ = run(tree / 'build/main')
    ok(code == 0 and code2 == 0 and code3 == 0, 'coverage: something to count is built and run', out + out2)
    tool = ['python3', tree / 'tools/coverage', tree / 'build']
    code, out = run(*tool)
    rows = {line.split()[0]: line.split()[1:3] for line in out.splitlines() if len(line.split()) == 5}
    ok(rows.get('core/') == ['4', '3'] and rows.get('bulletin/') == ['4', '4'] and rows.get('core.c') == ['4', '3'], 'coverage: three of four lines here, four of four there, by hand', out)
    ok(code == 1 and 'under 90 %: core/ 75.0 %' in out and 'proof/ 100.0 %' in out, 'coverage: a folder under 90 % is refused, and which', out)
    code, out = run(*tool, '--least', '75', '--missing')
    ok(code == 0 and '\n      5\n' in out, 'coverage: at 75 % it is not; the line that was not reached is told', out)
    code, out = run('python3', tree / 'tools/coverage', tree / 'src')
    ok(code == 1 and 'no counts' in out, 'coverage: a folder without counts is no coverage at all', out)


with tempfile.TemporaryDirectory() as name:
    arrows(pathlib.Path(name))
    purity(pathlib.Path(name))
    names(pathlib.Path(name))
    tally(pathlib.Path(name))
    coverage(pathlib.Path(name))
sys.exit(tap.done())
