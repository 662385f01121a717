// serve: for tests, the program's own server behind a front (serveOwn); for looking and for screenshots, a small static server of the built
// pages and the bulletins that PROGRAM exports (serve).
import { createServer, request } from 'node:http';
import { readFile } from 'node:fs/promises';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { spawn, spawnSync } from 'node:child_process';
import { extname, join, normalize } from 'node:path';

const TYPES = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.wasm': 'application/wasm', '.json': 'application/json', '.svg': 'image/svg+xml', '.webmanifest': 'application/manifest+json' };

export function exported(program, file) {
    const run = spawnSync(program, ['check', '--export', file], { encoding: 'utf8', maxBuffer: 2 ** 26 });
    if (run.status !== 0) throw new Error(`${file}: ${run.stderr}${run.stdout}`);
    return run.stdout;
}

/** pages may be changed later: a newer build of the pages. */
export async function serve(pages, program, files) {
    const state = { pages, requests: 0, paths: [] };
    const bulletins = files.map((file, i) => ({ file: `${i}.json`, text: exported(program, file) }));
    const index = JSON.stringify({ bulletins: bulletins.map((b) => ({ file: b.file, sha256: JSON.parse(b.text).sha256 })) });
    const server = createServer(async (request, response) => {
        const path = normalize(decodeURIComponent(new URL(request.url, 'http://x').pathname));
        state.requests++;
        state.paths.push(path);
        const made = path === '/bulletins/index.json' ? index : bulletins.find((b) => path === `/bulletins/${b.file}`)?.text;
        try {
            const body = made ?? await readFile(join(state.pages, path.endsWith('/') ? path + 'index.html' : path));
            response.writeHead(200, { 'content-type': TYPES[extname(path)] ?? TYPES['.html'], 'cache-control': 'no-cache' }).end(body);
        } catch {
            response.writeHead(404).end('not found');
        }
    });
    await new Promise((done) => server.listen(0, '127.0.0.1', done));
    return { url: `http://127.0.0.1:${server.address().port}/`, state, close: () => new Promise((done) => { server.closeAllConnections(); server.close(done); }) };
}

/** `mendwright serve` over a store, on a free port of loopback. end() asks it to end: its exit code, and what it wrote besides the word that it
 * stops. stop() is for a test that only wants to know whether all was well: the exit code, 0; where it wrote anything at all, which is how a
 * sanitizer speaks, that is shown and the code is -1. Both remove the folder. */
export async function beginServing(program, store, folder) {
    const child = spawn(program, ['serve', '--store', store, '--listen', '127.0.0.1:0', '--json'], { stdio: ['ignore', 'pipe', 'pipe'] }), wrote = [];
    const ended = new Promise((take) => child.once('close', (code) => take(code ?? -1)));
    child.stderr.on('data', (d) => wrote.push(d));
    const said = () => Buffer.concat(wrote).toString().replace('Stopping; calls under way are answered first.\n', '');
    const told = await Promise.race([new Promise((take) => child.stdout.once('data', (d) => take(String(d)))), ended.then((code) => { throw new Error(`serve ended with ${code} before it began: ${said()}`); })]);
    const end = async () => {
        if (child.exitCode === null) child.kill('SIGTERM');
        const code = await ended;
        rmSync(folder, { recursive: true, force: true });
        return { code, said: said() };
    };
    const stop = async () => {
        const last = await end();
        if (last.said !== '') console.log(`# the server wrote: ${last.said.slice(0, 3000).replaceAll('\n', '\n# ')}`);
        return last.said === '' ? last.code : -1;
    };
    return { ...JSON.parse(told), end, stop };
}

/** The program's own server over a store with the bulletins, behind a front that only passes on: pages, the core and the worker come from the
 * program as they are, and so do bulletins, asked for with the session of a technician whom the page itself does not know. The rest of the
 * interface is shut, for the page to work alone; server.test and its kin speak to it directly. state.pages may be set to another folder of
 * pages: then the front plays the server of a newer version. The next state.lost calls for bulletins are turned away, as by a busy server.
 * close() gives what the server wrote and its exit code. */
export async function serveOwn(pages, program, files) {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-front-')), store = join(folder, 'store');
    const call = (...words) => {
        const done = spawnSync(program, [...words, '--store', store, '--json'], { encoding: 'utf8' });
        if (done.status !== 0) throw new Error(`${words.join(' ')}: ${done.status} ${done.stderr}`);
        return JSON.parse(done.stdout.trim().split('\n').pop());
    };
    call('store', 'init');
    for (const file of files) call('store', 'keep', 'bulletin', file);
    call('people', 'add', 'front', '--role', 'technician', '--shop', 'fern-mobile-2');
    const own = await beginServing(program, store, folder);
    const link = call('people', 'link', 'front').link;
    const ask = (options, body) => new Promise((take, fail) => { const r = request({ host: '127.0.0.1', port: own.port, ...options }, take); r.on('error', fail); r.end(body); });
    const entered = await ask({ method: 'POST', path: '/api/v1/session', headers: { 'content-type': 'application/json' } }, JSON.stringify({ link }));
    entered.resume();
    const cookie = entered.headers['set-cookie'][0].split(';')[0];
    const state = { pages, requests: 0, paths: [], lost: 0 };
    const server = createServer(async (from, to) => {
        state.requests++;
        const path = normalize(decodeURIComponent(new URL(from.url, 'http://x').pathname)), below = path.replace(/^\/bench\//, ''), isBulletin = path.startsWith('/api/v1/bulletins');
        state.paths.push(path);
        try {
            if (isBulletin && state.lost > 0) { state.lost--; to.writeHead(503).end('busy'); }
            else if (path.startsWith('/api/') && !isBulletin) to.writeHead(404).end('not found');
            else if (state.pages !== pages && path.startsWith('/bench/')) {
                const body = await readFile(join(state.pages, below === '' ? 'index.html' : below)); // before the head is written: it may not be there
                to.writeHead(200, { 'content-type': TYPES[extname(path)] ?? TYPES['.html'], 'cache-control': 'no-cache' }).end(body);
            }
            else {
                const { cookie: _, ...headers } = from.headers, answer = await ask({ method: from.method, path: from.url, headers: { ...headers, ...(isBulletin ? { cookie } : {}) } });
                to.writeHead(answer.statusCode, answer.headers);
                answer.pipe(to);
            }
        } catch {
            if (!to.headersSent) to.writeHead(404);
            to.end('not found');
        }
    });
    await new Promise((done) => server.listen(0, '127.0.0.1', done));
    const close = async () => {
        await new Promise((done) => { server.closeAllConnections(); server.close(done); });
        return own.end();
    };
    return { url: `http://127.0.0.1:${server.address().port}/bench/`, state, close };
}
