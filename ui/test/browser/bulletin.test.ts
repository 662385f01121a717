// The owner's page on bulletins behind the program's own server: a draft begun, its faults at their lines, what is different and what would
// follow as the command line tells them, kept through a closed window and against a second writer, shown on paper and on the Bench, issued.
// usage: bulletin.test PAGES PROGRAM ROOT
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { caller } from './call';
import { comeBack } from './desk_kit';
import { DESK, PHONE, Phone, start } from './drive';
import { violations } from './judge';
import { Kit, withPages } from './kit';
import { beginServing } from '../serve.mjs';

interface Served { url: string; store: string; folder: string; call(...words: string[]): any; link(name: string): string; stop(): Promise<number> }

async function served(kit: Kit): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-bulletin-')), store = join(folder, 'store'), campaign = join(folder, 'campaign');
    const lines = caller(kit.program), call = (...words: string[]): any => lines(...words).pop() ?? null;
    call('demo', 'make', campaign, '--units', '30', '--seed', '7');
    call('store', 'init', '--store', store);
    for (const [what, file] of [['bulletin', 'bulletin.yaml'], ['shops', 'shops.csv'], ['keys', 'keys.txt']] as const) call('store', 'keep', what, join(campaign, file), '--store', store);
    call('store', 'builds', join(campaign, 'builds.csv'), '--store', store);
    call('take', '--arrivals', join(campaign, 'arrivals.csv'), '--store', store);
    call('rule', '--store', store, '--at', '2026-12-01T18:00:00Z');
    for (const [name, role] of [['olga', 'owner'], ['ada', 'clerk']] as const) call('people', 'add', name, '--role', role, '--store', store);
    const own = await beginServing(kit.program, store, folder);
    return {
        url: own.url, store, folder, call, link: (name) => 'enter/' + (call('people', 'link', name, '--store', store) as { link: string }).link,
        stop: own.stop,
    };
}

const broken: string[] = [];
async function enter(s: Served, name: string, options: Parameters<typeof start>[1] = {}): Promise<Phone> {
    const phone = await start(s.url + 'health', { size: DESK, calm: true, bare: true, ...options });
    phone.page.on('console', (m) => { if (/content security policy/i.test(m.text())) broken.push(m.text()); });
    phone.page.on('pageerror', (e) => broken.push(e.message));
    await phone.page.addInitScript(() => addEventListener('securitypolicyviolation', (e) => console.log(`content security policy: ${e.violatedDirective} ${e.sourceFile}:${e.lineNumber}:${e.columnNumber} ${e.sample}`)));
    await phone.page.goto(s.url + s.link(name));
    await phone.page.click('#enter');
    await phone.page.waitForURL(/\/(desk|bench)\//);
    return phone;
}

const content = '.editor .cm-content';
/** Puts a whole text there, as somebody does who pastes it. (Playwright's insertText makes the browser itself write styles into the field.) */
async function write(page: Page, text: string): Promise<void> {
    await page.locator(content).click();
    await page.keyboard.press('Control+a');
    await page.locator(content).evaluate((at, t) => { const data = new DataTransfer(); data.setData('text/plain', t); at.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true, composed: true })); }, text);
}
const kept = (page: Page): Promise<unknown> => page.waitForSelector('[data-kept="kept"]', { state: 'attached', timeout: 60000 });
const tab = (page: Page, name: string): Promise<void> => page.click(`[data-tab="${name}"]`);
const panel = async (page: Page): Promise<string> => (await page.locator('#panel').innerText()).replaceAll('\u00a0', ' ');
const stored = async (page: Page, name: string): Promise<string> => page.evaluate(async (n) => (await fetch(`/api/v1/drafts/${n}`)).text(), name);

