// Pictures of a bulletin's steps: kept by the store, brought by the server, shown without a network with their words; an SVG that would
// like to run does not, neither in a step nor opened by itself. The PNG and the SVG are drawn by zint, the JPEG by the browser.
// usage: pictures.test PAGES PROGRAM ROOT      (PAGES is not used: the pages are those in the program)
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { PHONE, start, Technician, until } from './drive';
import { ALT, illustrated } from './hard';
import { Kit, VIN, withPages } from './kit';
import { served, Served } from './served';

const kept = (page: Page) => page.evaluate(() => new Promise<string[]>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('pictures').objectStore('pictures').getAll(); q.onsuccess = () => { r.result.close(); done(q.result.map((p: any) => `${p.file} ${p.type} ${p.bytes.byteLength}`)); }; }; }));

async function inSteps(kit: Kit, s: Served, path: string): Promise<void> {
    const phone = await start(s.url + 'health', { size: PHONE, calm: true, bare: true, language: 'es-ES' }), page = phone.page, tech = new Technician(phone, kit.unit());
    await page.goto(new URL(s.link('ines'), s.url).href);
    await page.click('#enter');
    await page.waitForSelector('[data-act="open"]');
    await until(page, () => new Promise<boolean>((done) => { const r = indexedDB.open('mendwright'); r.onsuccess = () => { const q = r.result.transaction('pictures').objectStore('pictures').count(); q.onsuccess = () => { r.result.close(); done(q.result === 3); }; }; }));
    const size = (file: string) => readFileSync(join(path, '..', file)).length;
    same((await kept(page)).sort(), [`a.png image/png ${size('a.png')}`, `b.jpeg image/jpeg ${size('b.jpeg')}`, `c.svg image/svg+xml ${size('c.svg')}`], 'all three pictures are on the phone after one load, before any job is opened');
    await until(page, () => navigator.serviceWorker.ready.then(() => true));
    await phone.context.setOffline(true);
    await page.reload();
    await page.waitForSelector('[data-act="open"]');
    await tech.openJob(VIN);
    const seen: unknown[] = [];
    while (seen.length < 3) {
        const shown = page.locator('img.photo-now[src^="blob:"]');
        if ((await shown.count()) > 0) {
            await page.waitForFunction(() => (document.querySelector('img.photo-now') as HTMLImageElement).complete);
            seen.push(await shown.evaluate((e: HTMLImageElement) => [e.naturalWidth > 50, e.alt]));
        }
        await tech.one();
    }
    same(seen, [[true, ALT.es], [true, ALT.es], [true, ALT.es]], 'with the network off each is drawn in its step, with its words in the reader\u2019s language');
    ok((await page.title()) !== 'ran' && (await page.evaluate(() => (window as any).ran)) === undefined, 'the script in the SVG has not run');
    await phone.close();
}

/** One that has not come is told in words, and comes by itself. */
async function later(kit: Kit, s: Served): Promise<void> {
    const phone = await start(s.url + 'health', { size: PHONE, calm: true, bare: true }), page = phone.page, tech = new Technician(phone, kit.unit());
    await phone.context.route(/\/pictures\//, (route) => route.abort());
    await page.goto(new URL(s.link('ines'), s.url).href);
    await page.click('#enter');
    await page.waitForSelector('[data-act="open"]');
    await tech.openJob(VIN);
    while (!(await page.locator('[data-picture="missing"]').count())) await tech.one();
    ok((await page.locator('[data-picture="missing"]').innerText()).includes(ALT.en), 'a picture that is not here yet is told in its words');
    await phone.context.unroute(/\/pictures\//);
    await phone.context.setOffline(true);
    await page.waitForFunction(() => document.querySelector('[data-picture="missing"]')?.textContent?.includes('next connection') ?? false);
    await phone.context.setOffline(false);
    await page.waitForSelector('img.photo-now[src^="blob:"]');
    ok((await page.locator('[data-picture="missing"]').count()) === 0, 'and comes into the open step with the next connection');
    // Opened by itself, as a page of the server.
    const told = page.waitForEvent('console').then((m) => m.text(), () => '');
    await page.goto(s.url + 'api/v1/bulletins/OV-26-03/2/pictures/c.svg');
    const words = await told;
    same(await page.evaluate(() => [document.documentElement.tagName, (window as any).ran === undefined, window.origin]), ['svg', true, 'null'], 'an SVG opened by itself is drawn, runs nothing, and is of no origin');
    ok(/script/i.test(words), 'the browser says that it was kept from running', words);
    await phone.close();
}

await withPages(async (kit) => {
    const path = await illustrated(kit), s = await served(kit);
    try {
        s.call('store', 'keep', 'bulletin', path, '--store', s.store);
        await inSteps(kit, s, path);
        await later(kit, s);
    } finally {
        ok((await s.stop()) === 0, 'the server ends well');
    }
});
