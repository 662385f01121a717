// The page on units behind the program's own server: a list of 1,000 rows with 7 faulty ones is brought in by its own names of columns; the
// faulty rows come back as CSV with their reasons, as many as are counted here; mended it is brought in and holds what the file says; units
// are found by VIN, label and shop; who may what; by keyboard; no violation that axe finds, light and dark, wide and narrow, at 200 %.
// usage: units.test PAGES PROGRAM ROOT
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { Served, at, broken, enter, served, violations } from './desk_kit';
import { PHONE } from './drive';
import { Kit, withPages } from './kit';

const VALUE: Record<string, number> = { A: 1, B: 2, C: 3, D: 4, E: 5, F: 6, G: 7, H: 8, J: 1, K: 2, L: 3, M: 4, N: 5, P: 7, R: 9, S: 2, T: 3, U: 4, V: 5, W: 6, X: 7, Y: 8, Z: 9 }, WEIGHT = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
/** An invented VIN with its check digit (49 CFR 565.15(c)). */
function vin(i: number): string {
    const v = `3FHMC0000RB${String(i).padStart(6, '0')}`, sum = [...v].reduce((s, c, k) => s + (VALUE[c] ?? Number(c)) * WEIGHT[k]!, 0) % 11;
    return v.slice(0, 8) + (sum === 10 ? 'X' : String(sum)) + v.slice(9);
}
type Row = [string, string, string, string];
const HEAD = 'Chassis No,Plant,Position,Sticker';
const GOOD: Row[] = Array.from({ length: 1000 }, (_, i) => [vin(Math.floor(i / 2)), 'north', i % 2 === 0 ? 'fore' : 'aft', `WD40 2024-W${String(1 + (Math.floor(i / 2) % 12)).padStart(2, '0')}`]);
const SPOIL: Record<number, (r: Row) => Row> = {
    0: (r) => [r[0].slice(1), r[1], r[2], r[3]], 9: (r) => [`O${r[0].slice(1)}`, r[1], r[2], r[3]], 10: (r) => ['', r[1], r[2], r[3]], 333: (r) => [r[0], r[1], 'Fore Column', r[3]],
    334: (r) => [r[0], r[1], '', r[3]], 700: (r) => [r[0], r[1], r[2], 'y'.repeat(121)], 999: (r) => [`${r[0]}9`, r[1], r[2], r[3]],
};
const FAULTY = GOOD.map((r, i) => SPOIL[i]?.(r) ?? r);
const isGood = ([v, , s, l]: Row): boolean => /^[0-9A-HJ-NPR-Z]{17}$/.test(v) && /^[a-z0-9]+(-[a-z0-9]+)*$/.test(s) && l.length <= 120;
const csv = (rows: Row[]): string => [HEAD, ...rows.map((r) => r.join(','))].join('\r\n') + '\r\n';
const file = (rows: Row[]) => ({ name: 'builds from the plant.csv', mimeType: 'text/csv', buffer: Buffer.from(csv(rows)) });
const text = async (page: Page, what: string): Promise<string> => (await page.locator(what).innerText()).replaceAll('\u202f', '').replaceAll('\u00a0', ' ');

async function units(page: Page, s: Served, query = ''): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(`${s.url}desk/#/units${query}`);
    await page.waitForSelector(query === '' ? '.find-units' : '[data-found]');
}

