#!/usr/bin/env python3
"""What the shells offer: every verb and option of the help, and bash gives them when asked. zsh and fish read theirs where they are installed. TAP.

usage: completions.py PROGRAM
"""
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

TOOL = pathlib.Path(__file__).resolve().parents[2] / 'tools/completions'


def main(argv):
    pages = json.loads(subprocess.run([argv[1], 'help', '--json'], capture_output=True, text=True, check=True).stdout)
    texts = {shell: subprocess.run([TOOL, argv[1], shell], capture_output=True, text=True, check=True).stdout for shell in ('bash', 'zsh', 'fish')}
    verbs = [v['name'] for v in pages['verbs'] if ' ' not in v['name']]

    def bash(*words):
        with tempfile.NamedTemporaryFile('w', suffix='.bash') as f:
            f.write(texts['bash'])
            f.flush()
            quoted = ' '.join(f"'{w}'" for w in words)
            script = f'. {f.name}; COMP_WORDS=({quoted}); COMP_CWORD={len(words) - 1}; _mendwright; printf "%s\\n" "${{COMPREPLY[@]}}"'
            d = subprocess.run(['bash', '-c', script], capture_output=True, text=True, check=False, cwd='/var/empty' if pathlib.Path('/var/empty').exists() else '/usr/share')
            return d.stdout.split(), d.stderr

    got, err = bash('mendwright', '')
    ok(set(verbs) <= set(got) and not err, f'bash offers each of {len(verbs)} verbs', f'{got} {err}')
    got, err = bash('mendwright', 'stu')
    ok(got == ['study'] and not err, 'one that begins so', f'{got} {err}')
    for v in pages['verbs']:
        if ' ' in v['name']:
            continue
        got, err = bash('mendwright', v['name'], 'x', '-')
        ok({o['name'] for o in v['options']} <= set(got) and not err, f'{v["name"]}: each of its options', f'{got} {err}')
    got, _ = bash('mendwright', 'store', 'ver')
    ok('verify' in got, 'what a verb may do', str(got))
    for shell in ('zsh', 'fish'):
        missing = [v for v in verbs if v not in texts[shell]]
        ok(not missing, f'{shell} has each verb', str(missing))
        if shutil.which(shell):
            d = subprocess.run([shell, '-n', '/dev/stdin'], input=texts[shell], capture_output=True, text=True, check=False)
            ok(d.returncode == 0, f'{shell} reads it', d.stderr)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
