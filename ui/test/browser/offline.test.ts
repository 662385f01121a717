// The network off from the first screen to the saved bag; the browser killed in the middle; a newer version of the pages in the middle
// of a job; a clock that is wrong; a full store.   usage: offline.test PAGES PROGRAM ROOT
import { cpSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { spawnSync } from 'node:child_process';
import { ok, same } from '../tap.mjs';
import { SCRATCH, start, Technician, temporary, temporaryFolder, until } from './drive';
import { CLOCK, fill } from './hard';
import { Kit, VIN, withPages } from './kit';
import { readZip } from '../../src/bag/zip';

async function offline(kit: Kit): Promise<void> {
    const folder = temporaryFolder('bench-', SCRATCH), unit = kit.unit();
    let phone = await start(kit.url, { calm: true, folder });
    await until(phone.page, () => navigator.serviceWorker.ready.then(() => true));
    await until(phone.page, async () => (await indexedDB.databases()).length > 0);
    await until(phone.page, () => new Promise<boolean>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('bulletins').objectStore('bulletins').count(); q.onsuccess = () => { r.result.close(); done(q.result === 2); }; }; }));
    await phone.context.setOffline(true);
    await phone.page.reload();
    await phone.page.waitForSelector('[data-act="open"]');
    ok(true, 'with the network off the first screen opens again');
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
    const before = kit.state.paths.length;
    phone = await start(kit.url, { calm: true, folder, offline: true });
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
    // Chromium itself looks for a newer worker at a start; its tools' switch for the network does not reach that.
    same(kit.state.paths.slice(before).filter((p) => p !== '/bench/sw.js'), [], 'from the kill on the pages asked the server for nothing');
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

const YEAR = 365.25 * 86400000;

/** Years ahead, then years back in the middle of the job, then right: entries stay in the order in which they were made, to the bag. */
async function clock(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await page.addInitScript(CLOCK);
    const set = (ms: number) => page.evaluate((n) => localStorage.setItem('test-clock', String(n)), Math.round(ms)), word = () => page.locator('[data-clock]').innerText();
    await set(5 * YEAR);
    await page.reload();
    await page.waitForSelector('[data-clock]');
    ok((await word()).includes('5 years ahead of the server'), 'a clock five years ahead is told once the server has been heard', await word());
    await tech.openJob(VIN);
    for (let i = 0; i < 6; i++) await tech.one();
    await set(-10 * YEAR);
    for (let i = 0; i < 6; i++) await tech.one();
    ok((await word()).includes('15 years before the last entry'), 'set back fifteen years while the page stays open: what the server said before no longer counts', await word());
    // Loaded again with no network: nobody tells the time, but the last entry does.
    await phone.context.setOffline(true);
    await page.reload();
    await page.waitForSelector('[data-clock]');
    ok((await word()).includes('15 years before the last entry') && (await word()).includes('keep their order'), 'fifteen years back in the middle of the job: told by the last entry', await word());
    for (let i = 0; i < 6; i++) await tech.one();
    await set(0);
    await phone.context.setOffline(false);
    await page.waitForFunction(() => document.querySelector('[data-clock]')?.textContent?.includes('right now') ?? false);
    ok((await word()).includes('5 years ahead'), 'with the clock right and the server heard: no call to set it, only word of what happened', await word());
    await tech.work();
    const [download] = await Promise.all([page.waitForEvent('download'), page.click('[data-act="bag"]')]), bytes = readFileSync(await download.path());
    const verified = run(kit, 'bag', 'verify', temporary('bag.zip', bytes)), text = readZip(new Uint8Array(bytes)).find((f) => f.path.endsWith('/data/events.json'))!.bytes;
    const job = run(kit, 'job', temporary('events.json', Buffer.from(text))), events = (JSON.parse(Buffer.from(text).toString()) as any).events as { id: string; at_ms: number }[];
    same([verified.valid, job.finished, job.findings_in_all], [true, true, 0], 'the job is finished, its bag is valid, and the program finds nothing that does not add up');
    const made = (await page.evaluate(() => localStorage.getItem('test-made') ?? '')).trim().split(' ');
    // Replay reads by time, then by name (doc/proof.md).
    const read = [...events].sort((x, y) => x.at_ms - y.at_ms || (x.id < y.id ? -1 : 1)).map((e) => e.id);
    ok(made.length === events.length && made.every((id, i) => id === read[i]), `all ${made.length} entries are read in the order in which they were made`, `${made.length} made, ${read.length} read`);
    await phone.close();
}
const run = (kit: Kit, ...args: string[]) => JSON.parse(spawnSync(kit.program, [...args, '--json'], { encoding: 'utf8' }).stdout) as any;

/** The browser's own quota, used up in the middle of a job. The browser remembers for half a minute how much room there was, so room is
 * really used up, not only declared gone. */
