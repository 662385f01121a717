#!/usr/bin/env python3
"""The verb doctor from outside: a sound installation, and one after the other everything that it is there to find. Certificates are made by
openssl (Debian's), which is not the library call that reads them.

usage: doctor.py PROGRAM
"""
import json
import os
import pathlib
import resource
import shutil
import subprocess
import sys
import tempfile

from door import ROOT, done, ok, skip


def run(program, *words, env=None, limit=None):
    def limits():
        if limit is not None:
            resource.setrlimit(resource.RLIMIT_NOFILE, (limit, limit))
    d = subprocess.run([program, *map(str, words)], capture_output=True, text=True, check=False, env={**os.environ, **(env or {})}, preexec_fn=limits)
    return d.returncode, d.stdout, d.stderr


def doctor(program, *words, **more):
    code, out, err = run(program, 'doctor', '--json', *words, **more)
    told = json.loads(out) if out else {'checks': []}
    return code, {(c['check'], c['state']): c for c in told['checks']}, told, err


def check_alone(program):
    code, _, told, err = doctor(program)
    states = {c['check']: c['state'] for c in told['checks']}
    ok(code in (0, 4) and not err and 'bad' not in states.values() and {'program', 'pages', 'photos', 'letters', 'clock', 'open files'} <= set(states), 'a sound installation: nothing is bad', str(told))
    ok(states['program'] == 'good' and states['photos'] in ('good', 'warn'), 'the published values hold, a photo is read in a child', str(states))
    ok(all((c['cure'] is None) == (c['state'] == 'good') for c in told['checks']), 'whatever is not good says what to do, and nothing else does')
    code_, out, _ = run(program, 'doctor')
    ok(code_ == code and out.startswith(('[=] Fit for work.', '[>] Fit for work;')), 'the same in words', out)
    code, _, _ = run(program, 'doctor', '--whole')
    ok(code == 2, '--whole without a store: 2')
    code, _, _ = run(program, 'doctor', '--key', 'x')
    ok(code == 2, '--key without a certificate: 2')
    code, found, _, _ = doctor(program, limit=512)
    ok(code == 4 and ('open files', 'warn') in found, 'a limit of 512 open files: warn, 4')
    with tempfile.TemporaryDirectory() as empty:
        conf = pathlib.Path(empty) / 'fonts.conf'
        conf.write_text(f'<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig><dir>{empty}</dir><cachedir>{empty}</cachedir></fontconfig>')
        code, found, _, _ = doctor(program, env={'FONTCONFIG_FILE': str(conf)})
        ok(code == 4 and ('letters', 'warn') in found, 'a machine without fonts: warn, 4', str(found))


def check_spoilt_program(program, folder):
    """A bit of a page within the program's own file, as a dying disk would turn it."""
    body = bytearray(pathlib.Path(program).read_bytes())
    css = (ROOT / 'src/serve/files/enter.css').read_bytes()
    at = body.find(css)
    if at < 0:
        return skip('a page within the program is spoilt', 'its bytes are not found as they are')
    body[at + 3] ^= 1
    spoilt = folder / 'spoilt'
    spoilt.write_bytes(body)
    spoilt.chmod(0o755)
    code, found, _, _ = doctor(str(spoilt))
    ok(code == 1 and ('pages', 'bad') in found and 'enter.css' in found['pages', 'bad']['found'], 'one bit of a page within the program: bad, and which')