async function begin(page: Page, s: Served, axe: string): Promise<void> {
    await page.goto(s.url + 'desk/#/bulletins');
    await page.waitForSelector('[data-begin="OV-26-03"]');
    same(await violations(page, axe), [], 'the drafts: no violation that axe finds');
    await page.click('[data-begin="OV-26-03"]');
    await page.waitForSelector(content);
    await page.waitForSelector('.sound');
    ok((await panel(page)).includes('Sound: OV-26-03, revision 2.') && (await page.locator('h1').innerText()) === 'OV-26-03-3', 'a draft is begun from the bulletin that holds');
    same(await violations(page, axe), [], 'a draft: no violation that axe finds');
}

async function faults(page: Page, s: Served, text: string): Promise<void> {
    const path = join(s.folder, 'faulty.yaml'), faulty = text.replace('kerf: 1.6 mm', 'kerf: 1.6 kg').replace('revision: 3', 'revision: zero');
    writeFileSync(path, faulty);
    const told = s.call('check', path) as { faults: { line: number; message: string }[] };
    await write(page, faulty);
    await page.waitForSelector('.sound.stop-text');
    const shown = await page.locator('.faults li').evaluateAll((all) => all.map((li) => [Number(li.querySelector('button')!.dataset['line']), (li.querySelector('p')!.lastChild as Text).data]));
    same(shown, told.faults.map((f) => [f.line, f.message]), 'faults, by line, are the command line\u2019s');
    const last = told.faults[told.faults.length - 1]!.line;
    await page.click(`.faults [data-line="${last}"]`);
    const line = await page.locator('.editor .cm-activeLine').innerText();
    ok(line.includes(faulty.split('\n')[last - 1]!.trim()), 'a fault\u2019s button leads to its line, and the cursor is there', line);
}

/** A later revision with the day of the one it replaces: what is odd about it stands where it is checked, and again where it would be issued. */
async function sameDay(page: Page, text: string, axe: string): Promise<void> {
    const odd = text.replace('issued: 2026-11-20', 'issued: 2026-02-16'), line = odd.split('\n').findIndex((l) => l.startsWith('  issued: ')) + 1;
    await write(page, odd);
    await page.waitForSelector(`.sound:not(.stop-text) ~ .faults [data-line="${line}"]`);
    await tab(page, 'issue');
    await page.waitForSelector(`.faults [data-line="${line}"]`);
    ok((await panel(page)).includes('asked for again') && await page.locator('[data-act="issue"]').isDisabled(), 'a later revision of the same day: told before it is issued', await panel(page));
    same(await violations(page, axe), [], 'with that: no violation that axe finds');
    await page.click(`.faults [data-line="${line}"]`);
    ok((await page.locator('.editor .cm-activeLine').innerText()).includes('2026-02-16'), 'and it leads to its line');
    await tab(page, 'faults');
    await write(page, text);
    await page.waitForFunction(() => document.querySelector('.sound:not(.stop-text)') !== null && document.querySelector('.faults [data-line]') === null);
}

async function different(page: Page, s: Served, text: string, axe: string): Promise<void> {
    const path = join(s.folder, 'r3.yaml');
    writeFileSync(path, text);
    const told = s.call('check', path, '--store', s.store);
    await write(page, text);
    await page.waitForSelector('.sound:not(.stop-text)');
    await tab(page, 'changes');
    const shown = await page.locator('.changes > div').evaluateAll((all) => all.map((d) => ({ where: d.querySelector('dt')!.textContent, was: d.querySelector('del')?.textContent ?? null, now: d.querySelector('ins')?.textContent ?? null })));
    same(shown, told.changes, 'what is different is the command line\u2019s');
    await tab(page, 'follow');
    await page.click('[data-act="follow"]');
    await page.waitForSelector('p.said', { timeout: 60000 });
    const w = told.if_issued, cells = await page.locator('#panel table').first().locator('tbody td').allInnerTexts();
    same(cells.map(Number), [w.units, w.stations_in_scope].flatMap((x: any) => [x.in_before, x.in_now, x.swept_in, x.let_out, x.unknown_now]), 'what would follow: units and stations are the command line\u2019s');
    const said = await panel(page), cash = (minor: number) => (minor / 100).toFixed(2);
    ok(said.includes(`${w.claims.changed} of ${w.claims.n} claims`) && said.includes(cash(w.money.was_minor)) && said.includes(cash(w.money.now_minor)), 'so are claims and money', said);
    const reasons = w.claims.moves.map((m: any) => m.because.map((x: any) => `${x.finding ?? 'no finding any more'}${m.because.length === 1 ? '' : ` ${x.n}`}`).join(', '));
    ok(reasons.length > 0 && reasons.every((text: string) => said.includes(text)), 'and for which findings claims go from verdict to verdict', said);
    ok(w.claims.changed > 0 && w.units.in_now !== w.units.in_before, 'and the text does change something', JSON.stringify(w.units));
    same(await violations(page, axe), [], 'what would follow: no violation that axe finds');
}

