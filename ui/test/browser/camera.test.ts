// Scanning: the paper sheet's code, VINs in Code 39, Code 128 and QR, station labels, out of a camera that plays a video; what is refused,
// doubted or a stranger's; no camera, a busy one, one that is taken away; several cameras, a light; a photo instead; with the network off.
// usage: camera.test PAGES PROGRAM ROOT
import { spawnSync } from 'node:child_process';
import { cpSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { Phone, start, Technician, temporaryFolder, until } from './drive';
import { bmp, drawn, Grey, sheetSeen, video } from './video';
import { Kit, VIN, withPages } from './kit';

const FAKE = ['--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream'];
/** Keeps every stream that the page is given, so that the test can see whether it is off again. */
const WATCH = () => {
    const devices = navigator.mediaDevices, real = devices.getUserMedia.bind(devices);
    (window as any).streams = [];
    (window as any).asked = [];
    devices.getUserMedia = async (want) => {
        (window as any).asked.push(want);
        const stream = await real(want);
        (window as any).streams.push(stream);
        return stream;
    };
};
const live = (page: Page) => page.evaluate(() => (window as any).streams.filter((s: MediaStream) => s.getTracks().some((t) => t.readyState === 'live')).length as number);
const text = (page: Page, selector: string) => page.locator(selector).innerText();

async function withCamera(kit: Kit, seen: Grey[] | null, options: Parameters<typeof start>[1] = {}): Promise<[Phone, Technician]> {
    const phone = await start(kit.url, { calm: true, args: [...FAKE, ...(seen === null ? [] : [`--use-file-for-fake-video-capture=${video(...seen)}`])], ...options });
    await phone.page.evaluate(WATCH);
    return [phone, new Technician(phone, kit.unit())];
}
async function toOpen(tech: Technician): Promise<void> {
    await tech.page.click('[data-act="open"]');
    await tech.signIn();
    await tech.page.waitForSelector('[data-field="vin"]');
}
async function scans(kit: Kit, seen: Grey[], options: Parameters<typeof start>[1] = {}): Promise<[Phone, Page]> {
    const [phone, tech] = await withCamera(kit, seen, options);
    await toOpen(tech);
    await phone.page.click('[data-act="scan"]');
    return [phone, phone.page];
}
const filled = (page: Page, value: string) => page.waitForFunction((v) => (document.querySelector('[data-field="vin"]') as HTMLInputElement | null)?.value === v, value);

/** The code that the program prints, out of the PDF drawn by poppler. */
async function paper(kit: Kit): Promise<void> {
    const pdf = join(temporaryFolder('pages-'), 'sheet.pdf');
    spawnSync(kit.program, ['sheet', join(kit.root, 'examples/OV-26-03.yaml'), '-o', pdf, '--vin', '1M8GDM9AXKP042788'], { encoding: 'utf8' });
    const fetched: string[] = [], [phone, tech] = await withCamera(kit, [sheetSeen(pdf)]), page = phone.page;
    page.on('request', (r) => { if (r.serviceWorker() === null) fetched.push(r.url()); });
    await toOpen(tech);
    ok(!fetched.some((u) => /zbar|codes-/.test(u)), 'the reader of codes is not fetched by the page before the camera opens', fetched.join('\n'));
    await page.click('[data-act="scan"]');
    await filled(page, '1M8GDM9AXKP042788');
    ok((await text(page, 'option:checked')).startsWith('OV-26-03'), 'the paper sheet\u2019s code gives the VIN and the bulletin');
    ok((await text(page, '[data-scanned]')).includes('QR') && page.url().endsWith('#/open') && (await page.locator('[data-act="open-job"]').count()) === 1, 'it stands in the field to be compared; nothing is opened by itself');
    ok((await live(page)) === 0, 'and the camera is off');
    ok(fetched.filter((u) => /zbar-.*\.wasm$/.test(u)).length === 1, 'the reader was fetched once, with the camera', fetched.join('\n'));
    same((await page.evaluate(() => (window as any).asked)).map((a: any) => [a.audio, a.video.facingMode]), [[false, { ideal: 'environment' }]], 'the rear camera was asked for, and no microphone');
    await page.goBack();
    ok(!page.url().includes('scan'), 'the way back does not lead into the camera again', page.url());
    await phone.close();
}

/** VINs as labels carry them. The check digit of 1M8GDM9AXKP042788 is the worked example of 49 CFR 565.15(c). */
async function vins(kit: Kit): Promise<void> {
    for (const [kind, says, vin, note] of [['Code 39', VIN, VIN, ''], ['Code 39', `I${VIN}`, VIN, 'marks an import'], ['Code 128', '1M8GDM9AXKP042788', '1M8GDM9AXKP042788', ''], ['QR', VIN, VIN, '']] as const) {
        const [phone, page] = await scans(kit, [drawn(kind, says)]);
        await filled(page, vin);
        const said = await text(page, '[data-scanned]');
        ok(said.includes(kind) && said.includes('Compare') && (note === '' || said.includes(note)), `${kind} drawn by zint, ${says}: ${vin}`, said);
        ok((await text(page, '#vin-say')).includes('check digit is right'), 'and the field\u2019s own check judges it');
        await phone.close();
    }
}

/** A bad VIN on bars: the field says so and offers repairs, as when it is typed. X at place 9 belongs to the worked example; 3 does not. */
async function badVin(kit: Kit): Promise<void> {
    const [phone, page] = await scans(kit, [drawn('Code 39', '1M8GDM9A3KP042788')]);
    await filled(page, '1M8GDM9A3KP042788');
    ok((await text(page, '#vin-say')).includes('check digit is 3 and should be X'), 'a VIN whose bars carry a wrong check digit is told, as when it is typed');
    ok((await page.locator('[data-repair]').count()) > 0, 'with what it may have been');
    await page.fill('[data-field="vin"]', '1M8GDM9AXKP042788');
    ok((await page.locator('[data-scanned]').count()) === 0, 'typed over, it no longer counts as read by the camera');
    await phone.close();
}

async function strangers(kit: Kit): Promise<void> {
    const [phone, page] = await scans(kit, [drawn('QR', 'https://example.org/menu?table=7')]);
    await page.waitForSelector('[data-other]');
    ok((await text(page, '[data-other]')).includes('no VIN and no job') && page.url().includes('#/scan/'), 'a stranger\u2019s code is told, and the camera goes on');
    ok((await live(page)) === 1 && (await page.locator('[data-act="scan-insist"]').count()) === 0, 'it cannot be taken for a VIN');
    await page.click('[data-act="scan-type"]');
    await page.waitForSelector('[data-field="vin"]');
    same([await page.inputValue('[data-field="vin"]'), await live(page)], ['', 0], 'typing instead: the field is as it was, the camera off');
    await phone.close();
    const [both, pageOfBoth] = await scans(kit, [drawn('QR', 'mailto:a@example.org'), drawn('Code 128', VIN)]);
    await filled(pageOfBoth, VIN);
    ok(true, 'of two codes in one picture the one that is wanted is taken');
    await both.close();
    const [none, pageOfNone] = await scans(kit, [drawn('QR', 'mendwright:ZZ-99-01/4?vin=ZZZFM24T5R0001234')]);
    await filled(pageOfNone, VIN);
    ok((await text(pageOfNone, '[data-missing]')).includes('ZZ-99-01'), 'a job of a bulletin that is not on this phone: the VIN, and word of what is missing');
    await none.close();
    const [link, pageOfLink] = await scans(kit, [drawn('QR', `https://bench.example.org/bench/#/j/${VIN}-01JD0000000000000000000000/label/fore`, 3)]);
    await filled(pageOfLink, VIN);
    ok(pageOfLink.url().startsWith(kit.url), 'the address of a colleague\u2019s job gives its VIN; the place itself is not gone to');
    await link.close();
    const [shared, pageOfShared] = await scans(kit, [drawn('QR', `${kit.url}#/join/01KQS2CMMEFQ7X44TTBNMCV0K0`)]);
    await pageOfShared.waitForFunction(() => location.hash === '#/join/01KQS2CMMEFQ7X44TTBNMCV0K0');
    ok((await live(pageOfShared)) === 0, 'what a colleague\u2019s phone shows to be joined leads to joining, the camera off');
    await shared.close();
}

async function labels(kit: Kit): Promise<void> {
    const [phone, tech] = await withCamera(kit, [drawn('Code 128', 'WD40 2024-W13')]), page = phone.page;
    await tech.openJob(VIN);
    await page.click('[data-act="scan"]');
    await page.waitForFunction(() => (document.querySelector('[data-field="label"]') as HTMLInputElement | null)?.value === 'WD40 2024-W13');
    ok((await text(page, 'h1')).includes('In scope') && (await text(page, '[data-scanned]')).includes('Code 128'), 'a station\u2019s label fills its field and is judged at once, and still waits to be recorded');
    await tech.one();
    ok(decodeURIComponent(page.url()).endsWith('label/aft'), 'recorded by hand it goes on to the next');
    await phone.close();
    const [other, two] = await withCamera(kit, [drawn('Code 39', 'PN 40-1177')]), it = other.page;
    await two.openJob(VIN);
    await it.click('[data-act="scan"]');
    await it.waitForSelector('[data-act="scan-insist"]');
    ok((await text(it, '[data-other]')).includes('fits no label'), 'a code beside the label is told to fit no label of the bulletin');
    await it.click('[data-act="scan-insist"]');
    await it.waitForSelector('[data-field="label"]');
    ok((await it.inputValue('[data-field="label"]')) === 'PN 40-1177' && (await text(it, '#label-say')).includes('fits no pattern') && (await it.locator('[data-act="record"][aria-disabled]').count()) === 1, 'taken all the same it is refused by the field, as when it is typed');
    await other.close();
}

async function refused(kit: Kit): Promise<void> {
    // No permission is given, and nobody answers the browser's question: a headless browser takes that for a no.
    const phone = await start(kit.url, { calm: true, args: ['--use-fake-device-for-media-stream'] }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await toOpen(tech);
    await page.click('[data-act="scan"]');
    await page.waitForSelector('[data-act="scan-again"]');
    ok((await text(page, 'h1')).includes('not allowed') && (await page.locator('[data-camera="refused"]').count()) === 1, 'a camera that is refused is told, with what to do');
    await page.click('[data-act="scan-type"]');
    await page.waitForSelector('[data-field="vin"]');
    ok(true, 'and typing is one press away');
    await phone.close();
}

async function without(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, args: ['--use-fake-ui-for-media-stream'] }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await toOpen(tech);
    await page.click('[data-act="scan"]');
    await page.waitForSelector('[data-act="scan-again"]');
    ok((await text(page, 'h1')).includes('no camera'), 'a device without a camera is told so');
    // What the browser says when another program holds the camera cannot be had here; the page's answer to it can.
    await page.evaluate(() => { navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('held', 'NotReadableError')); });
    await page.click('[data-act="scan-again"]');
    await page.waitForSelector('[data-camera="busy"]', { state: 'attached' });
    ok((await text(page, 'h1')).includes('busy'), 'a camera that another program holds is told so');
    // The photo of a code, on the same screen.
    const photo = (code: Grey) => page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'IMG_7.bmp', mimeType: 'image/bmp', buffer: bmp(code) });
    await photo({ width: 300, height: 200, bytes: new Uint8Array(60000).fill(200) });
    await page.waitForFunction(() => document.querySelector('[data-scan-photo]')?.textContent?.includes('No code') ?? false);
    ok(true, 'a photo without a code is told');
    await page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'IMG_8.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('no picture at all') });
    await page.waitForFunction(() => document.querySelector('[data-scan-photo]')?.textContent?.includes('cannot be opened') ?? false);
    ok(true, 'a file that is no picture is told');
    await photo(drawn('QR', 'hello', 6));
    await page.waitForSelector('[data-other]');
    ok((await text(page, '[data-other]')).includes('hello'), 'a stranger\u2019s code in a photo is told');
    await photo(drawn('Code 39', VIN, 3));
    await filled(page, VIN);
    ok(true, 'a photo of a VIN\u2019s bars fills the field without any camera');
    await phone.close();
}

