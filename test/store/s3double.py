#!/usr/bin/env python3
"""s3double: a TEST DOUBLE of an object store that speaks S3, and no such store itself: objects in memory, one bucket, path-style, as much of
the protocol as the program uses (GET, HEAD, PUT, DELETE of an object, ListObjectsV2). It checks every request's signature by its own
reckoning of signature version 4 (hmac and hashlib, by the published description, "Signature calculations for the Authorization header:
transferring payload in a single chunk"), and it can be told to misbehave.

usage: s3double.py PROGRAM [ARGUMENT...]   runs PROGRAM with MENDWRIGHT_TEST_PHOTOS set to the words for an address, and with its key
       s3double.py                         TAP: its reckoning against the examples of that description
"""
import datetime
import email.utils
import hashlib
import hmac
import http.server
import os
import pathlib
import ssl
import subprocess
import sys
import threading
import time
import urllib.parse
from xml.sax.saxutils import escape

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402

KEY, SECRET = 'TESTKEY0EXAMPLE', 'test/secret+of/nobody'
BUCKET, PREFIX, REGION = 'yard-photos', 'ov26/first', 'test-region-1'
SKEW_S = 15 * 60


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def mac(key, text):
    return hmac.new(key, text.encode(), hashlib.sha256).digest()


def signature(secret, method, path, query, headers, signed, payload, region):
    """path and query as they stand in the request; headers: {lower-case name: value}; signed: the names that are signed, in order."""
    path = urllib.parse.quote(urllib.parse.unquote(path), safe='/-_.~')
    pairs = sorted((urllib.parse.quote(urllib.parse.unquote(k), safe='-_.~'), urllib.parse.quote(urllib.parse.unquote(v), safe='-_.~'))
                   for k, _, v in (part.partition('=') for part in query.split('&') if part))
    canonical = '\n'.join([method, path, '&'.join(f'{k}={v}' for k, v in pairs),
                           ''.join(f'{name}:{" ".join(headers[name].split())}\n' for name in signed), ';'.join(signed), payload])
    when = headers['x-amz-date']
    scope = f'{when[:8]}/{region}/s3/aws4_request'
    text = '\n'.join(['AWS4-HMAC-SHA256', when, scope, sha256(canonical.encode())])
    key = ('AWS4' + secret).encode()
    for part in (when[:8], region, 's3', 'aws4_request'):
        key = mac(key, part)
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()