async function keeping(page: Page, s: Served, text: string): Promise<void> {
    await kept(page);
    ok(await stored(page, 'OV-26-03-3') === text, 'what was typed is kept, byte for byte');
    const theirs = text + '# theirs\n', put = (body: string) => page.evaluate(async ([t]) => {
        const session = await (await fetch('/api/v1/session')).json(), tag = (await fetch('/api/v1/drafts/OV-26-03-3')).headers.get('ETag')!;
        return (await fetch('/api/v1/drafts/OV-26-03-3', { method: 'PUT', body: JSON.stringify({ text: t }), headers: { 'Content-Type': 'application/json', 'If-Match': tag, 'X-Mendwright-Csrf': session.csrf } })).status;
    }, [body]);
    ok(await put(theirs) === 200, 'somebody else writes');
    await write(page, text + '# mine\n');
    await page.waitForSelector('[data-act="mine"]');
    ok(await stored(page, 'OV-26-03-3') === theirs, 'and is not written over unasked');
    await page.click('[data-act="theirs"]');
    await page.waitForSelector('[data-act="recover"]');
    await page.click('[data-act="recover"]');
    await kept(page);
    ok(await stored(page, 'OV-26-03-3') === text + '# mine\n', 'theirs was shown, and mine put back over it by hand');
    // The window closes before anything is kept: the network is away.
    await page.context().setOffline(true);
    await write(page, text + '# in the dark\n');
    await page.waitForSelector('[data-kept="typed"], [data-kept="failed"]', { state: 'attached' });
    page.once('dialog', (d) => void d.accept());
    await page.context().setOffline(false);
    await page.goto('about:blank');
    await page.goto(s.url + 'desk/#/bulletins?draft=OV-26-03-3');
    await page.waitForSelector(content);
    const now = await stored(page, 'OV-26-03-3');
    if (now !== text + '# in the dark\n') {
        await page.waitForSelector('[data-act="recover"]');
        await page.click('[data-act="recover"]');
        await kept(page);
    }
    ok(await stored(page, 'OV-26-03-3') === text + '# in the dark\n', 'what was typed before the window closed is not lost');
    await write(page, text);
    await kept(page);
}

/** The session ends while somebody writes: the text stays, and is kept by itself once they are back. */
async function ended(olga: Phone, s: Served, text: string): Promise<void> {
    const { page } = olga;
    await olga.context.clearCookies();
    await write(page, text + '# let out\n');
    await page.waitForSelector('.sign-in');
    await comeBack(olga, s.url + s.link('olga'));
    await kept(page);
    ok(await stored(page, 'OV-26-03-3') === text + '# let out\n', 'what was written when the session ended is kept once the same person is back');
    await write(page, text);
    await kept(page);
}