async function several(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, args: ['--use-fake-device-for-media-stream=device-count=2', '--use-fake-ui-for-media-stream'] }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await page.evaluate(WATCH);
    await page.evaluate(() => {
        // No fake device has a light: one is put in its place, and what the page asks of it is kept.
        const real = MediaStreamTrack.prototype.getCapabilities;
        MediaStreamTrack.prototype.getCapabilities = function () { return { ...real.call(this), torch: true } as any; };
        (window as any).lights = [];
        MediaStreamTrack.prototype.applyConstraints = async function (c: any) { (window as any).lights.push(c.advanced[0].torch); };
    });
    await toOpen(tech);
    await page.click('[data-act="scan"]');
    await page.waitForSelector('[data-act="next-camera"]');
    await page.click('[data-act="light"]');
    await page.waitForSelector('[data-act="light"][aria-pressed="true"]');
    await page.click('[data-act="light"]');
    await page.waitForSelector('[data-act="light"][aria-pressed="false"]');
    same(await page.evaluate(() => (window as any).lights), [true, false], 'where the camera has a light it is switched on and off');
    const device = () => page.evaluate(() => (window as any).streams.filter((s: MediaStream) => s.active).map((s: MediaStream) => s.getVideoTracks()[0]!.getSettings().deviceId) as string[]);
    const [first] = await device();
    await page.click('[data-act="next-camera"]');
    await page.waitForFunction(() => (window as any).streams.length === 2 && document.querySelector('[data-camera="looking"]') !== null);
    const now = await device();
    ok(now.length === 1 && now[0] !== first, 'the other camera takes over, and the first is off', String(now));
    // Out of sight: off. Back again: on.
    const show = (state: string) => page.evaluate((s) => { Object.defineProperty(document, 'visibilityState', { value: s, configurable: true }); document.dispatchEvent(new Event('visibilitychange')); }, state);
    await show('hidden');
    ok((await live(page)) === 0, 'the camera is off while the page is out of sight');
    await show('visible');
    await page.waitForFunction(() => (window as any).streams.some((s: MediaStream) => s.active));
    ok((await live(page)) === 1, 'and on again when it is back');
    // Taken away, as when it is pulled out or another program takes it.
    await page.evaluate(() => (window as any).streams.filter((s: MediaStream) => s.active).forEach((s: MediaStream) => s.getVideoTracks()[0]!.dispatchEvent(new Event('ended'))));
    await page.waitForSelector('[data-act="scan-again"]');
    await page.click('[data-act="scan-again"]');
    await page.waitForSelector('[data-camera="looking"]');
    ok((await live(page)) === 1, 'a camera that goes away is told, and opened again when asked');
    await page.goBack();
    await page.waitForSelector('[data-field="vin"]');
    ok((await live(page)) === 0, 'left by the browser\u2019s own way back, the camera is off');
    await phone.close();
}