async function bring(page: Page, s: Served, axe: string): Promise<void> {
    await units(page, s);
    same(await violations(page, axe), [], 'the page: no violation that axe finds');
    await page.setInputFiles('input[name="list"]', file(FAULTY));
    await page.waitForSelector('.mapping');
    same(await page.locator('.mapping select').evaluateAll((all) => all.map((x) => [(x as HTMLSelectElement).name, (x as HTMLSelectElement).value])), [['vin', 'Chassis No'], ['station', 'Position'], ['label', 'Sticker']], 'what the columns may be is guessed by their names');
    same(await page.locator('.first-rows tbody tr').first().locator('td').allInnerTexts(), FAULTY[0]!, 'the first rows are shown');
    same(await violations(page, axe), [], 'with a list chosen: no violation that axe finds');
    await page.selectOption('#map-label', '');
    ok(await page.locator('[data-act="try"]').isDisabled(), 'without a needed column it cannot go on');
    await page.selectOption('#map-label', 'Sticker');
    await page.click('[data-act="try"]');
    await page.waitForSelector('[data-came]');
    const n = FAULTY.filter((r) => !isGood(r)).length, wrong = FAULTY.flatMap((r, i) => (isGood(r) ? [] : [i + 2]));
    ok((await text(page, '.came h3')) === `${n} of 1000 rows are faulty` && n === 7, 'a dry run finds the seven that are counted here', await text(page, '.came h3'));
    same(await page.locator('.faults-table tbody th').allInnerTexts(), wrong.map(String), 'each with its line');
    same(await page.locator('.counts dd').allInnerTexts(), ['993', '0', '0', '0'], 'and what the others would be');
    ok(await page.locator('[data-act="put"]').count() === 0, 'a list with faulty rows cannot be brought in');
    same(await violations(page, axe), [], 'with faults: no violation that axe finds');
    const [download] = await Promise.all([page.waitForEvent('download'), page.click('[data-act="faults"]')]), back = readFileSync((await download.path())!, 'utf8').split('\r\n');
    ok(back[0] === `${HEAD},reason` && wrong.every((line, k) => back[k + 1]!.startsWith(FAULTY[line - 2]!.join(',') + ',') && back[k + 1]!.length > FAULTY[line - 2]!.join(',').length + 10) && back.length === n + 2, 'the faulty rows come back as they were, each with its reason', back.slice(0, 3).join(' | '));
    const quoted = (f: string): string => (/[",\r\n]/.test(f) ? `"${f.replaceAll('"', '""')}"` : f), said = await page.locator('.faults-table tbody tr').evaluateAll((all) => all.map((r) => [...r.querySelectorAll('td')].map((d) => d.textContent!).join(': ')));
    same(wrong.map((line, k) => back[k + 1]!.slice(FAULTY[line - 2]!.join(',').length + 1)), said.map(quoted), 'and the page says the same reasons');
    await page.setInputFiles('input[name="list"]', file(GOOD));
    await page.waitForSelector('[data-act="try"]:not([disabled])');
    await page.click('[data-act="try"]');
    await page.waitForSelector('[data-came="sound"]');
    ok((await page.evaluate(() => document.activeElement?.textContent)) === 'All 1\u202f000 rows are sound', 'mended, all are sound, and that is where the reader is');
    await page.click('[data-act="put"]');
    await page.waitForSelector('[data-came="put"]');
    ok((await text(page, '.came')).includes('Brought in: 1000 rows') && (await text(page, '.came')).includes('1000 new, 0 changed, 0 as they were.'), 'brought in, and said in words', await text(page, '.came'));
    same(await violations(page, axe), [], 'afterwards: no violation that axe finds');
    const rows = await page.evaluate(async () => (await fetch('/api/v1/export/units.json')).json()) as { vin: string; station: string; label: string }[];
    const held = new Map(rows.map((r) => [`${r.vin} ${r.station}`, r.label]));
    ok(GOOD.every(([v, , st, l]) => held.get(`${v} ${st}`) === l), 'the store holds what the file says, row by row', String(rows.length));
    await page.click('[data-act="another"]');
    ok((await page.evaluate(() => (document.activeElement as HTMLInputElement | null)?.name)) === 'list', 'another list can follow');
}

async function search(page: Page, s: Served, axe: string): Promise<void> {
    const shown = (): Promise<string[]> => page.locator('tr[data-vin]').evaluateAll((all) => all.map((r) => (r as HTMLElement).dataset['vin']!));
    await units(page, s);
    // By keyboard alone.
    await page.focus('#un-vin');
    await page.keyboard.type(vin(123).slice(-6).toLowerCase());
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-found="1"]');
    same(await shown(), [vin(123)], 'a unit is found by the end of its VIN');
    const row = await text(page, 'tr[data-vin]');
    ok(GOOD.filter((r) => r[0] === vin(123)).every((r) => row.includes(`${r[2]} ${r[3]}`)) && /In scope|Out of scope|In at some stations|Cannot tell/.test(row), 'with its stations, labels, and whether it is in scope', row);
    const told = s.call('scope', join(s.store, '../campaign/bulletin.yaml'), '--vin', vin(123), ...GOOD.filter((r) => r[0] === vin(123)).flatMap((r) => ['--label', `${r[2]}=${r[3]}`]))[0] as { unit: string; stations: { reason: string }[] };
    ok((await page.locator('[data-scope]').getAttribute('data-scope')) === told.unit && told.stations.every((x) => row.includes(x.reason)), 'as the command line says it, and why', `${JSON.stringify(told).slice(0, 300)} ${row}`);
    await page.fill('#un-vin', '42');
    await page.keyboard.press('Enter');
    await page.waitForSelector('.units-page > [role="alert"]');
    ok((await text(page, '.units-page > [role="alert"]')).includes('last 4'), 'too short an end is told');
    await page.fill('#un-vin', '');
    await page.fill('#un-label', 'WD40 2024-W03');
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-found="20"]');
    const first = await shown();
    await page.click('[data-act="more"]');
    await page.waitForFunction((v) => document.querySelector('tr[data-vin]')?.getAttribute('data-vin') !== v, first[0]);
    ok((await shown()).every((v) => !first.includes(v)), 'by a label, and the next ones follow');
    const ruled = s.rulings[0]!;
    await units(page, s, `?shop=${encodeURIComponent(ruled.shop)}&vin=${ruled.vin}`);
    same(await shown(), [ruled.vin], 'by shop and VIN, from a link');
    ok(await page.locator(`a[href="#/${ruled.claim}"]`).count() === 1, 'its claim is a link');
    same(await violations(page, axe), [], 'what was found: no violation that axe finds');
    await page.click(`a[href="#/${ruled.claim}"]`);
    await page.waitForSelector('.claim h1');
    await units(page, s, '?vin=ZZZZZZ');
    ok((await text(page, '.found')).includes('No unit fits'), 'nothing found is said');
    const [download] = await Promise.all([page.waitForEvent('download'), (async () => { await units(page, s); await page.click('.give-out a[href$="claims.csv"]'); })()]);
    ok(readFileSync((await download.path())!, 'utf8').split('\r\n').length === s.rulings.length + 2, 'claims are taken out as CSV, one a record');
}

