#!/usr/bin/env python3
"""What ends `make demo`: tools/pages prints three links, each lets in its person once, and serves until it is stopped. Then the pages
themselves, as the program carries them.

usage: pages.py PROGRAM
"""
import gzip
import os
import re
import signal
import subprocess
import sys

from door import ROOT, Server, Someone, done, ok


def lines_until(process, word):
    text = ''
    for line in process.stdout:
        text += line
        if word in line:
            return text
    return text


def check_links(server, program):
    process = subprocess.Popen([ROOT / 'tools' / 'pages', program, server.store], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               env={**os.environ, 'PORT': '18080'})
    try:
        text = lines_until(process, 'Serving')
        links = re.findall(r'^ +(\w+) +http://127\.0\.0\.1:(\d+)/enter/(\S+)$', text, re.M)
        ok([role for role, _, _ in links] == ['technician', 'clerk', 'owner'], 'three links: technician, clerk, owner', text)
        ok('invented' in text, 'it says that the data is invented')
        if len(links) != 3:
            return
        server.port = int(links[0][1])
        for role, _, token in links:
            someone = Someone(server)
            a = someone.send('POST', '/api/v1/session', {'link': token})
            ok(a.status == 200 and a.json['role'] == role, f'the link of the {role} lets the {role} in', a.text)
            ok(Someone(server).send('POST', '/api/v1/session', {'link': token}).status == 401, 'once')
        check_pages(server)
    finally:
        process.send_signal(signal.SIGTERM)
        ok(process.wait(timeout=30) == 0, 'told to stop, it ends with 0')


def fetch(server, path, **headers):
    return Someone(server).get(path, **headers)


def check_pages(server):
    a = fetch(server, '/')
    ok(a.status == 303 and a.headers['Location'] == '/bench/', 'the root leads to the Bench')
    a = fetch(server, '/bench')
    ok(a.status == 303 and a.headers['Location'] == '/bench/', 'so does its name without a slash')
    a = fetch(server, '/bench/')
    if a.status == 404:
        print('# built without the pages (-Dpages=false)')
        return
    ok(a.status == 200 and a.headers['Content-Type'].startswith('text/html'), 'the Bench is in the program')
    names = sorted(set(re.findall(r'(?:src|href)="\./([^"]+)"', a.text)))
    ok(len(names) >= 3, 'it names its files', str(names))
    total = 0
    for name in ['', *names, 'core.wasm', 'sw.js']:
        plain, packed = fetch(server, '/bench/' + name), fetch(server, '/bench/' + name, Accept_Encoding='gzip')
        same = packed.bytes if packed.headers['Content-Encoding'] is None else gzip.decompress(packed.bytes)
        ok(plain.status == 200 and same == plain.bytes, f'/bench/{name}: packed by gzip it is the same (RFC 1952)')
        ok(plain.headers['Vary'] == packed.headers['Vary'] and (plain.headers['Content-Encoding'] is None), 'and only who asks for it gets it so')
        again = fetch(server, '/bench/' + name, Accept_Encoding='gzip', If_None_Match=packed.headers['ETag'])
        ok(again.status == 304, 'not again when it has not changed')
        total += len(packed.bytes)
    ok(total < 400000, f'the first load is under 400 kB compressed: {total} bytes')
    w = fetch(server, '/bench/core.wasm')
    ok(w.headers['Content-Type'] == 'application/wasm' and w.bytes[:4] == b'\0asm', 'the core has the type that browsers compile while it comes')
    kept = [n for n in names if n.startswith('assets/')]
    ok(kept and all('immutable' in fetch(server, '/bench/' + n).headers['Cache-Control'] for n in kept), 'what is named by its content may be kept for good')
    ok(fetch(server, '/bench/sw.js').headers['Cache-Control'] == 'no-cache', 'the service worker is asked for anew')
    ok(fetch(server, '/bench/core.wasm.gz.gz').status == 404 and fetch(server, '/bench/nothing.js').status == 404, 'what is not there: 404')


def main(argv):
    server = Server(argv[1])
    try:
        check_links(server, argv[1])
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
