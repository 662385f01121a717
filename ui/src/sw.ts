// sw: the service worker. Owns one thing: the files of this version of the pages, kept so that everything opens with no network.
// A new version is fetched whole beside the old one and waits; the page asks for it when the technician agrees, and nothing
// that was typed lives here. What a first load does not need (REST: the reader of codes, the practice pages) is fetched when the page asks for it to be kept, after
// all else. Requests of the server's interface are never answered from here.
declare const VERSION: string;
declare const FILES: string[];
declare const REST: string[];

interface WorkerEvent extends Event { waitUntil(p: Promise<unknown>): void }
interface FetchEvent extends WorkerEvent { request: Request; respondWith(r: Promise<Response> | Response): void }
interface Scope {
    addEventListener(type: 'install' | 'activate', f: (e: WorkerEvent) => void): void;
    addEventListener(type: 'fetch', f: (e: FetchEvent) => void): void;
    addEventListener(type: 'message', f: (e: MessageEvent & WorkerEvent) => void): void;
    skipWaiting(): Promise<void>;
    registration: { scope: string };
    clients: { claim(): Promise<void> };
}
const worker = self as unknown as Scope;
const PREFIX = 'mendwright-pages-';
const CACHE = PREFIX + VERSION;

async function keep(names: string[]): Promise<void> {
    const cache = await caches.open(CACHE);
    // Past the browser's own cache, so that one version's files are never mixed with another's.
    await Promise.all(names.map(async (name) => {
        const answer = await fetch(new Request(new URL(name, worker.registration.scope), { cache: 'reload' }));
        if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
        await cache.put(new URL(name, worker.registration.scope).href, answer);
    }));
}

/** Those of REST that are not here yet: from an older version when it has the very same (names in assets/ carry their digests), else fetched. */
async function keepRest(): Promise<void> {
    const cache = await caches.open(CACHE), missing: string[] = [];
    for (const name of REST) {
        const url = new URL(name, worker.registration.scope).href;
        if ((await cache.match(url)) !== undefined) continue;
        const older = name.startsWith('assets/') ? await caches.match(url) : undefined;
        if (older === undefined) missing.push(name); else await cache.put(url, older);
    }
    await keep(missing);
}

async function activate(): Promise<void> {
    for (const name of await caches.keys()) if (name.startsWith(PREFIX) && name !== CACHE) await caches.delete(name);
    await worker.clients.claim();
}

async function answer(request: Request): Promise<Response> {
    const cache = await caches.open(CACHE);
    const wanted = request.mode === 'navigate' ? worker.registration.scope : request.url.split(/[?#]/)[0]!;
    return (await cache.match(wanted)) ?? fetch(request);
}

worker.addEventListener('install', (e) => e.waitUntil(keep(FILES)));
worker.addEventListener('activate', (e) => e.waitUntil(activate()));
worker.addEventListener('message', (e) => {
    if (e.data === 'take-over') void worker.skipWaiting();
    if (e.data === 'keep-rest') e.waitUntil(keepRest().catch(() => undefined)); // no network: at the next start
});
worker.addEventListener('fetch', (e) => {
    const path = new URL(e.request.url);
    const ours = e.request.method === 'GET' && e.request.url.startsWith(worker.registration.scope);
    const below = path.href.slice(worker.registration.scope.length);
    if (ours && !below.startsWith('api/') && !below.startsWith('bulletins/')) e.respondWith(answer(e.request));
});