class Fault:
    """What to do instead of answering as one should: `times` times, for requests of `method` whose path has `part` in it."""

    def __init__(self, what, method='', part='', times=1):
        self.what, self.method, self.part, self.times = what, method, part, times


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = 'HTTP/1.1'
    server_version = 's3double'

    def log_message(self, *_):
        pass

    @property
    def double(self):
        return self.server.double

    def date_time_string(self, timestamp=None):
        return email.utils.formatdate(time.time() + self.double.clock_ahead_s, usegmt=True)

    # ---- answers

    def answer(self, status, body=b'', kind='application/xml', length=None):
        self.send_response(status)
        if status != 204:
            self.send_header('Content-Length', str(len(body) if length is None else length))
            self.send_header('Content-Type', kind)
        self.end_headers()
        if self.command != 'HEAD':
            self.wfile.write(body)

    def refuse(self, status, code):
        self.double.refused.append(code)
        self.answer(status, f'<?xml version="1.0" encoding="UTF-8"?>\n<Error><Code>{code}</Code><Message>no</Message></Error>'.encode())

    def hang_up(self):
        self.close_connection = True
        self.connection.close()

    # ---- who asks

    def is_signed(self, body):
        """None when the request is as it should be, else (status, code)."""
        headers = {name.lower(): value for name, value in self.headers.items()}
        path, _, query = self.path.partition('?')
        said = headers.get('authorization', '')
        if not said.startswith('AWS4-HMAC-SHA256 '):
            return 403, 'AccessDenied'
        parts = dict(part.strip().split('=', 1) for part in said[len('AWS4-HMAC-SHA256 '):].split(','))
        key, _, region, service, last = parts['Credential'].split('/')
        signed = parts['SignedHeaders'].split(';')
        if (service, last) != ('s3', 'aws4_request') or not {'host', 'x-amz-date', 'x-amz-content-sha256'} <= set(signed) or signed != sorted(signed):
            return 400, 'AuthorizationHeaderMalformed'
        if key != self.double.key:
            return 403, 'InvalidAccessKeyId'
        when = datetime.datetime.strptime(headers['x-amz-date'], '%Y%m%dT%H%M%SZ').replace(tzinfo=datetime.timezone.utc).timestamp()
        if abs(when - time.time() - self.double.clock_ahead_s) > SKEW_S:
            return 403, 'RequestTimeTooSkewed'
        if region != REGION:
            return 400, 'AuthorizationHeaderMalformed'
        right = signature(self.double.secret, self.command, path, query, headers, signed, headers['x-amz-content-sha256'], region)
        if not hmac.compare_digest(right, parts['Signature']):
            return 403, 'SignatureDoesNotMatch'
        if headers['x-amz-content-sha256'] != sha256(body):
            return 400, 'XAmzContentSHA256Mismatch'
        return None

    # ---- what is asked

    def list(self, query):
        asked = dict(urllib.parse.parse_qsl(query))
        size = min(int(asked.get('max-keys', 1000)), self.double.page)
        with self.double.lock:
            keys = sorted(k for k in self.double.objects if k.startswith(asked.get('prefix', '')))
            sizes = {k: len(self.double.objects[k]) for k in keys}
        after = self.double.tokens.get(asked.get('continuation-token'), '')
        left = [k for k in keys if k > after]
        page, is_more = left[:size], len(left) > size
        rows = ''.join(f'<Contents><Key>{escape(k)}</Key><LastModified>2026-01-01T00:00:00.000Z</LastModified><ETag>&quot;x&quot;</ETag>'
                       f'<Size>{sizes[k]}</Size><StorageClass>STANDARD</StorageClass></Contents>' for k in page)
        more = ''
        if is_more:
            token = f'a+b/c=&d {len(self.double.tokens)}'  # opaque, with every sign that has to be encoded
            self.double.tokens[token] = page[-1]
            more = f'<NextContinuationToken>{escape(token)}</NextContinuationToken>'
        self.answer(200, f'<?xml version="1.0" encoding="UTF-8"?>\n<ListBucketResult xmlns="http://s3.example/doc/2006-03-01/"><Name>{BUCKET}</Name>'
                    f'<Prefix>{escape(asked.get("prefix", ""))}</Prefix><KeyCount>{len(page)}</KeyCount><MaxKeys>{size}</MaxKeys>'
                    f'<IsTruncated>{str(is_more).lower()}</IsTruncated>{more}{rows}</ListBucketResult>'.encode())

    def object(self, key, body):
        double = self.double
        with double.lock:
            data = double.objects.get(key)
            if self.command == 'PUT':
                double.objects[key] = body
            elif self.command == 'DELETE':
                double.objects.pop(key, None)
        if self.command == 'PUT':
            self.answer(200)
        elif self.command == 'DELETE':
            self.answer(204)
        elif data is None:
            self.refuse(404, 'NoSuchKey')
        else:
            self.answer(200, data, 'image/jpeg')

    def misbehave(self, fault, key, body):
        what, double = fault.what, self.double
        data = double.objects.get(key, b'')
        if isinstance(what, int):
            self.refuse(what, {403: 'AccessDenied', 503: 'SlowDown', 507: 'QuotaExceeded'}.get(what, 'InternalError'))
        elif what == 'lost':  # it is done, and nobody is told
            with double.lock:
                if self.command == 'PUT':
                    double.objects[key] = body
            self.hang_up()
        elif what == 'dropped':
            self.hang_up()
        elif what == 'truncated':
            self.answer(200, data[:len(data) // 2], 'image/jpeg', length=len(data))
            self.hang_up()
        elif what == 'wrong byte':
            self.answer(200, bytes([data[0] ^ 1]) + data[1:], 'image/jpeg')
        elif what == 'longer':
            self.answer(200, data + b'x', 'image/jpeg')
        elif what == 'stalled':  # half of it, then nothing, until the other side has had enough
            self.send_response(200)
            self.send_header('Content-Length', str(max(len(data), 2)))
            self.end_headers()
            self.wfile.write((data or b'xx')[:len(data) // 2 or 1])
            self.wfile.flush()
            self.wait_until_left()
        elif what == 'silent':
            self.wait_until_left()
        else:  # a body
            self.answer(200, what)

    def wait_until_left(self):
        self.connection.settimeout(60)
        try:
            while self.connection.recv(4096):
                pass
        except OSError:
            pass
        self.hang_up()

    def handle_request(self):
        body = self.rfile.read(int(self.headers.get('Content-Length', 0)))
        path, _, query = self.path.partition('?')
        bucket, _, key = urllib.parse.unquote(path)[1:].partition('/')
        self.double.asked.append((self.command, key))
        bad = self.is_signed(body)
        fault = None if bad else self.double.next_fault(self.command, self.path)
        if bad:
            self.refuse(*bad)
        elif fault:
            self.misbehave(fault, key, body)
        elif bucket != BUCKET:
            self.refuse(404, 'NoSuchBucket')
        elif key:
            self.object(key, body)
        else:
            self.list(query)

    do_GET = do_HEAD = do_PUT = do_DELETE = handle_request


class Server(http.server.ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def handle_error(self, *_):  # the other side hung up, which is what some tests are about
        pass


class Double:
    """with Double() as d: d.objects {key: bytes}; d.faults, a list of Fault; d.asked, every (method, key); d.refused, every code."""

    def __init__(self, certificate=None, page=1000):
        self.key, self.secret, self.page, self.clock_ahead_s = KEY, SECRET, page, 0
        self.objects, self.faults, self.asked, self.refused, self.tokens = {}, [], [], [], {}
        self.lock = threading.Lock()
        self.server = Server(('127.0.0.1', 0), Handler)
        self.server.double = self
        self.scheme = 'http'
        if certificate:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(*certificate)
            self.server.socket = context.wrap_socket(self.server.socket, server_side=True, do_handshake_on_connect=False)
            self.scheme = 'https'

    def __enter__(self):
        threading.Thread(target=self.server.serve_forever, args=(0.05,), daemon=True).start()
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()

    def next_fault(self, method, path):
        with self.lock:
            for fault in self.faults:
                if fault.times > 0 and fault.method in ('', method) and fault.part in path:
                    fault.times -= 1
                    return fault
        return None

    @property
    def endpoint(self):
        return f'{self.scheme}://127.0.0.1:{self.server.server_address[1]}'

    def words(self, prefix=PREFIX, bucket=BUCKET, endpoint=None, region=REGION, **more):
        """What stands behind the ? of an address."""
        rest = ''.join(f'&s3_{name}={urllib.parse.quote(str(value), safe="/")}' for name, value in more.items())
        return f'photos=s3://{bucket}/{prefix}&s3_endpoint={endpoint or self.endpoint}&s3_region={region}{rest}'

    @property
    def environment(self):
        return {'MENDWRIGHT_S3_KEY': self.key, 'MENDWRIGHT_S3_SECRET': self.secret}


def check_reckoning():
    """The examples at the end of the description, with its own invented key: 24 May 2013, examplebucket, us-east-1 (from memory)."""
    secret, nothing = 'wJalrXUtnFEMI/K7MDENG/bPxRfiCYEXAMPLEKEY', sha256(b'')
    base = {'host': 'examplebucket.s3.amazonaws.com', 'x-amz-date': '20130524T000000Z'}
    put = sha256(b'Welcome to Amazon S3.')
    cases = [
        ('GET an object, ten bytes of it', 'GET', '/test.txt', '', {'range': 'bytes=0-9'}, nothing,
         'f0e8bdb87c964420e857bd35b5d6ed310bd44f0170aba48dd91039c6036bdb41'),
        ('PUT an object', 'PUT', '/test%24file.text', '', {'date': 'Fri, 24 May 2013 00:00:00 GMT', 'x-amz-storage-class': 'REDUCED_REDUNDANCY'}, put,
         '98ad721746da40c64f1a55b78f14c238d841ea1380cd77a1b5971af0ece108bd'),
        ('GET a setting', 'GET', '/', 'lifecycle=', {}, nothing, 'fea454ca298b7da1c68078a5d1bdbfbbe0d65c699e0f91ac7a200a0136783543'),
        ('list objects', 'GET', '/', 'max-keys=2&prefix=J', {}, nothing, '34b48302e7b5fa45bde8084f4b7868a86f0a534bc59db6670ed5711ef69dc6f7')]
    for name, method, path, query, more, payload, right in cases:
        headers = base | more | {'x-amz-content-sha256': payload}
        got = signature(secret, method, path, query, headers, sorted(headers), payload, 'us-east-1')
        tap.ok(got == right, f"the double signs as the description's example: {name}", got)
    return tap.done()


def main(argv):
    if not argv:
        return check_reckoning()
    with Double() as double:
        return subprocess.run(argv, env=os.environ | double.environment | {'MENDWRIGHT_TEST_PHOTOS': double.words()}).returncode


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