async function shapes(s: Served, axe: string): Promise<void> {
    for (const [what, options, zoom] of [['dark', { dark: true }, 1], ['a phone', { size: PHONE }, 1], ['200 %', { size: { width: 640, height: 450 } }, 1]] as const) {
        const phone = await enter(s, 'ola', options), page = phone.page;
        await units(page, s, `?vin=${vin(7).slice(-4)}`);
        await page.setInputFiles('input[name="list"]', file(FAULTY));
        await page.waitForSelector('.mapping');
        await page.click('[data-act="try"]');
        await page.waitForSelector('[data-came]');
        same(await violations(page, axe), [], `${what}: no violation that axe finds`);
        ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${what}: nothing lies outside the window`, String(zoom));
        if (process.env['SHOTS'] !== undefined) await page.screenshot({ path: join(process.env['SHOTS'], `units-${what.replaceAll(' ', '-').replace('%', 'pc')}.png`), fullPage: true });
        await phone.close();
    }
}

await withPages(async (kit: Kit) => {
    const s = await served(kit), axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8');
    const ola = await enter(s, 'ola');
    await bring(ola.page, s, axe);
    await search(ola.page, s, axe);
    if (process.env['SHOTS'] !== undefined) {
        await units(ola.page, s, `?vin=${s.rulings[0]!.vin.slice(-6)}`);
        await ola.page.screenshot({ path: join(process.env['SHOTS'], 'units-found.png'), fullPage: true });
        await ola.page.setInputFiles('input[name="list"]', file(FAULTY));
        await ola.page.waitForSelector('.mapping');
        await ola.page.click('[data-act="try"]');
        await ola.page.waitForSelector('[data-came]');
        await ola.page.screenshot({ path: join(process.env['SHOTS'], 'units-faulty.png'), fullPage: true });
    }
    await shapes(s, axe);
    const ada = await enter(s, 'ada');
    await units(ada.page, s, `?vin=${vin(123).slice(-6)}`);
    ok(await ada.page.locator('tr[data-vin]').count() === 1 && await ada.page.locator('.bring, .give-out').count() === 0, 'a clerk finds units, and neither brings in nor takes out');
    const ines = await enter(s, 'ines');
    await at(ines.page, s, '#/units');
    ok(await ines.page.locator('.find-units').count() === 0, 'a technician has no such page');
    same(broken, [], 'the content policy has nothing to say, and no script failed');
    ok(await s.stop() === 0, 'the server ends with 0');
}, true);
