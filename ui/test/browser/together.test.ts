// Two phones of one shop on one job, through the program's own server: joined by the code that the first one shows, a station each with the
// network off for a while, the same point measured by both, an entry taken back by one, one of them finishes and sends; the claim has both
// stations' work, each entry and photo once, signed by the shop. A phone of another shop is not let in.
// usage: together.test PAGES PROGRAM ROOT      (PAGES is not used: the pages are those in the program)
import { spawnSync } from 'node:child_process';
import { readFileSync, rmSync } from 'node:fs';
import { join, dirname } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same, skip } from '../tap.mjs';
import { PHONE, Phone, start, Technician, temporary } from './drive';
import { small, violations } from './judge';
import { VIN, withPages } from './kit';
import { Served, served } from './served';

const hash = (page: Page): string => decodeURIComponent(new URL(page.url()).hash);
const SHOTS = process.env['TOGETHER_SHOTS']; // a folder: for looking at the screens
const bad: string[] = [], seen: string[] = [];
let axe = '';
/** Holds a screen against what every screen is held against. */
async function look(page: Page, name: string): Promise<void> {
    if (SHOTS !== undefined) await page.screenshot({ path: join(SHOTS, name + '.png'), fullPage: true });
    seen.push(name);
    bad.push(...[...(await violations(page, axe)), ...(await small(page))].map((v) => `${name}: ${v}`));
    if (await page.evaluate(() => document.documentElement.scrollWidth > innerWidth + 1)) bad.push(`${name}: wider than the screen`);
}

async function phoneOf(s: Served, name: string, language = 'en-GB'): Promise<Phone> {
    const phone = await start(s.url + 'health', { size: PHONE, calm: true, bare: true, language });
    await phone.page.goto(new URL(s.link(name), s.url).href);
    await phone.page.click('#enter');
    await phone.page.waitForSelector('[data-act="open"]');
    await phone.page.waitForFunction(() => navigator.serviceWorker.ready.then(() => true));
    await phone.page.reload(); // once more, so that the pages come from the phone itself
    await phone.page.waitForSelector('[data-act="shop-jobs"]');
    return phone;
}

