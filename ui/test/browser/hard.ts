// hard: what makes a phone's life hard, for tests and screenshots: a clock that is wrong, a store that is full, and a bulletin with pictures.
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { picture, start, temporaryFolder } from './drive';
import type { Kit } from './kit';

/** Whatever the browser's own clock says, moved by what the test sets; as a phone's clock that is set, or that lost its battery. */
export const CLOCK = () => {
    const Real = Date, moved = () => Real.now() + Number(localStorage.getItem('test-clock') ?? '0');
    class Moved extends Real { constructor(...args: [any?]) { if (args.length === 0) super(moved()); else super(...args); } static override now = moved; }
    window.Date = Moved as DateConstructor;
    // The order in which entries are really made, by the page's own writes.
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (this: IDBObjectStore, value: any, ...key: any[]) {
        if (this.name === 'events') localStorage.setItem('test-made', `${localStorage.getItem('test-made') ?? ''}${value.event.id} `);
        return put.call(this, value, ...(key as []));
    };
};

/** Fills the origin's quota to the last bytes, with noise in a database of its own, as other programs fill a phone. */
export async function fill(page: Page): Promise<void> {
    await page.evaluate(async () => {
        const db = await new Promise<IDBDatabase>((done) => { const r = indexedDB.open('filler', 1); r.onupgradeneeded = () => { r.result.createObjectStore('x', { autoIncrement: true }); }; r.onsuccess = () => done(r.result); });
        const put = (bytes: number) => new Promise<boolean>((done) => {
            const noise = new Uint8Array(bytes);
            for (let i = 0; i < bytes; i += 65536) crypto.getRandomValues(noise.subarray(i, Math.min(bytes, i + 65536)));
            const t = db.transaction('x', 'readwrite');
            t.oncomplete = () => done(true);
            t.onabort = () => done(false);
            t.objectStore('x').add(noise);
        });
        for (const bytes of [1 << 19, 1 << 16, 1 << 12, 1 << 8, 1]) for (let n = 0; n < 200 && (await put(bytes)); n++);
        db.close();
    });
}

export const ALT = { en: 'The unit from the side, on its stands', es: 'La unidad de lado, sobre sus soportes', fr: 'La cellule de profil, sur ses chandelles' };
const RUNS = '<script>parent.document.title = "ran"; document.title = "ran"; window.ran = 1</script>';

/** The example, its first three steps with a picture each: PNG, JPEG, and an SVG with a script in it. */
export async function illustrated(kit: Pick<Kit, 'root'>): Promise<string> {
    const folder = temporaryFolder('pages-'), path = join(folder, 'OV-26-03.yaml');
    for (const file of ['a.png', 'c.svg']) spawnSync('zint', ['-b', '58', '-d', 'stands', '--scale=3', '-o', join(folder, file)]);
    const svg = readFileSync(join(folder, 'c.svg'), 'utf8');
    writeFileSync(join(folder, 'c.svg'), svg.replace('</svg>', `${RUNS}</svg>`));
    const artist = await start('data:text/html,<main></main>', { bare: true });
    writeFileSync(join(folder, 'b.jpeg'), await picture(artist.page, 5));
    await artist.close();
    let text = readFileSync(join(kit.root, 'examples/OV-26-03.yaml'), 'utf8');
    for (const file of ['a.png', 'b.jpeg', 'c.svg'])
        text = text.replace(/^( {4}per: \w+\n)(?! {4}picture)/m, `$1    picture: {file: ${file}, alt: {en: "${ALT.en}", es: "${ALT.es}", fr: "${ALT.fr}"}}\n`);
    writeFileSync(path, text);
    return path;
}
