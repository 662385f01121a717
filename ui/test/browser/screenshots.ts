// screenshots: every screen of a whole job, phone and desk, light and dark, and those that a smooth job never shows (special.ts), as PNG.
// usage: screenshots PAGES PROGRAM ROOT FOLDER [NAME...]      (make screenshots; NAME: a run such as phone-es or special-dark-fr, or a part of
// the special screens such as scanning)
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { exported, serve } from '../serve.mjs';
import { CHROMIUM, DESK, opened, PHONE, start, Technician, unitOf } from './drive';
import { special } from './special';

type Options = Parameters<typeof start>[1];
const [pages, program, root, folder, ...only] = process.argv.slice(2) as [string, string, string, string, ...string[]], ov = join(root, 'examples/OV-26-03.yaml');
if (CHROMIUM === null) { console.error('screenshots: Debian\u2019s Chromium is not installed (tools/deps test)'); process.exit(1); }
mkdirSync(folder, { recursive: true });
const isWanted = (name: string) => only.length === 0 || only.includes(name);

/** Numbers the screens of a run; what stays at the foot of the screen is put below the rest, so that nothing is hidden by it. */
function photographer(name: string): { shot: (page: Page, what: string) => Promise<void>; done: () => void } {
    let n = 0;
    const foot = (page: Page, position: string) => page.evaluate((p) => { const f = document.querySelector<HTMLElement>('.foot'); if (f !== null) f.style.position = p; }, position);
    return {
        shot: async (page, what) => {
            await foot(page, 'static');
            await page.screenshot({ path: join(folder, `${name}-${String(n++).padStart(3, '0')}-${what.trim().replace(/[^A-Za-z0-9]+/g, '-')}.png`), fullPage: true });
            await foot(page, '');
        },
        done: () => console.log(`${n} screens of ${name} in ${folder}`),
    };
}

async function wholeJob(name: string, options: Options): Promise<void> {
    const server = await serve(pages, program, [ov, join(root, 'examples/FR-26-11.yaml')]), phone = await start(server.url, { ...options, calm: true }), tech = new Technician(phone, unitOf(JSON.parse(exported(program, ov))));
    const { shot, done } = photographer(name), here = (what: string) => shot(phone.page, what);
    await here('home');
    await tech.openJob('ZZZFM24T5R0001234');
    await tech.work(here);
    await here('finished');
    await phone.page.click('[data-act="bag"]');
    await phone.page.waitForSelector('[data-bag]');
    await here('bag');
    await phone.page.click('a[href$="/all"]');
    await here('all-tasks');
    await phone.page.click('a[href$="/history"]');
    await here('entries');
    await phone.close();
    await server.close();
    done();
}

const jobs: [string, Options][] = [['phone', { size: PHONE }], ['phone-dark', { size: PHONE, dark: true }], ['desk', { size: DESK }], ['phone-es', { size: PHONE, language: 'es-ES' }], ['phone-fr', { size: PHONE, language: 'fr-FR' }]];
const specials: [string, Options][] = [['special', { size: PHONE }], ['special-dark-es', { size: PHONE, dark: true, language: 'es-ES' }], ['special-dark-fr', { size: PHONE, dark: true, language: 'fr-FR' }]];
const runs = [...jobs, ...specials].map(([n]) => n), parts = only.filter((o) => !runs.includes(o));
let isBad = false;
try {
    for (const [name, options] of jobs) if (isWanted(name)) await wholeJob(name, options);
    for (const [name, options] of specials) {
        if (!isWanted(name) && (parts.length === 0 || only.some((o) => runs.includes(o)))) continue;
        const { shot, done } = photographer(name);
        await special({ program, root }, options, shot, parts);
        done();
    }
} catch (e) {
    isBad = true;
    console.error(`screenshots: ${e instanceof Error ? e.stack : String(e)}`);
}
await Promise.all(opened.map((p) => p.close().catch(() => undefined)));
process.exit(isBad ? 1 : 0);