/** The cursor on the line of that number, as somebody who looks for it. */
async function goTo(page: Page, n: number): Promise<void> {
    await page.locator(content).click();
    await page.keyboard.press('Control+Home');
    await page.keyboard.press('Control+Alt+g');
    await page.keyboard.type(String(n));
    await page.keyboard.press('Enter');
}
const stands = (page: Page, step: string, phase: string): Promise<unknown> => page.waitForSelector(`[data-preview="${step}"][data-phase="${phase}"]:has(.bench-frame[data-shown="shown ${step}"]):has([data-page][data-step="${step}"] img)`, { timeout: 60000 });

/** Beside the text: the Bench's own screen of the step at the cursor, and the sheet's page; with faults in the text the last good one. */
async function beside(page: Page, text: string, axe: string): Promise<void> {
    const lines = text.split('\n'), line = (sought: RegExp, from = 0): number => { const n = lines.findIndex((l, i) => i >= from && sought.test(l)) + 1; if (n === 0) throw new Error(`no line ${sought}`); return n; }, cut = line(/^ {2}- id: cut-racks$/);
    await tab(page, 'show');
    // A slow machine, told by its clock: the cursor is at its line before the reader of the text is. (An editor that does not go on asking stays
    // at the first step.)
    await page.evaluate(() => { const now = Date.now.bind(Date); let calls = 0, late = 0; Date.now = () => now() + (calls++ < 400 ? late += 30 : late); });
    await write(page, text + '# slow\n');
    await goTo(page, cut);
    await page.locator('.editor .cm-activeLine', { hasText: 'cut-racks' }).waitFor();
    await stands(page, 'cut-racks', 'do');
    const frame = page.frameLocator('.bench-frame');
    ok((await frame.locator('h1').innerText()) === 'Cut the racks' && (await frame.locator('main').innerText()).includes('Keep the whole blade on the offcut'), 'the Bench shows the step at the cursor, in the draft\u2019s words', await frame.locator('main').innerText());
    await goTo(page, line(/^ {4}cautions:/, cut) + 2);
    await stands(page, 'cut-racks', 'cautions');
    ok(await frame.locator('.caution').count() > 0, 'at its cautions, the cautions', await frame.locator('main').innerText());
    ok(await page.locator('.paper-page').evaluate((i) => { const at = i as HTMLImageElement; return at.complete && Math.abs(at.naturalHeight / at.naturalWidth - 297 / 210) < 0.005; }), 'the page has the shape of A4 (ISO 216)');
    same(await violations(page, axe), [], 'the preview: no violation that axe finds');
    const before = Number(await page.locator('[data-page]').getAttribute('data-page'));
    await page.click('[data-act="page-next"]');
    await page.waitForSelector(`[data-page="${before + 1}"]`);
    await goTo(page, line(/^points:/) + 1);
    await page.waitForSelector('[data-phase="readings"] .bench-frame[data-shown^="shown"]', { timeout: 60000 });
    await goTo(page, cut);
    await stands(page, 'cut-racks', 'do');
    const busy: string[] = [];
    await page.route('**/bulletins/sheet', (r) => { busy.push('sheet'); return r.fulfill({ status: 503, contentType: 'application/problem+json', body: '{"title":"busy","status":503,"detail":"too much is under way at once"}' }); }, { times: 1 });
    await write(page, text.replace('en: Cut the racks\n', 'en: Saw the racks\n'));
    await goTo(page, cut);
    await frame.locator('h1', { hasText: 'Saw the racks' }).waitFor({ timeout: 60000 });
    await stands(page, 'cut-racks', 'do');
    same([await frame.locator('h1').innerText(), await page.locator('[data-good]').getAttribute('data-good')], ['Saw the racks', 'true'], 'it follows what is typed');
    same(busy, ['sheet'], 'and what the server was too busy for is asked for again');
    await write(page, text.replace('kerf: 1.6 mm', 'kerf: 1.6 kg'));
    await page.waitForSelector('[data-good="false"].stop-text', { timeout: 60000 });
    ok((await page.locator('[data-good]').innerText()).startsWith('The text has faults. This is the last text without any') && await page.locator('.bench-frame[data-shown^="shown"]').count() === 1, 'with a fault in the text the last good one stays, and that is said');
    await write(page, text);
    await page.waitForSelector('[data-good="true"]', { timeout: 60000 });
    await kept(page);
}