/** Loaded once, then no network: the reader comes out of what the service worker keeps. */
async function offline(kit: Kit): Promise<void> {
    const [phone, tech] = await withCamera(kit, [drawn('Code 39', VIN)]), page = phone.page;
    await until(page, async () => {
        for (const name of await caches.keys()) for (const r of await (await caches.open(name)).keys()) if (/zbar-.*\.wasm$/.test(r.url)) return true;
        return false;
    });
    await phone.context.setOffline(true);
    await page.reload();
    await page.waitForSelector('[data-act="open"]');
    await page.evaluate(WATCH);
    const before = kit.state.paths.length;
    await toOpen(tech);
    await page.click('[data-act="scan"]');
    await filled(page, VIN);
    same([kit.state.paths.slice(before).filter((p) => /zbar|codes-/.test(p)), await live(page)], [[], 0], 'with the network off a VIN is scanned all the same, and the reader does not come from the server');
    await phone.close();
    // The reader has not come yet, as after a load that broke off early; then it can be had.
    const part = temporaryFolder('part-');
    cpSync(kit.pages, part, { recursive: true });
    for (const name of readdirSync(join(part, 'assets'))) if (/^(zbar|codes)-/.test(name)) rmSync(join(part, 'assets', name));
    kit.state.pages = part;
    const [early, second] = await withCamera(kit, [drawn('Code 39', VIN)]), it = early.page;
    await toOpen(second);
    await it.click('[data-act="scan"]');
    await it.waitForSelector('[data-camera="no-reader"]', { state: 'attached' });
    ok((await text(it, 'h1')).includes('not on this phone yet') && (await it.evaluate(() => (window as any).asked.length)) === 0, 'without the reader that is told, and the camera is not even opened');
    kit.state.pages = kit.pages;
    await it.click('[data-act="scan-again"]');
    await filled(it, VIN);
    ok(true, 'once it can be had it is fetched, and the VIN is read');
    await early.close();
}

const only = process.argv.slice(5);
await withPages(async (kit) => {
    if (only.includes('offline')) return offline(kit);
    await paper(kit);
    await vins(kit);
    await badVin(kit);
    await strangers(kit);
    await labels(kit);
    await refused(kit);
    await without(kit);
    await several(kit);
    await offline(kit);
}, true);
