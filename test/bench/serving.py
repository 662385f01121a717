"""serving: `mendwright serve` against nginx on the same machine, by wrk over loopback with connections that are kept: a page and its largest
script, the same bytes packed by gzip with the same headers from both; the bulletin that the Bench asks for, by its session, against the
same answer as a file. Called by run; or serving.py BUILD for these figures alone."""
import http.client
import json
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time

TREE = pathlib.Path(__file__).resolve().parent.parent.parent
CONNECTIONS, SECONDS, ROUNDS = 64, 3, 3
UNITS = {'us': 1e-3, 'ms': 1, 's': 1000}
# What nginx writes by itself, or what belongs to the call and not to the bytes.
OWN = {'server', 'date', 'connection', 'content-length', 'x-request-id', 'etag', 'transfer-encoding', 'content-type', 'keep-alive'}
CONF = '''
daemon off; master_process on; worker_processes auto; pid {folder}/pid; error_log {folder}/error.log crit;
events {{ worker_connections 1024; }}
http {{
  access_log off; sendfile on; tcp_nopush on; keepalive_requests 1000000000; etag on; server_tokens off;
  open_file_cache max=100; client_body_temp_path {folder}; proxy_temp_path {folder}; fastcgi_temp_path {folder}; uwsgi_temp_path {folder}; scgi_temp_path {folder};
  server {{ listen 127.0.0.1:{port}; {locations} }}
}}
'''


def free_port():
    import socket
    with socket.socket() as s:
        s.bind(('127.0.0.1', 0))
        return s.getsockname()[1]


def call(program, *words):
    return subprocess.run([program, *map(str, words)], check=True, capture_output=True, text=True).stdout


def ask(port, path, headers, method='GET', body=None):
    wire = http.client.HTTPConnection('127.0.0.1', port, timeout=30)
    wire.request(method, path, body, headers)
    answer = wire.getresponse()
    got = answer.read()
    wire.close()
    return answer, got


def wrk(port, path, headers):
    """(calls a second, 99 % within ms) of one run; every answer must be 2xx."""
    words = ['wrk', '-t', '1', '-c', str(CONNECTIONS), '-d', f'{SECONDS}s', '--latency']
    for name, value in headers.items():
        words += ['-H', f'{name}: {value}']
    text = subprocess.run([*words, f'http://127.0.0.1:{port}{path}'], check=True, capture_output=True, text=True).stdout
    if 'Non-2xx' in text or 'Socket errors' in text:
        sys.exit(f'bench: wrk on {path}: {text}')
    number, unit = re.search(r'99%\s+([\d.]+)(us|ms|s)', text).groups()
    return float(re.search(r'Requests/sec:\s+([\d.]+)', text)[1]), float(number) * UNITS[unit]


def start_ours(build, folder):
    program, store = build / 'mendwright', folder / 'store'
    call(program, 'store', 'init', '--store', store)
    call(program, 'store', 'keep', 'bulletin', TREE / 'examples/OV-26-03.yaml', '--store', store)
    call(program, 'people', 'add', 'ines', '--role', 'technician', '--shop', 'fern-mobile-2', '--store', store)
    link = json.loads(call(program, 'people', 'link', 'ines', '--store', store, '--json'))['link']
    process = subprocess.Popen([program, 'serve', '--store', store, '--listen', '127.0.0.1:0', '--json'], stdout=subprocess.PIPE, text=True)
    port = json.loads(process.stdout.readline())['port']
    answer, _ = ask(port, '/api/v1/session', {'Content-Type': 'application/json'}, 'POST', json.dumps({'link': link}))
    return process, port, answer.headers['Set-Cookie'].split(';')[0]


