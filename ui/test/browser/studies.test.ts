// The Desk's pages of studies behind the program's own server: every kind opens and says what the command says, sentence, figures and what it takes for granted; an
// assumption is changed by the keyboard and the answer changes as the command's does; what is asked stands in the address; long work says how far it is and
// is cancelled; a study that fails says why; an answer is saved to the report, stands in it, and is taken out; a technician sees none of it; no
// violation that axe finds, light and dark, wide and narrow, at 200 %.
// usage: studies.test PAGES PROGRAM ROOT
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { EVENING, Served, broken, enter, served, violations } from './desk_kit';
import { DESK, PHONE } from './drive';
import { Kit, withPages } from './kit';

const SHOTS = process.env['STUDIES_SHOTS']; // a folder: for looking at the screens
const shot = async (page: Page, name: string): Promise<void> => { if (SHOTS !== undefined) await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true }); };
const WAIT = { timeout: 60000 };
const GAUGE = 'part,operator,value\n' + [...'abcd'].flatMap((p, i) => ['ann', 'bob', 'cyd'].flatMap((o, k) => [0, 1].map((r) => `${p},${o},${(10 + 2 * i + 0.1 * k + 0.03 * ((i * 7 + k * 5 + r * 3) % 4)).toFixed(2)}`))).join('\n') + '\n';

interface Note { kind: string; text: string }
interface Told { code: number | null; json: { assumptions?: Note[]; cannot?: string } & Record<string, unknown>; words: string }
/** What the command says of it: its figures, and its words without the terminal's lines and blanks. */
function told(kit: Kit, s: Served, kind: string, options: Record<string, string>): Told {
    const rows = kind === 'gauge' ? ['-', '--part', 'part', '--operator', 'operator', '--value', 'value'] : ['--store', s.store], words = ['study', kind, ...rows, ...Object.entries(options).flatMap(([k, v]) => (v === 'yes' ? [`--${k}`] : [`--${k}`, v]))];
    const run = (...more: string[]) => spawnSync(kit.program, [...words, ...more], { encoding: 'utf8', input: kind === 'gauge' ? GAUGE : '', maxBuffer: 2 ** 26 }), json = run('--json');
    return { code: json.status, json: JSON.parse(json.stdout), words: flat(run().stdout) };
}
const flat = (text: string): string => text.replace(/[\s\u2500-]+/g, '');

const hash = (kind: string, options: Record<string, string> = {}): string => `#/studies/${kind}${Object.keys(options).length > 0 ? `?${new URLSearchParams(options)}` : ''}`;
async function open(page: Page, s: Served, to: string, wanted: string): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/' + to);
    await page.waitForSelector(wanted, WAIT);
}
const READY = '.answer .sentence', sentence = (page: Page): Promise<string> => page.locator(READY).first().innerText();

/** What stands on the page against what the command says. */
async function isTold(page: Page, kit: Kit, s: Served, kind: string, options: Record<string, string>): Promise<string> {
    const t = told(kit, s, kind, options);
    const seen = await page.evaluate(() => {
        const all = (q: string) => [...document.querySelectorAll(`.told .answer ${q}`)].map((e) => (e.textContent ?? '').trim()), img = document.querySelector<HTMLImageElement>('.told .plot img');
        return { code: Number(document.querySelector<HTMLElement>('.told .answer')!.dataset['code']), sentence: all('.sentence')[0]!, cells: all('tbody td').concat(all('tbody th')), texts: all('> p'), notes: ['caveat', 'assumed', 'checked'].flatMap((k) => all(`[data-notes="${k}"] li`).map((text) => `${k}: ${text}`)), alt: img?.alt ?? '', width: img?.naturalWidth ?? 0 };
    });
    ok(seen.code === t.code && t.words.includes(flat(seen.sentence)), `${kind}: the sentence is the command's`, `${seen.sentence} ${t.words.slice(0, 300)}`);
    const strange = [...seen.cells, ...seen.texts].filter((c) => !t.words.includes(flat(c)));
    ok(seen.cells.length > 0 && strange.length === 0, `${kind}: ${seen.cells.length} figures and ${seen.texts.length} texts are the command's`, strange.join(' | '));
    same(seen.notes.sort(), (t.json.assumptions ?? []).map((n) => `${n.kind}: ${n.text}`).sort(), `${kind}: and what it takes for granted, with what was looked at`);
    ok(seen.width > 0 && seen.alt === seen.sentence, `${kind}: the picture is shown, with the sentence in its place`, `${seen.width}`);
    return seen.sentence;
}