def check_store(program, folder):
    store = folder / 'store'
    run(program, 'store', 'init', '--store', store)
    run(program, 'store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', store)
    run(program, 'people', 'add', 'ada', '--role', 'owner', '--store', store)
    bag = folder / 'bag.zip'
    run(program, 'bag', 'make', ROOT / 'examples/jobs/ov-26-03-a', '-o', bag)
    run(program, 'take', bag, '--store', store)
    code, found, told, _ = doctor(program, '--store', store)
    ok(('store', 'good') in found and ('rights', 'good') in found and '1 claims' in found['store', 'good']['found'] and 'not verified' in found['store', 'good']['found'], 'a sound store, quickly', str(told))
    code, found, told, _ = doctor(program, '--store', store, '--whole')
    ok(('store', 'good') in found and 'verified from end to end' in found['store', 'good']['found'], 'a sound store, whole', str(told))
    (store / 'people.db').chmod(0o644)
    code, found, _, _ = doctor(program, '--store', store)
    ok(code == 1 and 'people.db' in found['rights', 'bad']['found'] and '644' in found['rights', 'bad']['found'], 'people.db that others may read: bad')
    (store / 'people.db').chmod(0o600)
    store.chmod(0o777)
    code, found, _, _ = doctor(program, '--store', store)
    ok(code == 1 and ('rights', 'bad') in found, 'a folder that everybody may write: bad')
    store.chmod(0o755)
    photo = next((store / 'photos').rglob('*.png'))
    body = photo.read_bytes()
    photo.chmod(0o644)
    photo.write_bytes(body[:-1] + bytes([body[-1] ^ 1]))
    code, found, _, _ = doctor(program, '--store', store, '--whole')
    ok(code == 1 and 'photo' in found['store', 'bad']['found'], 'a photo with one bit turned: bad, with --whole', str(found))
    photo.write_bytes(body)
    code, found, _, _ = doctor(program, '--store', folder / 'nowhere')
    ok(code == 1 and ('store', 'bad') in found, 'no store there: bad')
    late = folder / 'late'
    run(program, 'store', 'init', '--store', late)
    run(program, 'take', bag, '--store', late, '--at', '2099-01-01T00:00:00Z')
    code, found, _, _ = doctor(program, '--store', late)
    ok(code == 1 and 'before the last claim' in found['clock', 'bad']['found'], 'a clock that stands before the last claim: bad')
    (store / 'store.db').write_bytes(b'not a database' * 100)
    code, found, _, _ = doctor(program, '--store', store)
    ok(code == 1 and ('store', 'bad') in found, 'a store.db that is none: bad')


def openssl(*words):
    subprocess.run(['openssl', *map(str, words)], check=True, capture_output=True)


def check_tls(program, folder):
    if not shutil.which('openssl'):
        return skip('TLS files', 'there is no openssl here')
    key, other = folder / 'key.pem', folder / 'other.pem'
    for k in (key, other):
        openssl('ecparam', '-name', 'prime256v1', '-genkey', '-noout', '-out', k)
        k.chmod(0o600)

    def certificate(days, name):
        path = folder / name
        openssl('req', '-x509', '-new', '-key', key, '-days', days, '-subj', '/CN=desk.example', '-out', path)
        return path

    def look(path, k=key):
        code, found, told, _ = doctor(program, '--certificate', path, '--key', k)
        line = [c for c in told['checks'] if c['check'] == 'tls']
        return code, line[0]['state'] if line else None, ' '.join(c['found'] for c in line)

    good = certificate(90, 'good.pem')
    code, state, found = look(good)
    ok(state == 'good' and 'CN=desk.example' in found and ('89 more days' in found or '90 more days' in found), 'a certificate of 90 days: good, with its days', found)
    code, state, found = look(certificate(5, 'soon.pem'))
    ok(code == 4 and state == 'warn', 'one of 5 days: warn', found)
    path = folder / 'old.pem'
    openssl('req', '-new', '-key', key, '-subj', '/CN=desk.example', '-out', folder / 'csr')
    (folder / 'ca').mkdir()
    (folder / 'ca/index').write_text('')
    (folder / 'ca/conf').write_text(f'[ca]\ndefault_ca=c\n[c]\ndatabase={folder}/ca/index\nserial={folder}/ca/serial\nnew_certs_dir={folder}/ca\ndefault_md=sha256\npolicy=p\n[p]\ncommonName=supplied\n')
    openssl('ca', '-config', folder / 'ca/conf', '-batch', '-selfsign', '-keyfile', key, '-in', folder / 'csr', '-out', path, '-create_serial', '-startdate', '20200101000000Z', '-enddate', '20210101000000Z')
    code, state, found = look(path)
    ok(code == 1 and state == 'bad' and 'run out' in found, 'one of 2020: bad', found)
    code, state, found = look(good, other)
    ok(code == 1 and state == 'bad' and 'does not belong' in found, "another certificate's key: bad", found)
    code, state, found = look(folder / 'csr')
    ok(code == 1 and state == 'bad' and 'no certificate' in found, 'what is no certificate: bad', found)
    openssl('ec', '-in', key, '-aes128', '-passout', 'pass:level', '-out', folder / 'shut.pem')
    code, state, found = look(good, folder / 'shut.pem')
    ok(code == 1 and state == 'bad' and 'passphrase' in found, 'a key with a passphrase: bad', found)
    key.chmod(0o644)
    code, state, found = look(good)
    ok(code == 1 and 'may be read by others' in found, 'a key that others may read: bad', found)
    key.chmod(0o600)
    code, state, found = look(folder / 'nowhere.pem')
    ok(code == 1 and state == 'bad', 'no file: bad', found)


def main(argv):
    program, folder = argv[1], pathlib.Path(tempfile.mkdtemp(prefix='mendwright-doctor-'))
    try:
        check_alone(program)
        check_spoilt_program(program, folder)
        check_store(program, folder)
        check_tls(program, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