def start_nginx(folder, files):
    """files: path -> (headers as ours sent them, bytes). There /0, /1 ... in the same order: nginx takes a path that ends in a slash for a folder."""
    port, locations = free_port(), []
    for i, (path, (headers, data)) in enumerate(files.items()):
        (folder / f'{i}.bin').write_bytes(data)
        same = ' '.join(f'add_header {n} "{v}";' for n, v in headers.items() if n.lower() not in OWN)
        locations.append(f'location = /{i} {{ alias {folder}/{i}.bin; types {{ }} default_type "{headers["Content-Type"]}"; {same} }}')
    (folder / 'conf').write_text(CONF.format(folder=folder, port=port, locations=' '.join(locations)))
    process = subprocess.Popen(['nginx', '-c', folder / 'conf', '-p', folder], stderr=subprocess.DEVNULL)
    for _ in range(100):
        try:
            ask(port, '/0', {})
            return process, port
        except OSError:
            time.sleep(0.05)
    sys.exit(f"bench: nginx does not answer: {(folder / 'error.log').read_text() if (folder / 'error.log').exists() else ''}")


def measure(paths, ours, theirs, cookie):
    results = {}
    for i, (what, (path, is_api)) in enumerate(paths.items()):
        headers = {'Accept-Encoding': 'gzip', **({'Cookie': cookie} if is_api else {})}
        best = {'ours': (0, 0), 'nginx': (0, 0)}
        for _ in range(ROUNDS):  # in turns
            for who, port, at in (('nginx', theirs, f'/{i}'), ('ours', ours, path)):
                best[who] = max(best[who], wrk(port, at, headers))
        r = results[what] = {'ours_s': best['ours'][0], 'ours_p99_ms': best['ours'][1], 'nginx_s': best['nginx'][0], 'nginx_p99_ms': best['nginx'][1]}
        r['ratio'] = r['ours_s'] / r['nginx_s']
        print(f"  {what:<38} nginx {r['nginx_s']:8,.0f}/s p99 {r['nginx_p99_ms']:6.2f} ms   mendwright {r['ours_s']:8,.0f}/s p99 {r['ours_p99_ms']:6.2f} ms   {r['ratio']:5.2f} x nginx", flush=True)
    return results


def show_serving(build):
    if not shutil.which('wrk') or not shutil.which('nginx'):
        print('\nserving against nginx: not measured, wrk or nginx is not installed (tools/deps bench)')
        return None
    print(f'\nserving against nginx, same bytes, headers and machine, wrk with {CONNECTIONS} kept connections, best of {ROUNDS} runs of {SECONDS} s each, in turns')
    with tempfile.TemporaryDirectory() as name:
        folder, started = pathlib.Path(name), []
        try:
            process, port, cookie = start_ours(build, folder)
            started.append(process)
            _, page = ask(port, '/bench/', {})
            scripts = re.findall(r'src="\./(assets/[^"]+\.js)"', page.decode())
            paths = {'the page /bench/': ('/bench/', False), 'its script': ('/bench/' + scripts[0], False), 'a bulletin, by session': ('/api/v1/bulletins/OV-26-03/2', True)}
            files = {}
            for path, is_api in paths.values():
                answer, data = ask(port, path, {'Accept-Encoding': 'gzip', **({'Cookie': cookie} if is_api else {})})
                files[path] = (dict(answer.headers.items()), data)
            for what, (path, _) in paths.items():
                print(f'    {what}: {len(files[path][1]):,} bytes{" of gzip" if files[path][0].get("Content-Encoding") else ""}')
            other, theirs = start_nginx(folder, files)
            started.append(other)
            for i, (path, (headers, data)) in enumerate(files.items()):
                answer, got = ask(theirs, f'/{i}', {})
                differ = {n for n in headers if n.lower() not in OWN and answer.headers.get(n) != headers[n]}
                if got != data or differ:
                    sys.exit(f'bench: nginx does not send the same for {path}: {differ}')
            return measure(paths, port, theirs, cookie)
        finally:
            for process in started:
                process.send_signal(signal.SIGTERM)
                process.wait(timeout=60)


if __name__ == '__main__':
    show_serving(pathlib.Path(sys.argv[1]))
