// For everybody: no violation that axe finds, on any screen of a whole job, light and dark; the keyboard alone; targets of 48 px; text at
// 200 %; less motion.   usage: access.test PAGES PROGRAM ROOT
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { ok } from '../tap.mjs';
import { DESK, PHONE, start, Technician } from './drive';
import { bmp, drawn } from './video';
import { small, violations } from './judge';
import { Kit, VIN, withPages } from './kit';

async function everyScreen(kit: Kit, name: string, options: Parameters<typeof start>[1]): Promise<void> {
    const source = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), phone = await start(kit.url, { ...options, calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    const bad: string[] = [], tiny: string[] = [], wide: string[] = [];
    let n = 0;
    const look = async (where: string) => {
        n++;
        bad.push(...(await violations(page, source)).map((v) => `${where}: ${v}`));
        tiny.push(...(await small(page)).map((v) => `${where}: ${v}`));
        const out = await page.evaluate(() => (document.documentElement.scrollWidth > innerWidth + 1 ? [...document.querySelectorAll('body *')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => `${e.tagName}.${e.getAttribute('class') ?? ''} ${(e.textContent ?? '').slice(0, 20)}`).slice(0, 4) : null));
        if (out !== null) wide.push(`${where}: ${out.join(' | ')}`);
    };
    await look('home');
    await page.click('[data-act="open"]');
    await page.waitForSelector('[data-field="technician"]');
    await look('settings');
    await page.goto(kit.url + '#/');
    await tech.openJob(VIN);
    await tech.work(look);
    await look('finished');
    await page.click('a[href$="/all"]');
    await look('all tasks');
    await page.click('a[href$="/history"]');
    await look('entries');
    ok(bad.length === 0, `${name}: axe finds no violation on ${n} screens`, [...new Set(bad)].slice(0, 12).join('\n'));
    ok(tiny.length === 0, `${name}: every target is 48 px or more`, [...new Set(tiny)].slice(0, 12).join('\n'));
    ok(wide.length === 0, `${name}: nothing is wider than the screen`, wide.join('\n'));
    await phone.close();
}

/** The scanning screen in each of its states; whoever looks cannot see which of them a phone will show. */
async function scanning(kit: Kit, name: string, options: Parameters<typeof start>[1]): Promise<void> {
    const source = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), bad: string[] = [], tiny: string[] = [];
    const phone = await start(kit.url, { ...options, calm: true, args: ['--use-fake-device-for-media-stream=device-count=2', '--use-fake-ui-for-media-stream'] }), tech = new Technician(phone, kit.unit()), page = phone.page;
    const look = async (where: string) => {
        bad.push(...(await violations(page, source)).map((v) => `${where}: ${v}`));
        tiny.push(...(await small(page)).map((v) => `${where}: ${v}`));
        if (await page.evaluate(() => document.documentElement.scrollWidth > innerWidth + 1)) bad.push(`${where}: wider than the screen`);
    };
    await page.click('[data-act="open"]');
    await tech.signIn();
    await page.click('[data-act="scan"]');
    await page.waitForSelector('[data-act="next-camera"]');
    await look('live');
    await page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'x.bmp', mimeType: 'image/bmp', buffer: bmp(drawn('QR', 'hello', 6)) });
    await page.waitForSelector('[data-other]');
    await look('stranger');
    for (const fault of ['NotAllowedError', 'NotFoundError', 'NotReadableError']) {
        await page.evaluate((n) => { navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('', n)); }, fault);
        await page.click('[data-act="scan-type"]');
        await page.click('[data-act="scan"]');
        await page.waitForSelector('[data-act="scan-again"]');
        await look(fault);
    }
    await page.locator('[data-file="scan-photo"]').setInputFiles({ name: 'x.bmp', mimeType: 'image/bmp', buffer: bmp(drawn('QR', VIN, 6)) });
    await page.waitForSelector('[data-scanned]');
    await look('scanned');
    ok(bad.length === 0, `${name}: axe finds no violation in six states of scanning`, [...new Set(bad)].slice(0, 12).join('\n'));
    ok(tiny.length === 0, `${name}: every target of scanning is 48 px or more`, [...new Set(tiny)].slice(0, 12).join('\n'));
    await phone.close();
}