/** By the keyboard alone: into the field, what is asked for, and Enter. */
async function change(page: Page, name: string, value: string): Promise<void> {
    await page.locator(`#st-${name}`).focus();
    await page.keyboard.press('Control+A');
    await page.keyboard.type(value);
    await page.keyboard.press('Enter');
}

const USUAL: Record<string, Record<string, string>> = { audit: { aql: '1', lq: '10' } };
const CHANGED: Record<string, [string, string]> = { window: ['confidence', '70'], life: ['forecast', '365'], completion: ['confidence', '70'], held: ['at-most', '0.2'], labour: ['paid', '200'], stock: ['units', '400'], capability: ['least', '1.33'], digits: ['discovery', '40'], audit: ['aql', '0.1'], gauge: ['confidence', '70'] };

async function each(page: Page, kit: Kit, s: Served, axe: string): Promise<void> {
    for (const kind of Object.keys(CHANGED)) {
        const usual = USUAL[kind] ?? {}, [name, value] = CHANGED[kind]!;
        await open(page, s, hash(kind, usual), kind === 'gauge' ? '.told .lead' : READY);
        if (kind === 'gauge') {
            ok((await page.locator('.told').innerText()).includes('Put the rows in first'), 'gauge: asks for its rows first');
            await page.fill('#st-rows', GAUGE);
            await page.click('[data-act="run"]');
            await page.waitForSelector(READY, WAIT);
        }
        await isTold(page, kit, s, kind, usual);
        same(await violations(page, axe), [], `${kind}: no violation that axe finds`);
        await shot(page, `wide-${kind}`);
        const before = await page.locator('.told .answer').innerText(), command = await page.locator('.command code').first().innerText();
        await change(page, name, value);
        await page.waitForFunction(([b]) => { const a = document.querySelector<HTMLElement>('.told .answer'); return document.querySelector('.told')!.getAttribute('aria-busy') === 'false' && a !== null && a.innerText !== b; }, [before], WAIT);
        await isTold(page, kit, s, kind, { ...usual, [name]: value });
        const now = await page.locator('.command code').first().innerText();
        ok(new URL(page.url()).hash === hash(kind, { ...usual, [name]: value }) && now !== command && now.includes(`--${name} ${value}`), `${kind}: another ${name}, another answer; the address and the call say so`, `${page.url()} ${now}`);
        ok(await page.evaluate(() => document.activeElement?.classList.contains('sentence') ?? false), `${kind}: and who pressed Enter is led to the sentence`);
    }
    await open(page, s, hash('audit'), '.told .lead');
    ok((await page.locator('.told').innerText()).includes('Nothing is guessed for you'), 'audit: without shares nothing is worked out');
}

async function failing(page: Page, s: Served): Promise<void> {
    await open(page, s, hash('window', { variant: 'none' }), '.failed:not(:empty)');
    const why = await page.locator('.failed').innerText();
    ok(/could not be answered/.test(why) && /no variant 'none'/.test(why) && (await page.locator('.answer').count()) === 0, 'a study that fails says why, in the words of the command, and shows no figure', why);
    await change(page, 'confidence', '101');
    await page.waitForFunction(() => /101/.test(document.querySelector('.failed')?.textContent ?? ''), undefined, WAIT);
    ok(/options\.confidence|50 to 99.9/.test(await page.locator('.failed').innerText()), 'a value beyond its bounds says which it may have', await page.locator('.failed').innerText());
    await page.click('[data-act="usual"]');
    await page.waitForSelector(READY, WAIT);
    ok((await page.locator('.failed').innerText()) === '' && new URL(page.url()).hash === hash('window'), 'as usual again: it is answered');
    await open(page, s, hash('nonsense'), '.questions');
    ok((await page.locator('.questions > li').count()) === 10, 'an address of no study shows the questions');
}

async function cancelled(page: Page, s: Served): Promise<void> {
    await open(page, s, hash('window', { draws: '99999', windows: '8' }), '.working progress');
    await page.waitForFunction(() => /\d+ %|Waiting|Working/.test(document.querySelector('.working [role="status"]')?.textContent ?? ''), undefined, WAIT);
    await page.locator('[data-act="stop"]').focus();
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /cancelled/.test(document.querySelector('.failed')?.textContent ?? ''), undefined, WAIT);
    ok((await page.locator('.answer').count()) === 0, 'long work says how far it is, is cancelled by a key, and shows nothing');
}