async function full(kit: Kit): Promise<void> {
    // The quota is told before the page first asks for room, by way of a file that asks for none.
    const phone = await start(kit.url + 'icon.svg', { calm: true, bare: true }), tech = new Technician(phone, kit.unit()), page = phone.page, session = await phone.context.newCDPSession(page), origin = new URL(kit.url).origin;
    let megabytes = 8;
    const quota = () => session.send('Storage.overrideQuotaForOrigin', { origin, quotaSize: megabytes << 20 });
    /** Room as on a phone that was tidied. */
    const room = async () => { megabytes += 8; await quota(); };
    await quota();
    await page.goto(kit.url);
    const stored = (store: string) => page.evaluate((s) => new Promise<number>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction(s).objectStore(s).count(); q.onsuccess = () => { r.result.close(); done(q.result); }; }; }), store);
    await tech.openJob(VIN);
    while (!page.url().includes('step/set-site')) await tech.one();
    const before = await stored('events'), where = page.url();
    await fill(page);
    await page.locator('.foot .act').first().click();
    await page.waitForSelector('[data-trouble="storage-full"]');
    const words = await page.locator('[data-trouble]').innerText();
    ok(words.includes('was not recorded') && words.includes('Make room') && page.url() === where && (await stored('events')) === before, 'a full store is told with what to do; the screen does not move on, and nothing half is kept', words);
    await room();
    await page.locator('.foot .act').first().click();
    await page.waitForFunction((u) => location.href !== u, where);
    ok((await page.locator('[data-trouble]').count()) === 0 && (await stored('events')) > before, 'with room again the same press is recorded');
    // A photo that finds no room.
    while (!(await page.locator('.foot input[type="file"]').count())) await tech.one();
    await tech.photo();
    await fill(page);
    const at = page.url(), photos = await stored('photos');
    await page.click('[data-act="keep"]');
    await page.waitForSelector('[data-trouble="storage-full"]');
    ok((await page.locator('img.photo-now').count()) === 1 && (await stored('photos')) === photos, 'a photo that finds no room stays on the screen');
    await room();
    await page.click('[data-act="keep"]');
    await page.waitForFunction(() => document.querySelector('[data-trouble]') === null);
    await tech.settled();
    ok((await stored('photos')) === photos + 1, 'and is kept by the same press once there is room', at);
    // What is typed while the store is full: it is on the screen, the browser asks before it forgets, and it is kept by itself later.
    while (!(await page.locator('main input[data-field]').count())) await tech.one();
    const field = (await page.locator('main input[data-field]').first().getAttribute('data-field'))!, here = page.url();
    await fill(page);
    await page.fill(`[data-field="${field}"]`, '1203.5');
    await page.waitForSelector('[data-trouble="typing-full"]');
    ok((await page.locator('[data-trouble]').innerText()).includes('not kept yet'), 'typing into a full store is told apart from an entry: it is not kept yet');
    const [asked] = await Promise.all([page.waitForEvent('dialog'), page.evaluate(() => { setTimeout(() => location.reload(), 0); })]);
    await asked.dismiss();
    ok(asked.type() === 'beforeunload' && (await page.inputValue(`[data-field="${field}"]`)) === '1203.5', 'the browser asks before the page goes, and what was typed is still there');
    // Another tab's news must not wash it away.
    await page.evaluate(() => new BroadcastChannel('mendwright').postMessage('changed'));
    await page.waitForTimeout(500);
    ok((await page.inputValue(`[data-field="${field}"]`)) === '1203.5', 'nor is it lost when another tab has changed something');
    await room();
    await page.waitForFunction(() => document.querySelector('[data-trouble]') === null);
    await tech.settled();
    await page.reload();
    await page.waitForSelector(`[data-field="${field}"]`);
    same([page.url(), await page.inputValue(`[data-field="${field}"]`)], [here, '1203.5'], 'with room again it is kept by itself, and a reload shows it');
    await phone.close();
}

/** A server too busy for the first calls: the bulletins come all the same, without the network going and coming back. */
async function busy(kit: Kit): Promise<void> {
    kit.state.lost = 2;
    const phone = await start(kit.url, { calm: true }), page = phone.page;
    await new Technician(phone, kit.unit()).openJob(VIN);
    ok(kit.state.lost === 0, 'a phone whose first calls for bulletins are turned away asks again by itself, and opens a job');
    await page.close();
    await phone.close();
}

const only = process.argv.slice(5);
await withPages(async (kit) => {
    if (only.length === 0) await offline(kit);
    if (only.length === 0 || only.includes('busy')) await busy(kit);
    if (only.length === 0) await update(kit);
    if (only.length === 0 || only.includes('clock')) await clock(kit);
    if (only.length === 0 || only.includes('full')) await full(kit);
}, true);
