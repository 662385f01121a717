// What the first load weighs, that the built pages name nothing outside themselves, and that the strict policy holds.
// usage: sizes.test PAGES PROGRAM ROOT
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { ok, same } from '../tap.mjs';
import { start, Technician } from './drive';
import { Kit, VIN, withPages } from './kit';

function files(folder: string): string[] {
    return readdirSync(folder, { withFileTypes: true }).flatMap((e) => (e.isDirectory() ? files(join(folder, e.name)) : [join(folder, e.name)]));
}

await withPages(async (kit: Kit) => {
    // The reader of codes comes with the camera: the service worker names it apart from what a first load needs.
    const all = files(kit.pages), isReader = (f: string) => /\/(zbar|codes)-[^/]*$/.test(f), sum = (list: string[]) => list.map((f) => gzipSync(readFileSync(f)).length).reduce((a, b) => a + b, 0);
    const packed = sum(all.filter((f) => !isReader(f)));
    ok(packed < 400 * 1024, `all of the pages with the core are ${Math.ceil(packed / 1024)} KiB compressed (gzip), under 400; the reader of codes, later, is ${Math.ceil(sum(all.filter(isReader)) / 1024)}`);
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
    const manifest = JSON.parse(readFileSync(join(kit.pages, 'manifest.webmanifest'), 'utf8')) as any;
    same([manifest.display, manifest.start_url, manifest.icons.length > 0], ['standalone', './', true], 'the pages can be installed');
    await phone.close();
}, true);
