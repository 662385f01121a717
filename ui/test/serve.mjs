// serve: a small static server for tests and for looking: the built pages, and the bulletins that PROGRAM exports. Not the product's
// server.
import { createServer } from 'node:http';
import { readFile } from 'node:fs/promises';
import { spawnSync } from 'node:child_process';
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