/** Goes to a screen of the open job. */
async function to(page: Page, rest: string): Promise<void> {
    await page.evaluate((r) => { location.hash = location.hash.replace(/^(#\/j\/[^/]+).*$/, `$1/${r}`); }, rest);
    await page.waitForFunction((r) => location.hash.endsWith('/' + r), rest);
    await page.waitForSelector('main');
}
async function until(tech: Technician, isThere: () => Promise<boolean>): Promise<void> {
    for (let n = 0; n < 80; n++) {
        if (await isThere()) return;
        if (!(await tech.one())) throw new Error(`finished too early: ${await tech.where()}`);
    }
    throw new Error(`not there after 80 screens: ${await tech.where()}`);
}
const line = (page: Page): Promise<string> => page.waitForSelector('[data-shared]').then((e) => e.innerText());
/** Events of the job as the server has them. */
async function atServer(page: Page, job: string): Promise<any> {
    return page.evaluate(async (j) => (await fetch(`/api/v1/jobs/${j}/events?after=0`)).json(), job);
}
/** Until the phone has what the server has, and the server what the phone has. */
async function settled(page: Page): Promise<void> {
    const back = hash(page).replace(/^#\/j\/[^/]+\/?/, '');
    await to(page, 'together');
    await page.waitForSelector('[data-waiting="0"]', { timeout: 60000 });
    await to(page, back === '' ? 'all' : back);
}

async function joined(s: Served, a: Phone, b: Phone): Promise<string> {
    await to(a.page, 'all');
    await a.page.click('[data-act="together"]');
    await a.page.waitForSelector('.code-drawn path', { timeout: 60000 });
    await look(a.page, 'code');
    const png = temporary('code.png', await a.page.locator('.code-drawn').screenshot({ scale: 'css' })), read = spawnSync('zbarimg', ['--quiet', '--raw', png], { encoding: 'utf8' });
    rmSync(dirname(png), { recursive: true });
    const job = hash(a.page).split('/')[2]!.split('-')[1]!, address = `${s.url}bench/#/join/${job}`;
    if (read.error !== undefined) skip('the code on the screen, read by zbar (tools/deps test)');
    else same(read.stdout.trim(), address, 'the code on the first phone\u2019s screen, read by Debian\u2019s zbar, is the address to join by');
    await b.page.goto(address);
    await b.page.waitForSelector('main .tasks');
    ok((await b.page.locator('main .tasks svg[role="img"]').count()) >= 2, 'the second phone has the job, with what was done');
    return job;
}

/** Both with the network off: a station each. */
async function apart(a: Phone, one: Technician, b: Phone, two: Technician): Promise<void> {
    await b.page.click('.foot a.act'); // what each must read alone
    await two.settled();
    await until(two, async () => !hash(b.page).includes('/prepare'));
    await a.context.setOffline(true);
    await b.context.setOffline(true);
    await to(a.page, 'step/release-drive/fore');
    await to(b.page, 'step/release-drive/aft');
    await until(one, async () => (await a.page.locator('[data-field="fore-fixing-torque"]').count()) > 0);
    await until(two, async () => !hash(b.page).endsWith('/aft'));
    const said = await line(a.page);
    ok(/\d+ to pass on/.test(said), 'with the network off the first phone says how much waits, and works on', said);
    await look(a.page, 'offline');
    await to(a.page, 'all');
    ok((await a.page.locator('main .tasks a[href$="refit-column/aft"] svg[role="img"]').count()) === 0, 'it does not know yet what the other did');
    await a.context.setOffline(false);
    await b.context.setOffline(false);
    await a.page.waitForSelector('main .tasks a[href$="refit-column/aft"] svg[role="img"]', { timeout: 90000 });
    await to(b.page, 'all');
    await b.page.waitForSelector('main .tasks a[href$="rebuild-column/fore"] svg[role="img"]', { timeout: 90000 });
    ok(true, 'with the network back each has the other\u2019s station');
    await look(b.page, 'tasks');
}

/** The same point by both, while the first one is typing. */
async function both(a: Phone, one: Technician, b: Phone, two: Technician): Promise<void> {
    await to(a.page, 'step/refit-column/fore');
    await a.page.fill('[data-field="fore-fixing-torque"]', '2');
    two.unit.others['fore-fixing-torque'] = '26';
    await to(b.page, 'step/refit-column/fore');
    await until(two, async () => (await b.page.locator('[data-field="fore-fixing-torque"]').count()) > 0);
    await two.one();
    await a.page.waitForFunction(() => /new, shown/.test(document.querySelector('[data-shared]')?.textContent ?? ''), null, { timeout: 60000 });
    const kept = await a.page.inputValue('[data-field="fore-fixing-torque"]');
    same(kept, '2', 'what the other did meanwhile changes nothing under the hand that types; the line says that it is here');
    await look(a.page, 'held');
    await one.one();
    await to(a.page, 'together');
    const row = await a.page.waitForSelector('[data-two="fore-fixing-torque"]').then((e) => e.innerText());
    ok(/olu 26\sN\sm[^]*ines 24\sN\sm/.test(row), 'both measured the same point: who found what, and that the later one holds', row);
    await look(a.page, 'both');
    await to(b.page, 'together');
    await b.page.waitForSelector('[data-two="fore-fixing-torque"]', { timeout: 60000 });
    ok(true, 'the other phone says so too');
}

/** One takes an entry back, the other sees it. */
async function undo(a: Phone, b: Phone, two: Technician): Promise<void> {
    await to(b.page, 'history');
    await b.page.locator('[data-event="hold_confirmed"]', { hasText: 'rebuild-column' }).filter({ hasText: '\u00b7 olu' }).locator('[data-back]').click();
    await two.settled();
    await to(a.page, 'history');
    await a.page.waitForFunction(() => [...document.querySelectorAll('[data-event="hold_confirmed"]')].some((e) => /rebuild-column[^]*\u00b7 olu[^]*taken back/.test(e.textContent ?? '')), null, { timeout: 60000 });
    await to(a.page, 'all');
    ok((await a.page.locator('main .tasks a[href$="rebuild-column/aft"] svg[role="img"]').count()) === 0, 'what one took back is open again on the other');
    await to(b.page, 'step/rebuild-column/aft');
    await until(two, async () => !hash(b.page).includes('rebuild-column/aft'));
    await settled(b.page);
}

async function sent(a: Phone, one: Technician, b: Phone, job: string): Promise<void> {
    await to(a.page, 'all');
    await a.page.waitForSelector('main .tasks a[href$="rebuild-column/aft"] svg[role="img"]', { timeout: 60000 });
    await a.page.click('.foot a.act');
    await one.work();
    await settled(a.page);
    await to(b.page, 'finish');
    await b.page.waitForSelector('[data-elsewhere="ines"]', { timeout: 60000 });
    ok((await b.page.locator('[data-act="send"]').count()) === 0, 'the other phone is told who finished, and does not send');
    await look(b.page, 'elsewhere');
    await to(a.page, 'finish');
    await a.page.click('[data-act="send"]');
    const text = await a.page.waitForSelector('[data-sent="sent"]', { timeout: 90000 }).then((e) => e.innerText());
    const claim = /K[0-9A-HJKMNP-TV-Z]{12}/.exec(text)?.[0] ?? '';
    same(await b.page.waitForSelector('[data-claim]', { timeout: 60000 }).then((e) => e.getAttribute('data-claim')), claim, 'sent by the one, the other is told the claim');
    await look(b.page, 'claim');
    const told = await atServer(a.page, job), claims = await a.page.evaluate(async () => (await fetch('/api/v1/claims')).json()) as any;
    same([claims.claims.length, told.claim, told.claim_by, told.unclaimed], [1, claim, 'ines', 0], 'one claim, and every entry that went between the phones is in it');
    const full = await a.page.evaluate(async (c) => (await fetch(`/api/v1/claims/${c}`)).json(), claim) as any;
    const events: any[] = told.events;
    ok(!told.more && new Set(events.map((e) => e.id)).size === events.length && ['ines', 'olu'].every((who) => events.some((e) => e.technician === who)), `${events.length} entries of both, each once`);
    const by = (station: string) => new Set(events.filter((e) => e.station === station && e.type === 'cut').map((e) => e.technician));
    same([[...by('fore')], [...by('aft')]], [['ines'], ['olu']], 'each cut at the own station');
    const taken = events.filter((e) => e.type === 'photo_taken').map((e) => e.payload.sha256), photos = full.photos.map((p: any) => p.sha256);
    same([photos.length, new Set(photos).size, [...photos].sort()], [taken.length, taken.length, [...taken].sort()], `the claim has the ${taken.length} photos of both, each once`);
    same([full.signature, full.signed_by ?? 'fern-mobile-2', full.findings.length], ['good', 'fern-mobile-2', 0], 'signed by the shop, and nothing to say against the bag');
    same(full.stations.map((x: any) => x.station ?? x.id), ['fore', 'aft'], 'with both stations');
}

/** Work after the claim, by the other phone: both are told what the claim lacks, and the job goes again, from there. */
async function more(a: Phone, b: Phone, two: Technician, job: string): Promise<void> {
    await to(b.page, 'finish');
    await b.page.click('[data-act="reopen"]');
    await two.settled();
    await b.page.click('[data-act="finish"]');
    await to(a.page, 'finish');
    same(await a.page.waitForSelector('[data-unclaimed]', { timeout: 60000 }).then((e) => e.getAttribute('data-unclaimed')), '2', 'opened and finished again elsewhere: the first phone is told that two entries are not in the claim');
    await look(a.page, 'less');
    await b.page.click('[data-act="send"]');
    const text = await b.page.waitForSelector('[data-sent="sent"]', { timeout: 90000 }).then((e) => e.innerText()), claim = /K[0-9A-HJKMNP-TV-Z]{12}/.exec(text)?.[0] ?? '';
    await a.page.waitForSelector(`[data-claim="${claim}"]`, { timeout: 60000 });
    const told = await atServer(a.page, job);
    same([told.claim, told.claim_by, told.unclaimed], [claim, 'olu', 0], 'sent again from the other phone, with everything: both are told the new claim');
}

await withPages(async (kit) => {
    const s = await served(kit, { ines: 'fern-mobile-2', olu: 'fern-mobile-2', otto: 'elsewhere-9' });
    axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8');
    try {
        s.call('bag', 'key', join(s.folder, 'fern.key'), '--shop', 'fern-mobile-2');
        s.call('store', 'keep', 'keys', join(s.folder, 'fern.key.pub'), '--store', s.store);
        const a = await phoneOf(s, 'ines'), one = new Technician(a, kit.unit());
        await a.page.goto(s.url + 'bench/#/settings');
        await a.page.locator('[data-file="key"]').setInputFiles({ name: 'fern.key', mimeType: 'text/plain', buffer: readFileSync(join(s.folder, 'fern.key')) });
        await one.settled();
        await a.page.goto(s.url + 'bench/#/');
        await one.openJob(VIN);
        await until(one, async () => hash(a.page).includes('step/release-drive/fore'));
        const b = await phoneOf(s, 'olu'), two = new Technician(b, kit.unit());
        two.photos = 700; // other pictures than the first one's
        const job = await joined(s, a, b);
        const c = await phoneOf(s, 'otto');
        await c.page.goto(`${s.url}bench/#/join/${job}`);
        ok((await c.page.waitForSelector('[data-fault]').then((e) => e.getAttribute('data-fault'))) === 'not-there', 'a phone of another shop is told that there is no such job');
        await look(c.page, 'not-there');
        await c.page.goto(`${s.url}bench/#/join`);
        await c.page.waitForSelector('main p');
        ok((await c.page.locator('[data-join]').count()) === 0, 'nor is it in that shop\u2019s list');
        await c.close();
        await b.page.goto(`${s.url}bench/#/join`);
        ok((await b.page.waitForSelector(`[data-join="${job}"]`).then((e) => e.innerText())).includes(VIN), 'it is in the list of their own');
        await look(b.page, 'list');
        await b.page.click(`[data-join="${job}"]`);
        await b.page.waitForSelector('main .tasks');
        await a.page.waitForSelector('[data-phones="1"]', { timeout: 60000 });
        await to(a.page, 'all');
        const said = await line(a.page);
        ok(/Shared with 1 other phone \(olu\), last \d\d:\d\d/.test(said), 'and the first phone says with whom it is shared', said);
        await apart(a, one, b, two);
        await both(a, one, b, two);
        await undo(a, b, two);
        await sent(a, one, b, job);
        await more(a, b, two, job);
        await a.close();
        await b.close();
        ok(bad.length === 0, `axe finds nothing on these ${seen.length} screens, targets are 48 px or more, none is too wide`, [...new Set(bad)].slice(0, 12).join('\n'));
        ok(s.call('store', 'verify', '--store', s.store).ok === true, 'the store is sound');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
