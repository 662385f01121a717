// special: the screens that a smooth job never shows, brought about for screenshots behind the program's own server: entering, a VIN that
// is not right, the camera in each of its states, pictures of steps, a full store, a wrong clock, two phones on one job, sending and after.
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { exported } from '../serve.mjs';
import { Phone, start, Technician, unitOf } from './drive';
import { CLOCK, fill, illustrated } from './hard';
import type { Kit } from './kit';
import { Served, served } from './served';
import { bmp, drawn, video } from './video';

type Options = Parameters<typeof start>[1];
type Shot = (page: Page, what: string) => Promise<void>;
const VIN = 'ZZZFM24T5R0001234', FAKE = ['--use-fake-ui-for-media-stream', '--use-fake-device-for-media-stream'];

class Studio {
    constructor(readonly s: Served, readonly kit: Pick<Kit, 'program' | 'root'>, readonly options: Options, readonly shot: Shot) {}
    technician(phone: Phone): Technician {
        return new Technician(phone, unitOf(JSON.parse(exported(this.kit.program, join(this.kit.root, 'examples/OV-26-03.yaml')))));
    }
    /** A phone of that person, let in, its pages kept on it. */
    async phone(name: string, more: Options = {}, prepare: (page: Page) => Promise<void> = async () => undefined): Promise<Phone> {
        const phone = await start(this.s.url + 'health', { ...this.options, calm: true, bare: true, ...more });
        await prepare(phone.page);
        await phone.page.goto(new URL(this.s.link(name), this.s.url).href);
        await phone.page.waitForSelector('#enter');
        return phone;
    }
    async let(phone: Phone): Promise<Technician> {
        await phone.page.click('#enter');
        await phone.page.waitForSelector('[data-act="open"]');
        await phone.page.waitForFunction(() => navigator.serviceWorker.ready.then(() => true));
        return this.technician(phone);
    }
}
const to = async (page: Page, rest: string): Promise<void> => {
    await page.evaluate((r) => { location.hash = location.hash.replace(/^(#\/j\/[^/]+).*$/, `$1/${r}`); }, rest);
    await page.waitForFunction((r) => location.hash.endsWith('/' + r), rest);
    await page.waitForSelector('main');
};

async function entering(w: Studio): Promise<void> {
    const phone = await w.phone('ines'), page = phone.page;
    await w.shot(page, 'enter');
    await w.let(phone);
    await w.shot(page, 'home-signed-in');
    await page.click('[data-act="open"]');
    await page.waitForSelector('[data-field="technician"], [data-field="vin"]');
    if (await page.locator('[data-field="technician"]').count()) {
        await w.shot(page, 'settings');
        await w.technician(phone).signIn();
        await page.waitForSelector('[data-field="vin"]');
    }
    await page.fill('[data-field="vin"]', 'ZZZFM24T5R0001243');
    await page.waitForSelector('[data-repair]');
    await w.shot(page, 'vin-repairs');
    await phone.close();
}

async function scanning(w: Studio): Promise<void> {
    const phone = await w.phone('ines', { args: [...FAKE, `--use-file-for-fake-video-capture=${video({ width: 300, height: 200, bytes: new Uint8Array(60000).fill(200) })}`] }), page = phone.page, tech = await w.let(phone);
    await page.click('[data-act="open"]');
    await page.waitForSelector('[data-field="technician"], [data-act="scan"]');
    if (await page.locator('[data-field="technician"]').count()) await tech.signIn();
    await page.click('[data-act="scan"]');
    await page.waitForSelector('[data-camera="looking"]');
    await w.shot(page, 'scan');
    await page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'x.bmp', mimeType: 'image/bmp', buffer: bmp(drawn('QR', 'https://example.org/menu', 6)) });
    await page.waitForSelector('[data-other]');
    await w.shot(page, 'scan-stranger');
    for (const fault of ['NotAllowedError', 'NotFoundError', 'NotReadableError']) {
        await page.evaluate((n) => { navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('', n)); }, fault);
        await page.click('[data-act="scan-type"]');
        await page.click('[data-act="scan"]');
        await page.waitForSelector('[data-act="scan-again"]');
        await w.shot(page, `scan-${fault}`);
    }
    await page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'x.bmp', mimeType: 'image/bmp', buffer: bmp(drawn('Code 39', VIN, 3)) });
    await page.waitForSelector('[data-scanned]');
    await w.shot(page, 'scanned');
    await phone.close();
}

async function pictured(w: Studio): Promise<void> {
    const phone = await w.phone('ines'), page = phone.page;
    await phone.context.route(/\/pictures\/b/, (route) => route.abort());
    const tech = await w.let(phone), until = async (selector: string) => { while (!(await page.locator(selector).count())) await tech.one(); };
    await tech.openJob(VIN);
    await until('img.photo-now[src^="blob:"]');
    await w.shot(page, 'step-picture');
    await until('[data-picture="missing"]');
    await w.shot(page, 'step-picture-missing');
    await phone.close();
}

