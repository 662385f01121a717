// The Bench behind the program's own server: in by a one-time link, a whole job, sent and taken in; once with the network there, once with it
// off from the first screen until sending, through a dead battery; the desk rules on what came; nothing breaks the content policy.
// usage: server.test PAGES PROGRAM ROOT      (PAGES is not used: the pages are those in the program)
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok } from '../tap.mjs';
import { DESK, PATIENCE_MS, PHONE, SCRATCH, start, Technician, until } from './drive';
import { Kit, VIN, withPages } from './kit';
import { Served, served } from './served';

const broken: string[] = [];
function watch(page: Page): void {
    page.on('console', (m) => { if (/content security policy/i.test(m.text())) broken.push(m.text()); });
}

async function enter(page: Page, s: Served): Promise<void> {
    await page.goto(new URL(s.link('ines'), s.url).href);
    ok(page.url().endsWith('/enter/-'), 'the link\u2019s token is not left in the address');
    await page.click('#enter');
    await page.waitForSelector('[data-act="open"]');
    ok(new URL(page.url()).pathname === '/bench/', 'in by a one-time link, and on the Bench');
}

async function job(tech: Technician, name: string): Promise<void> {
    await tech.openJob(VIN);
    ok(await tech.page.evaluate(() => document.querySelector('[data-field="technician"]') === null), `${name}: who works here and for which shop is known from the link`);
    await tech.work();
    await tech.page.waitForSelector('[data-act="send"]');
}

const shown = (page: Page, state: string) => page.waitForSelector(`[data-sent="${state}"]`, { timeout: 60000 }).then((e) => e.textContent());

async function online(kit: Kit, s: Served): Promise<void> {
    const phone = await start(s.url + 'health', { size: PHONE, calm: true, bare: true }), page = phone.page, tech = new Technician(phone, kit.unit());
    watch(page);
    await enter(page, s);
    await job(tech, 'online');
    await page.click('[data-act="send"]');
    const text = await shown(page, 'sent'), claims = s.call('rule', '--store', s.store);
    ok(text !== null && text.includes(claims.claim), 'sent, and the screen names the claim that the desk has', `${text} ${JSON.stringify(claims).slice(0, 300)}`);
    // The test works in seconds what takes a technician half a day.
    ok(JSON.stringify(claims.findings.map((f: any) => f.rule)) === '["too-fast"]', 'the desk has nothing to say against it but that nobody works so fast', JSON.stringify(claims.findings, null, 1));
    await phone.close();
}

async function offline(kit: Kit, s: Served): Promise<void> {
    const folder = mkdtempSync(join(SCRATCH, 'bench-')), options = { folder, size: DESK, calm: true, bare: true };
    let phone = await start(s.url + 'health', options);
    watch(phone.page);
    await enter(phone.page, s);
    await until(phone.page, () => navigator.serviceWorker.ready.then(() => true));
    await until(phone.page, async () => (await caches.keys()).length > 0 && (await (await caches.open((await caches.keys())[0]!)).keys()).length >= 5);
    await phone.page.reload();
    await phone.page.waitForSelector('[data-act="open"]');
    await phone.context.setOffline(true);
    const unit = { ...kit.unit() };
    const tech = new Technician(phone, unit);
    tech.photos = 500; // other pictures than the first job's
    await job(tech, 'offline');
    await phone.page.click('[data-act="send"]');
    ok((await shown(phone.page, 'waiting'))!.length > 0, 'with the network off the bag waits, and the screen says so');
    // Chromium writes a new cookie to its disk half a minute late (from memory); a battery that dies sooner only costs another link.
    const kept = [join(folder, 'Default/Cookies'), join(folder, 'Default/Network/Cookies')];
    for (const end = Date.now() + 2 * PATIENCE_MS; !kept.some((f) => existsSync(f) && readFileSync(f).includes('mendwright'));) {
        if (Date.now() > end) throw new Error('the session\u2019s cookie does not come to the disk');
        await phone.page.waitForTimeout(200);
    }
    await phone.kill();
    phone = await start(s.url + 'bench/', options);
    watch(phone.page);
    await phone.page.click('a.row[href^="#/j/"]');
    const text = await shown(phone.page, 'sent').catch(() => null) ?? await phone.page.textContent('main');
    ok(text !== null && /K[0-9A-HJKMNP-TV-Z]{12}/.test(text), 'after a dead battery, with the network back, it goes by itself', text ?? '');
    await phone.close();
    rmSync(folder, { recursive: true, force: true });
}

await withPages(async (kit) => {
    const s = await served(kit);
    try {
        await online(kit, s);
        await offline(kit, s);
        ok(broken.length === 0, 'nothing breaks the content policy', [...new Set(broken)].slice(0, 5).join('\n'));
        ok(s.call('store', 'verify', '--store', s.store).ok === true, 'the store is sound');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
