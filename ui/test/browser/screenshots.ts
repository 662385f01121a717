// screenshots: every screen of a whole job, phone and desk, light and dark, and a few special ones, as PNG.
// usage: screenshots PAGES PROGRAM FOLDER      (make screenshots)
import { mkdirSync } from 'node:fs';
import { join, dirname } from 'node:path';
import { exported, serve } from '../serve.mjs';
import { CHROMIUM, DESK, PHONE, start, Technician, unitOf } from './drive';

const [pages, program, folder, ...only] = process.argv.slice(2) as [string, string, string, ...string[]];
const root = join(dirname(program), '..'), ov = join(root, 'examples/OV-26-03.yaml');
if (CHROMIUM === null) { console.error('screenshots: Debian\u2019s Chromium is not installed (tools/deps test)'); process.exit(1); }
mkdirSync(folder, { recursive: true });
const server = await serve(pages, program, [ov, join(root, 'examples/FR-26-11.yaml')]);
const runs: [string, Parameters<typeof start>[1]][] = [['phone', { size: PHONE }], ['phone-dark', { size: PHONE, dark: true }], ['desk', { size: DESK }], ['phone-es', { size: PHONE, language: 'es-ES' }], ['phone-fr', { size: PHONE, language: 'fr-FR' }]];
for (const [name, options] of runs.filter(([n]) => only.length === 0 || only.includes(n))) {
    const phone = await start(server.url, { ...options, calm: true }), tech = new Technician(phone, unitOf(JSON.parse(exported(program, ov))));
    let n = 0;
    const shot = async (what: string) => {
        await phone.page.evaluate(() => { (document.querySelector('.foot') as HTMLElement).style.position = 'static'; });
        await phone.page.screenshot({ path: join(folder, `${name}-${String(n++).padStart(3, '0')}-${what.trim().replace(/[^a-z0-9]+/g, '-')}.png`), fullPage: true });
        await phone.page.evaluate(() => { (document.querySelector('.foot') as HTMLElement).style.position = ''; });
    };
    await shot('home');
    await tech.openJob('ZZZFM24T5R0001234');
    await tech.work(shot);
    await shot('finished');
    await phone.page.click('[data-act="bag"]');
    await phone.page.waitForSelector('[data-bag]');
    await shot('bag');
    await phone.page.click('a[href$="/all"]');
    await shot('all-tasks');
    await phone.page.click('a[href$="/history"]');
    await shot('entries');
    await phone.close();
    console.log(`${n} screens of ${name} in ${folder}`);
}
await server.close();
