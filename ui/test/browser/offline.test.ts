// The network off from the first screen to the saved bag; the browser killed in the middle; a newer version of the pages in the middle
// of a job; a clock that is wrong; a full store.   usage: offline.test PAGES PROGRAM ROOT
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { spawnSync } from 'node:child_process';
import { ok, same } from '../tap.mjs';
import { SCRATCH, start, Technician, temporary, temporaryFolder } from './drive';
import { Kit, VIN, withPages } from './kit';

async function offline(kit: Kit): Promise<void> {
    const folder = temporaryFolder('bench-', SCRATCH), unit = kit.unit();
    let phone = await start(kit.url, { calm: true, folder });
    await phone.page.waitForFunction(() => navigator.serviceWorker.controller !== null || navigator.serviceWorker.ready.then(() => true));
    await phone.page.waitForFunction(async () => (await indexedDB.databases()).length > 0);
    await phone.page.waitForFunction(() => new Promise((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('bulletins').objectStore('bulletins').count(); q.onsuccess = () => { r.result.close(); done(q.result === 2); }; }; }));
    await phone.context.setOffline(true);
    await phone.page.reload();
    await phone.page.waitForSelector('[data-act="open"]');
    ok(true, 'with the network off the first screen opens again');
    const before = kit.state.requests;
    let tech = new Technician(phone, unit);
    await tech.openJob(VIN);
    for (let i = 0; i < 30; i++) await tech.one();
    await phone.page.click('a[href$="/all"]');
    await phone.page.click('a[href$="/history"]');
    const kept = await phone.page.locator('[data-event]').count();
    // Something is typed and not yet recorded; then every process of the browser is killed.
    await phone.page.goto(kit.url + '#/');
    await phone.page.click('a[href^="#/j/"]');
    while (!(await phone.page.locator('main input[data-field]').count())) await tech.one();
    const field = (await phone.page.locator('main input[data-field]').first().getAttribute('data-field'))!;
    await phone.page.fill(`[data-field="${field}"]`, '41.2');
    await tech.settled();
    const at = phone.page.url(), recorded = await phone.page.evaluate(() => new Promise<number>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('events').objectStore('events').count(); q.onsuccess = () => done(q.result); }; }));
    await phone.kill();
    phone = await start(kit.url, { calm: true, folder });
    await phone.context.setOffline(true);
    tech = new Technician(phone, unit);
    const after = await phone.page.evaluate(() => new Promise<number>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('events').objectStore('events').count(); q.onsuccess = () => done(q.result); }; }));
    ok(recorded >= kept && after === recorded, `all ${after} entries are there after the browser was killed`, `before ${recorded}, after ${after}`);
    await phone.page.click('a[href^="#/j/"]');
    await phone.page.waitForSelector(`[data-field="${field}"]`);
    same([phone.page.url(), await phone.page.inputValue(`[data-field="${field}"]`)], [at, '41.2'], 'and so is the screen, with what was typed and not yet recorded');
    await tech.work();
    const [download] = await Promise.all([phone.page.waitForEvent('download'), phone.page.click('[data-act="bag"]')]);
    const path = temporary('bag.zip', readFileSync(await download.path())), verified = JSON.parse(spawnSync(kit.program, ['bag', 'verify', path, '--json'], { encoding: 'utf8' }).stdout) as any;
    same([verified.valid, verified.complete], [true, true], 'the job is finished without a network, and its bag is valid and complete');
    ok(kit.state.requests - before <= 6, `the server was asked for nothing but at the start after the kill (${kit.state.requests - before} requests)`);
    await phone.close();
}

async function update(kit: Kit): Promise<void> {
    const newer = temporaryFolder('newer-');
    cpSync(kit.pages, newer, { recursive: true });
    const sw = readFileSync(join(newer, 'sw.js'), 'utf8'), version = /mendwright-pages-"\s*\+\s*"?|([0-9a-f]{16})/.exec(sw)?.[1] ?? /"([0-9a-f]{16})"/.exec(sw)?.[1];
    ok(version !== undefined, 'the service worker carries the version of its files');
    writeFileSync(join(newer, 'sw.js'), sw.replaceAll(version!, version!.split('').reverse().join('')));
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
    await page.reload();
    await page.waitForSelector('[data-act="open"]');
    await tech.openJob(VIN);
    await page.fill('[data-field="label"]', 'WD40 2024-W1');
    await tech.settled();
    kit.state.pages = newer;
    await page.evaluate(async () => { await (await navigator.serviceWorker.ready).update(); });
    await page.waitForSelector('.banner button');
    ok((await page.inputValue('[data-field="label"]')) === 'WD40 2024-W1', 'a newer version waits, and the screen stays as it is');
    await Promise.all([page.waitForNavigation(), page.click('.banner button')]);
    await page.waitForSelector('[data-field="label"]');
    ok((await page.inputValue('[data-field="label"]')) === 'WD40 2024-W1', 'taken in the middle of a job it loses nothing that was typed');
    ok((await page.evaluate(() => caches.keys())).filter((k) => k.startsWith('mendwright-pages-')).length === 1, 'and one version of the pages is kept');
    kit.state.pages = kit.pages;
    await phone.close();
}

async function clockAndRoom(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await tech.openJob(VIN);
    await tech.one();
    await page.evaluate(() => { const now = Date.now; Date.now = () => now() - 3 * 3600 * 1000; });
    await tech.one();
    await page.waitForSelector('.banner.stop');
    ok((await page.locator('.banner.stop').innerText()).includes('earlier'), 'a clock that went back three hours is told');
    const times = await page.evaluate(() => new Promise<number[]>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('events').objectStore('events').getAll(); q.onsuccess = () => done((q.result as any[]).map((x) => x.event).sort((a, b) => (a.id < b.id ? -1 : 1)).map((e) => e.at_ms)); }; }));
    ok(times.length > 3 && times.every((t, i) => i === 0 || t >= times[i - 1]!), 'and entries are kept in the order in which they were made');
    while (!page.url().includes('step/set-site')) await tech.one();
    // A store that is full: what the browser then does is put in its place.
    await page.evaluate(() => {
        const real = IDBDatabase.prototype.transaction;
        (window as any).unfill = () => { IDBDatabase.prototype.transaction = real; };
        IDBDatabase.prototype.transaction = function (this: IDBDatabase, ...args: any[]) { if (args[1] === 'readwrite' && String(args[0]).includes('events')) throw new DOMException('full', 'QuotaExceededError'); return (real as any).apply(this, args); } as any;
    });
    const where = page.url();
    await page.locator('.foot .act').first().click();
    await page.waitForSelector('[role="alert"]');
    ok((await page.locator('[role="alert"]').innerText()).includes('storage is full') && page.url().includes('set-site'), 'a full store is told, and the screen does not move on', where);
    await page.evaluate(() => (window as any).unfill());
    await page.locator('.foot .act').first().click();
    await page.waitForFunction(() => document.querySelector('[role="alert"]') === null);
    ok(!page.url().includes('set-site'), 'with room again the same press is recorded');
    await phone.close();
}

await withPages(async (kit) => {
    await offline(kit);
    await update(kit);
    await clockAndRoom(kit);
});