const kept = (kit: Kit, s: Served): { blocks: Record<string, unknown>[] } | undefined => (JSON.parse(spawnSync(kit.program, ['report', '--store', s.store, '-o', join(s.store, '../r.pdf'), '--at', EVENING, '--json'], { encoding: 'utf8', maxBuffer: 2 ** 26 }).stdout) as { sections: { id: string; blocks: Record<string, unknown>[] }[] }).sections.find((x) => x.id === 'kept');

async function report(page: Page, kit: Kit, s: Served, axe: string, other: Page): Promise<void> {
    ok(kept(kit, s) === undefined, 'nothing is kept yet');
    await open(page, s, hash('held', { 'at-most': '0.5' }), '[data-act="keep"]');
    const said = await sentence(page);
    await page.locator('#keep-note').focus();
    await page.keyboard.type('For the board.');
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-kept]', WAIT);
    same(await page.locator('.keep [role="status"]').innerText(), 'Saved. It stands in the next campaign report.', 'an answer is saved to the report');
    same(await violations(page, axe), [], 'with one kept: no violation that axe finds');
    await shot(page, 'wide-kept');
    const texts = JSON.stringify(kept(kit, s)?.blocks ?? []);
    ok(texts.includes(said) && texts.includes('ada notes: For the board.'), 'the report has it, with the note and who kept it', texts.slice(0, 400));
    await open(page, s, '#/studies', '.kept [data-kept]');
    same([await page.locator('.questions [data-study="held"] .said').innerText(), (await page.locator('.questions [data-study="held"] a').last().innerText()).replace('\u00a0', ' ')], [said, 'with Rate at most 0.5'], 'the list shows the last sentence of each question, and with what it was asked');
    await page.locator('.kept summary').first().focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('.kept .answer', WAIT);
    same(await page.locator('.kept .answer .sentence').innerText(), said, 'a kept one opens as it was answered then');
    same(await violations(page, axe), [], 'the list: no violation that axe finds');
    await shot(page, 'wide-list');
    await open(other, s, '#/studies', '.kept [data-kept]');
    await other.click('[data-act="out"]');
    ok(await other.evaluate(() => (document.activeElement as HTMLElement).dataset['act'] === 'out-yes'), 'an owner is asked before it is taken out, and the answer is where the focus is');
    await other.keyboard.press('Enter');
    await other.waitForFunction(() => document.querySelector('[data-kept]') === null, undefined, WAIT);
    ok(kept(kit, s) === undefined, 'then the report has it no more');
    await page.goto(s.url + 'health');
}

async function looks(s: Served, axe: string): Promise<void> {
    for (const [name, size, dark] of [['dark', DESK, true], ['phone', PHONE, false], ['zoom-200', { width: 640, height: 450 }, false]] as const) {
        const { page, close } = await enter(s, 'ola', { size, dark });
        for (const kind of ['window', 'digits', 'gauge', '']) {
            await open(page, s, hash(kind), kind === '' ? '.questions' : kind === 'gauge' ? '.told .lead' : READY);
            same([await violations(page, axe), await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)], [[], 0], `${name}, ${kind === '' ? 'the list' : kind}: no violation that axe finds, nothing beyond the edge`);
            await shot(page, `${name}-${kind === '' ? 'list' : kind}`);
        }
        await close();
    }
}

await withPages(async (kit) => {
    const s = await served(kit, '90'), axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8');
    s.call('store', 'keep', 'failures', join(s.store, '../campaign/reports.csv'), '--store', s.store);
    try {
        const { page, close } = await enter(s, 'ada'), owner = await enter(s, 'ola');
        await each(page, kit, s, axe);
        await failing(page, s);
        await cancelled(page, s);
        await report(page, kit, s, axe, owner.page);
        await close();
        await owner.close();
        await looks(s, axe);
        const tech = await enter(s, 'ines');
        await tech.page.goto(s.url + 'desk/#/studies');
        await tech.page.waitForSelector('.list .after', { state: 'attached' });
        ok((await tech.page.locator('.studies').count()) === 0 && !(await tech.page.locator('.top').innerText()).includes('Studies'), 'a technician is shown no studies');
        await tech.close();
        same(broken, [], 'nothing broke the rules of the page');
    } finally {
        same(await s.stop(), 0, 'the server ends well');
    }
});
