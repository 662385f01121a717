// What the first load weighs, and every page of the Desk; that the built pages name nothing outside themselves, and that the strict policy holds.
// usage: sizes.test PAGES PROGRAM ROOT
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { ok, same } from '../tap.mjs';
import { enter, served } from './desk_kit';
import { beginDraft, holdsAll, WALKED } from './desk_pages';
import { PHONE, start, Technician } from './drive';
import { Kit, VIN, withPages } from './kit';
import { weigh, Weight } from './weigh';

function files(folder: string): string[] {
    return readdirSync(folder, { withFileTypes: true }).flatMap((e) => (e.isDirectory() ? files(join(folder, e.name)) : [join(folder, e.name)]));
}

/** Each page by itself, from an empty cache, as it comes over the wire. */
async function weights(kit: Kit): Promise<void> {
    const s = await served(kit), kib = (n: number) => `${(n / 1024).toFixed(n < 10240 ? 1 : 0)} KiB`, desk = await enter(s, 'ola'), bench = await enter(s, 'ines', { size: PHONE });
    const told = (title: string, w: Weight) => ok(w.pages > 0 && w.pages < 400 * 1024 && w.files > 2, `${title}: ${kib(w.pages)} of pages (under 400) and ${kib(w.data)} of data, in ${w.files} answers`);
    holdsAll(kit.root);
    await beginDraft(desk.page);
    for (const w of WALKED) told(`the Desk, ${w.title}`, await weigh(desk.page, `${s.url}desk/#/${w.hash(s)}`, w.wanted));
    told('the Bench', await weigh(bench.page, `${s.url}bench/`, '[data-act="open"]'));
    await desk.close();
    await bench.close();
    same(await s.stop(), 0, 'their server ends with 0');
}

await withPages(async (kit: Kit) => {
    await weights(kit);
    // The reader of codes comes with the camera, practice with its page: the service worker names it apart from what a first load needs.
    const all = files(kit.pages), isReader = (f: string) => /\/(zbar|codes)-[^/]*$/.test(f), isPractice = (f: string) => /\/practice[-/][^/]*$/.test(f), sum = (list: string[]) => list.map((f) => gzipSync(readFileSync(f)).length).reduce((a, b) => a + b, 0);
    const packed = sum(all.filter((f) => !isReader(f) && !isPractice(f)));
    ok(packed < 400 * 1024, `all of the pages with the core are ${Math.ceil(packed / 1024)} KiB compressed (gzip), under 400; the reader of codes, later, is ${Math.ceil(sum(all.filter(isReader)) / 1024)}, practice ${Math.ceil(sum(all.filter(isPractice)) / 1024)}`);
    const outside = all.filter((f) => /\.(js|css|html)$/.test(f)).flatMap((f) => [...readFileSync(f, 'utf8').matchAll(/https?:\/\/[^\s"'`)]+/g)].map((m) => m[0]).filter((u) => !u.startsWith('http://www.w3.org/')));
    same(outside, [], 'nothing in them names a place outside');
    const phone = await start(kit.url), asked: string[] = [], said: string[] = [];
    phone.page.on('request', (r) => { if (!r.url().startsWith(new URL(kit.url).origin) && !r.url().startsWith('blob:') && !r.url().startsWith('data:')) asked.push(r.url()); });
    phone.page.on('console', (m) => { if (/Content Security Policy|violates/.test(m.text())) said.push(m.text()); });
    await phone.page.reload();
    const loaded: string[] = [];
    phone.page.on('request', (r) => { if (r.serviceWorker() === null) loaded.push(r.url()); });
    const tech = new Technician(phone, kit.unit());
    await tech.openJob(VIN);
    for (let i = 0; i < 8; i++) await tech.one();
    same([asked, said], [[], []], 'a job asks for nothing outside, and nothing goes against the strict policy');
    same([all.filter(isReader).length, loaded.filter(isReader)], [2, []], 'nor does the page fetch the reader of codes while no camera is opened');
    same([all.filter(isPractice).length, loaded.filter(isPractice)], [3, []], 'nor the practice pages while nobody practises');
    const manifest = JSON.parse(readFileSync(join(kit.pages, 'manifest.webmanifest'), 'utf8')) as any;
    same([manifest.display, manifest.start_url, manifest.icons.length > 0], ['standalone', './', true], 'the pages can be installed');
    await phone.close();
}, true);
