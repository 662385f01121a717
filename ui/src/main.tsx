// main: starts the pages: the core, the store, the service worker; and picks the screen by the address.
import { render, JSX } from 'preact';
import { useEffect, useLayoutEffect } from 'preact/hooks';
import './style.css';
import { Core } from './core/core';
import { App } from './store/app';
import { Db } from './store/db';
import { translator } from './text';
import { Relay } from './send/relay';
import { Sender } from './send/sender';
import { AppContext, RelayContext, SenderContext, useApp } from './view/context';
import { useHash } from './view/hash';
import { Home, NoJob, Open, SettingsPage } from './view/home';
import { JobPage } from './view/job';
import { isLook, startLook } from './view/look';
import { Hatch } from './view/parts';
import { ScanPage } from './view/scan';
import { Lazy } from './view/lazy';
import { Join, ShopJobs } from './view/together';

const BASE = new URL('./', document.baseURI).href;

function Screen(): JSX.Element | null {
    const { app } = useApp(), hash = useHash(), path = hash.replace(/^#\/?/, ''), [head, id = '', ...rest] = path.split('/');
    useLayoutEffect(() => scrollTo(0, 0), [hash]);
    useEffect(() => { document.documentElement.lang = app.settings.language; }, [app.settings.language]);
    // On a task's own screen nothing changes that others did; everywhere else it shows at once.
    useEffect(() => app.workOn(head === 'j' && !['', 'all', 'history', 'together', 'finish'].includes(rest[0] ?? '') ? decodeURIComponent(id) : ''), [path]);
    if (head === 'join') return id === '' ? <ShopJobs /> : <Join key={id} job={id} />;
    if (head === 'open') return <Open vin={decodeURIComponent(id)} bulletin={decodeURIComponent(rest[0] ?? '')} />;
    if (head === 'scan') return <ScanPage key={path} rest={[id, ...rest]} />;
    if (head === 'practice') return <Lazy key="practice" rest={[id, ...rest]} />;
    if (head === 'settings') return <SettingsPage then={id} />;
    if (head === 'j') {
        const open = app.find(decodeURIComponent(id));
        return open === null ? <NoJob /> : <JobPage key={open.record.id} open={open} rest={rest.join('/')} />;
    }
    return <Home />;
}

/** Keeps the pages for use without a network; tells the app when a newer version waits. */
async function keepOffline(app: App): Promise<void> {
    if (!('serviceWorker' in navigator)) return;
    const registration = await navigator.serviceWorker.register(new URL('sw.js', BASE), { scope: BASE, updateViaCache: 'none' });
    let isTaken = false;
    navigator.serviceWorker.addEventListener('controllerchange', () => { if (isTaken) location.reload(); });
    const offer = (worker: ServiceWorker) => { worker.postMessage('keep-rest'); app.setUpdate(() => { isTaken = true; worker.postMessage('take-over'); }); };
    // The reader of codes is kept too, after everything else and without anybody waiting for it; asked for at each start, so that what a
    // broken connection left out comes later.
    const keepRest = (worker: ServiceWorker | null) => worker?.postMessage('keep-rest');
    void navigator.serviceWorker.ready.then((r) => keepRest(r.active));
    const watch = () => {
        const next = registration.installing;
        next?.addEventListener('statechange', () => { if (next.state === 'installed' && navigator.serviceWorker.controller !== null) offer(next); });
    };
    if (registration.waiting !== null && navigator.serviceWorker.controller !== null) offer(registration.waiting);
    registration.addEventListener('updatefound', watch);
    document.addEventListener('visibilitychange', () => { if (document.visibilityState === 'visible') void registration.update().catch(() => undefined); });
}

/** What the server offers, asked for again at growing distances while something of it is missing: one answer that was lost on the way would
 * otherwise leave a phone without its bulletin until the network went and came back. */
async function untilHere(app: App): Promise<void> {
    for (let wait_ms = 2000; !(await app.fetchBulletins(BASE)); wait_ms = Math.min(2 * wait_ms, 300_000)) await new Promise((done) => setTimeout(done, wait_ms));
}

async function start(): Promise<void> {
    const core = await Core.load(await (await fetch(new URL('core.wasm', BASE))).arrayBuffer());
    const app = await App.start(core, await Db.open());
    const page = document.getElementById('page')!;
    page.textContent = '';
    if (isLook()) return startLook(app, page);
    const sender = new Sender(app, location.origin), relay = new Relay(app, sender, location.origin, BASE);
    sender.relay = relay;
    render(<AppContext.Provider value={app}><SenderContext.Provider value={sender}><RelayContext.Provider value={relay}><Hatch /><Screen /></RelayContext.Provider></SenderContext.Provider></AppContext.Provider>, page);
    void keepOffline(app).catch(() => undefined); // without it the pages still work while the network does
    void navigator.storage?.persist?.();
    sender.start();
    const hear = () => { if (document.visibilityState === 'visible') void app.hearServer(BASE); };
    addEventListener('online', hear);
    document.addEventListener('visibilitychange', hear);
    hear();
    relay.start();
    addEventListener('online', () => void app.fetchBulletins(BASE));
    void untilHere(app);
}

start().catch((e: unknown) => {
    const t = translator(navigator.language.split('-')[0]!), page = document.getElementById('page')!;
    page.textContent = `${t('damaged-page')}: ${String(e)}`;
});