async function wrongClock(w: Studio): Promise<void> {
    const phone = await w.phone('ines', {}, (page) => page.addInitScript(CLOCK)), page = phone.page, set = (days: number) => page.evaluate((d) => localStorage.setItem('test-clock', String(d * 86400000)), days);
    const tech = await w.let(phone);
    await set(3);
    await page.reload();
    await page.waitForSelector('[data-clock]');
    await w.shot(page, 'clock-fast');
    await tech.openJob(VIN);
    await tech.one();
    await phone.context.setOffline(true);
    await set(-4000);
    await page.reload();
    await page.waitForSelector('[data-clock]');
    await w.shot(page, 'clock-behind');
    await phone.close();
}

async function fullStore(w: Studio): Promise<void> {
    let megabytes = 8;
    const quota = async (page: Page) => { await (await page.context().newCDPSession(page)).send('Storage.overrideQuotaForOrigin', { origin: new URL(w.s.url).origin, quotaSize: megabytes << 20 }); };
    const phone = await w.phone('ines', {}, quota), page = phone.page, session = await phone.context.newCDPSession(page), tech = await w.let(phone);
    await tech.openJob(VIN);
    while (!page.url().includes('step/set-site')) await tech.one();
    await fill(page);
    await page.locator('.foot .act').first().click();
    await page.waitForSelector('[data-trouble="storage-full"]');
    await w.shot(page, 'storage-full');
    megabytes += 8;
    await session.send('Storage.overrideQuotaForOrigin', { origin: new URL(w.s.url).origin, quotaSize: megabytes << 20 });
    while (!(await page.locator('main input[data-field]:visible').count())) await tech.one();
    await fill(page);
    await page.locator('main input[data-field]:visible').first().fill('1203.5');
    await page.waitForSelector('[data-trouble="typing-full"]');
    await w.shot(page, 'typing-full');
    await phone.close();
}

/** From the code on one phone to a claim that both are told. */
async function together(w: Studio): Promise<void> {
    const a = await w.phone('ines'), b = await w.phone('olu'), one = await w.let(a), two = await w.let(b), say = async (page: Page, what: string) => w.shot(page, `together-${what}`);
    await one.openJob('ZZZFM24T7R0001235');
    for (let i = 0; i < 4; i++) await one.one();
    await to(a.page, 'all');
    await a.page.click('[data-act="together"]');
    await a.page.waitForSelector('.code-drawn path', { timeout: 60000 });
    await say(a.page, 'code');
    await b.page.goto(`${w.s.url}bench/#/join`);
    await b.page.waitForSelector('[data-join]', { timeout: 60000 });
    await say(b.page, 'list');
    await b.page.click('[data-join]');
    await b.page.waitForSelector('main .tasks');
    await to(a.page, 'all');
    await a.page.waitForSelector('[data-shared]', { timeout: 60000 });
    await say(a.page, 'tasks');
    await to(a.page, 'together');
    await say(a.page, 'phones');
    await b.page.goto(`${w.s.url}bench/#/join/01KQS2CMMEFQ7X44TTBNMCV0A0`);
    await b.page.waitForSelector('[data-fault]');
    await say(b.page, 'not-there');
    await b.page.goto(`${w.s.url}bench/#/`);
    await b.page.click('a[href^="#/j/"]');
    await b.page.waitForSelector('.foot');
    await to(a.page, 'all');
    await a.page.click('.foot a.act');
    await a.context.setOffline(true);
    for (let i = 0; i < 3; i++) await one.one();
    await a.page.waitForSelector('[data-shared]');
    await say(a.page, 'offline');
    await a.context.setOffline(false);
    await one.work();
    await say(a.page, 'finished');
    await to(b.page, 'finish');
    await b.page.waitForSelector('[data-elsewhere="ines"]', { timeout: 60000 });
    await say(b.page, 'finished-elsewhere');
    await a.page.click('[data-act="send"]');
    await a.page.waitForSelector('[data-sent="sent"]', { timeout: 90000 });
    await say(a.page, 'sent');
    await b.page.waitForSelector('[data-claim]', { timeout: 60000 });
    await say(b.page, 'claim');
    await to(b.page, 'finish');
    await b.page.click('[data-act="reopen"]');
    await two.settled();
    await b.page.click('[data-act="finish"]');
    await to(a.page, 'finish');
    await a.page.waitForSelector('[data-unclaimed]', { timeout: 60000 });
    await say(a.page, 'claim-lacks');
    await a.close();
    await b.close();
}

/** All of them; shot is called with each screen and its name. */
export async function special(kit: Pick<Kit, 'program' | 'root'>, options: Options, shot: Shot, only: readonly string[] = []): Promise<void> {
    const s = await served(kit, { ines: 'fern-mobile-2', olu: 'fern-mobile-2' });
    try {
        for (const each of [entering, scanning, wrongClock, fullStore, together]) if (only.length === 0 || only.includes(each.name)) await each(new Studio(s, kit, options, shot));
        s.call('store', 'keep', 'bulletin', await illustrated(kit), '--store', s.store);
        if (only.length === 0 || only.includes(pictured.name)) await pictured(new Studio(s, kit, options, shot));
    } finally {
        await s.stop();
    }
}