/** The keyboard alone: tab to what is wanted, type, press; no pointer anywhere. */
async function keyboard(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { size: DESK, calm: true }), page = phone.page, tech = new Technician(phone, kit.unit());
    const tabTo = async (selector: string) => {
        for (let i = 0; i < 80; i++) {
            if (await page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)) return true;
            await page.keyboard.press('Tab');
        }
        return false;
    };
    const reach = async (selector: string, text?: string) => {
        const found = await tabTo(selector);
        if (!found) throw new Error(`the keyboard does not reach ${selector}`);
        if (text !== undefined) await page.keyboard.type(text); else await page.keyboard.press('Enter');
    };
    await page.waitForSelector('[data-act="open"]');
    await reach('[data-act="open"]');
    await page.waitForSelector('[data-field="technician"]');
    await reach('[data-field="technician"]', 'ines');
    await reach('[data-field="shop"]', 'fern-mobile-2');
    await reach('[data-act="save"]');
    await page.waitForSelector('[data-field="vin"]');
    await reach('[data-field="vin"]', VIN);
    await page.locator('option', { hasText: 'OV-26-03' }).waitFor({ state: 'attached' });
    await tabTo('select');
    await page.keyboard.press('ArrowDown');
    await reach('[data-act="open-job"]');
    for (const label of ['WD40 2024-W13', 'WD40 2024-W32']) {
        await page.waitForFunction(() => (document.querySelector('[data-field="label"]') as HTMLInputElement | null)?.value === '');
        await reach('[data-field="label"]', label);
        await page.keyboard.press('Enter');
    }
    await page.waitForSelector('[data-act="ready"]');
    while (await page.locator('main input[type="checkbox"]:not(:checked)').count()) {
        if (!(await tabTo('main input[type="checkbox"]:not(:checked)'))) throw new Error('the keyboard does not reach a box');
        await page.keyboard.press('Space');
        await tech.settled();
    }
    await reach('[data-act="ready"]');
    await page.waitForSelector('[data-act="do"]');
    ok(page.url().includes('step/identify'), 'the keyboard alone opens a job, enters labels, ticks and goes on to the first step');
    const focus = await page.evaluate(() => document.activeElement?.tagName ?? '');
    ok(focus === 'H1', 'and the new screen\u2019s title has the focus', focus);
    const unreachable: string[] = [];
    tech.byKeyboard = true;
    const screens = await tech.work(async (where) => {
        unreachable.push(...(await page.evaluate(() => [...document.querySelectorAll('main button, main a, main input, main select, main summary, .foot button, .foot a, .foot input, .head a, .head button')]
            .filter((e) => (e as HTMLElement).tabIndex < 0 && e.closest('.keypad') === null).map((e) => e.outerHTML.slice(0, 80)))).map((e) => `${where}: ${e}`));
    });
    ok(screens > 80, `and finishes the job, ${screens} screens more`);
    ok(unreachable.length === 0, 'nothing on them is out of the keyboard\u2019s reach (the keypad\u2019s keys are typed)', unreachable.slice(0, 5).join('\n'));
    await phone.close();
}

/** Text at twice its size, through a whole job: nothing leaves the screen sideways, and the primary action can be reached. */
async function large(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { size: PHONE, calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page, wide: string[] = [];
    await page.evaluate(() => { document.documentElement.style.fontSize = '200%'; });
    await tech.openJob(VIN);
    const screens = await tech.work(async (where) => {
        const out = await page.evaluate(() => [...document.querySelectorAll('main *, .foot *, .head *')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && e.closest('.visually, .file') === null).map((e) => `${e.tagName}.${e.getAttribute('class') ?? ''}`).slice(0, 3));
        if (out.length > 0) wide.push(`${where}: ${out.join(', ')}`);
    });
    ok(wide.length === 0, `with text at 200 % nothing leaves the screen on ${screens} screens`, wide.slice(0, 10).join('\n'));
    const motion = await page.evaluate(() => (matchMedia('(prefers-reduced-motion: reduce)').matches ? document.getAnimations().length : -1));
    ok(motion === 0, 'nothing moves for whoever asked for less motion');
    await phone.close();
}

/** A field that is touched brings its keys out from under the foot; on a low screen the foot is no lid. */
async function keys(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { size: { width: 360, height: 740 }, calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await tech.openJob(VIN);
    while (!(await page.locator('[data-field^="rack-"]').count())) await tech.one();
    /** The last key lies in the open: what is seen at its middle is the key itself, and the field is still on the screen. */
    const open = () => page.waitForFunction(() => {
        const key = [...document.querySelectorAll('.keypad .digits button')].pop()!, box = key.getBoundingClientRect(), field = document.querySelector('[data-field^="rack-"]')!.getBoundingClientRect();
        return document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2) === key && field.top >= 0;
    }).then(() => true, () => false);
    for (const [width, height, what] of [[360, 740, 'upright'], [740, 360, 'on its side']] as const) {
        await page.setViewportSize({ width, height });
        await page.evaluate(() => { (document.activeElement as HTMLElement | null)?.blur(); scrollTo(0, 0); });
        await page.locator('[data-field^="rack-"]').focus();
        ok(await open(), `a phone ${what}: the field in use and its last key are both to be seen`);
    }
    // Twice the size halves the page that fits (WCAG 2.1, 1.4.4).
    await page.setViewportSize({ width: 180, height: 370 });
    const share = await page.evaluate(() => [...document.querySelectorAll<HTMLElement>('.head, .foot')].filter((e) => getComputedStyle(e).position !== 'static').reduce((n, e) => n + e.offsetHeight, 0) / innerHeight);
    ok(share < 0.3, 'at 200 % what stays in its place leaves most of the screen to the task', String(share));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth > innerWidth + 1);
    ok(!wide, 'and nothing leaves it sideways');
    await phone.close();
}

const only = process.argv.slice(5);
await withPages(async (kit) => {
    if (only.length === 0) await everyScreen(kit, 'phone', { size: PHONE });
    if (only.length === 0) await everyScreen(kit, 'desk, dark', { size: DESK, dark: true });
    if (!only.includes('scanning')) await everyScreen(kit, 'small phone, French', { size: { width: 320, height: 640 }, language: 'fr-FR' });
    if (only.length === 0) await scanning(kit, 'phone', { size: PHONE });
    await scanning(kit, 'small phone, dark, French', { size: { width: 320, height: 640 }, dark: true, language: 'fr-FR' });
    if (only.includes('scanning')) return;
    await keyboard(kit);
    await large(kit);
    await keys(kit);
}, true);