async function shown(page: Page, s: Served): Promise<void> {
    await tab(page, 'show');
    const [down] = await Promise.all([page.waitForEvent('download'), page.click('[data-act="a4"]')]);
    ok(readFileSync(await down.path()).subarray(0, 5).toString() === '%PDF-' && down.suggestedFilename() === 'OV-26-03-3-a4.pdf', 'the sheet as PDF');
    await page.click('[data-act="bench"]');
    await page.waitForSelector('#panel a[href="/bench/"]');
    const bench = await page.context().newPage();
    await bench.goto(s.url + 'bench/#/open');
    await bench.waitForSelector('select');
    const titles = await bench.locator('select option').allInnerTexts();
    ok(titles.some((o) => o.includes('DRAFT:') && o.includes('revision 3')), 'the draft is on this browser\u2019s Bench, and says that it is one', titles.join(' | '));
    await bench.close();
}

async function issue(page: Page, s: Served, text: string, axe: string): Promise<void> {
    await page.locator('[data-tab="show"]').focus();
    await page.keyboard.press('ArrowRight');
    ok(await page.locator('[data-tab="issue"]').getAttribute('aria-selected') === 'true', 'the tabs go by arrows');
    ok(await page.locator('[data-act="issue"]').isDisabled(), 'nothing is issued unread');
    same(await violations(page, axe), [], 'issuing: no violation that axe finds');
    await page.check('.tick input');
    await page.click('[data-act="issue"]');
    await page.getByText('Issued: OV-26-03, revision 3.').waitFor();
    const held = await page.evaluate(async () => (await fetch('/api/v1/bulletins/OV-26-03/3/file')).text());
    ok(held === text && s.call('store', 'verify', '--store', s.store).ok === true, 'it is issued, byte for byte, and the store is whole');
    await page.click('[data-act="drop"]');
    await page.click('[data-act="drop-sure"]');
    await page.waitForSelector('.halves');
    ok(await page.locator('.halves th[scope="row"]').count() === 0, 'the draft is thrown away');
}

void withPages(async (kit: Kit) => {
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await served(kit);
    try {
        const olga = await enter(s, 'olga'), page = olga.page, holds = readFileSync(join(s.folder, 'campaign/bulletin.yaml'), 'utf8');
        const text = holds.replace('revision: 2\n', 'revision: 3\n').replace('issued: 2026-02-16', 'issued: 2026-11-20').replace('from: 2024-W12, to: 2024-W16', 'from: 2024-W16, to: 2024-W16').replace('    travel: 120.00', '    travel: 10.00');
        await begin(page, s, axe);
        await faults(page, s, text);
        await sameDay(page, text, axe);
        await different(page, s, text, axe);
        await keeping(page, s, text);
        await ended(olga, s, text);
        await beside(page, text, axe);
        await shown(page, s);
        await issue(page, s, text, axe);
        await olga.close();
        const ada = await enter(s, 'ada', { size: PHONE });
        await ada.page.goto(s.url + 'desk/#/bulletins');
        await ada.page.waitForSelector('.list .after', { state: 'attached' });
        const links = (await ada.page.locator('a[href="#/bulletins"]').evaluateAll((all) => all.map((a) => a.parentElement!.outerHTML))).join(), status = await ada.page.evaluate(async () => (await fetch('/api/v1/drafts')).status);
        ok(links === '' && status === 403, 'a clerk sees claims there, and no drafts', `${links} ${status}`);
        await ada.close();
        ok(broken.length === 0, 'no error of the page, and the content policy held', broken.join('\n'));
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
