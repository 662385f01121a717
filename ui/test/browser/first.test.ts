// An owner's first campaign, from an empty store to a claim that is paid, behind the program's own server. What has no page of its own is done by
// the command, as the first steps on the empty page say: the build list, shops, keys, people. Then the tour of the first day, what stands at the
// cursor where a bulletin is written, and who may have the rules look.
// usage: first.test PAGES PROGRAM ROOT
import { spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { at, broken, enter, euro, rows, Served, violations } from './desk_kit';
import { PHONE } from './drive';
import { Kit, VIN, withPages } from './kit';

const EVENING = '2026-12-01T18:00:00Z', content = '.editor .cm-content';
/** The example's bulletin, but for its last days of claiming: the test's bag comes in today, whenever that is. */
const bulletinOf = (root: string): string => readFileSync(join(root, 'examples/OV-26-03.yaml'), 'utf8').replace('until: 2027-06-30', 'until: 2099-12-31').replace('days_after_repair: 45', 'days_after_repair: 3650');
const SHOP = 'fern-mobile-2', BUILDS = `vin,station,label\n${VIN},fore,WD40 2024-W13\n${VIN},aft,WD40 2024-W32\nZZZFM24T0R0000001,fore,WD40 2024-W14\n`;
interface First extends Served { folder: string; text: string; bag: string }

/** A store without anything but its owner, and beside it what a campaign begins with: the example's bulletin, build list, shop, key, and its finished
 * job as a bag that was made by that bulletin. */
async function empty(kit: Kit): Promise<First> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-first-')), store = join(folder, 'store'), text = bulletinOf(kit.root), job = join(folder, 'job'), events = join(job, 'events.json'), bag = join(folder, 'job.zip');
    const call = (...words: string[]): any[] => {
        const done = spawnSync(kit.program, [...words, '--json'], { encoding: 'utf8', maxBuffer: 2 ** 26 });
        if (![0, 1, 4].includes(done.status ?? -1)) throw new Error(`${words.join(' ')}: ${done.status} ${done.stderr}${done.stdout}`);
        return done.stdout.trim() === '' ? [] : done.stdout.trim().split('\n').map((line) => JSON.parse(line));
    };
    writeFileSync(join(folder, 'builds.csv'), BUILDS);
    writeFileSync(join(folder, 'shops.csv'), `shop,kind,rate\n${SHOP},mobile,71.00\n`);
    cpSync(join(kit.root, 'examples/jobs/ov-26-03-a'), job, { recursive: true });
    writeFileSync(events, readFileSync(events, 'utf8').replace(/"sha256":"[0-9a-f]{64}"/, `"sha256":"${createHash('sha256').update(text).digest('hex')}"`)); // the first: the bulletin's
    call('bag', 'key', join(folder, SHOP));
    call('bag', 'make', job, '-o', bag, '--key', join(folder, SHOP));
    call('store', 'init', '--store', store);
    call('people', 'add', 'ola', '--role', 'owner', '--store', store);
    const child = spawn(kit.program, ['serve', '--store', store, '--listen', '127.0.0.1:0', '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
    const told = await new Promise<string>((take) => child.stdout!.once('data', (d: Buffer) => take(String(d))));
    return {
        url: (JSON.parse(told) as { url: string }).url, store, folder, text, bag, rulings: [], overruled: '', call,
        link: (name) => 'enter/' + (call('people', 'link', name, '--store', store)[0] as { link: string }).link,
        stop: () => new Promise((take) => { child.once('exit', (code) => { rmSync(folder, { recursive: true, force: true }); take(code ?? -1); }); child.kill('SIGTERM'); }),
    };
}

const line = async (page: Page): Promise<string> => (await page.locator('.at-cursor').innerText()).replaceAll('\u00a0', ' ');
async function paste(page: Page, text: string): Promise<void> {
    await page.locator(content).click();
    await page.keyboard.press('Control+a');
    await page.locator(content).evaluate((to, t) => { const data = new DataTransfer(); data.setData('text/plain', t); to.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true, composed: true })); }, text);
}
/** The cursor on the first line that is this one, as somebody who looks for it. */
async function goTo(page: Page, text: string, sought: string): Promise<void> {
    const n = text.split('\n').findIndex((l) => l === sought) + 1;
    if (n === 0) throw new Error(`no line "${sought}"`);
    await page.locator(content).click();
    await page.keyboard.press('Control+Home');
    await page.keyboard.press('Control+Alt+g');
    await page.keyboard.type(String(n));
    await page.keyboard.press('Enter');
}

// ---- the owner ----

async function tour(page: Page, s: First, axe: string): Promise<void> {
    await at(page, s, '#/');
    same(await page.locator('.tour').getAttribute('data-tour'), 'claims', 'on the first day each page says what it is for');
    same(await violations(page, axe), [], 'with the card: no violation that axe finds');
    await page.keyboard.press('Tab');
    await page.locator('[data-act="tour-done"]').focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('.tour', { state: 'detached' });
    await page.reload();
    await page.waitForSelector('.list .after', { state: 'attached' });
    same(await page.locator('.tour').count(), 0, 'once, and this browser remembers');
}

async function writes(page: Page, s: First, axe: string): Promise<void> {
    const { text } = s;
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/campaign');
    await page.waitForSelector('.steps');
    same(await page.locator('.tour').getAttribute('data-tour'), 'campaign', 'another page has its own card');
    await page.click('[data-step="bulletins"]');
    await page.waitForSelector('[data-begin=""]');
    await page.click('[data-act="tour-done"]');
    await page.click('[data-begin=""]');
    await page.waitForSelector('.at-cursor');
    await page.waitForSelector('.sound.stop-text');
    ok(true, 'the empty campaign leads to the bulletins, and an empty page is not sound');
    await paste(page, text);
    await page.waitForSelector('.sound:not(.stop-text)', { timeout: 60000 });
    await cursor(page, text, axe);
    await page.waitForSelector('[data-kept="kept"]', { state: 'attached', timeout: 60000 });
    await page.click('[data-tab="issue"]');
    await page.check('.tick input');
    await page.click('[data-act="issue"]');
    await page.getByText('Issued: OV-26-03').waitFor();
    ok(await page.evaluate(async (t) => (await (await fetch('/api/v1/bulletins')).json()).bulletins.length === 1 && (await (await fetch('/api/v1/bulletins/OV-26-03/2/file')).text()) === t, text), 'the bulletin is issued, byte for byte');
}

/** What stands at the cursor, against `check --reference`. */
async function cursor(page: Page, text: string, axe: string): Promise<void> {
    const all = spawnSync(program, ['check', '--reference'], { encoding: 'utf8' }).stdout, section = (name: string) => all.split(`\n### \`${name}\`\n`)[1]!.split('\n#')[0]!;
    const says = (name: string, key: string) => section(name).split('\n').find((l) => l.startsWith(`| \`${key}\` |`))!.split(' | ')[3]!.replaceAll('\\|', '|');
    const places: [string, string, string][] = [['bulletin', 'issued', text.split('\n').find((l) => l.startsWith('  issued: '))!], ['kits[]', 'parts', text.split('\n').find((l) => /^ {4}parts:/.test(l))!]];
    for (const [name, key, sought] of places) {
        await goTo(page, text, sought);
        await page.waitForFunction((ref) => document.querySelector('.at-cursor')?.getAttribute('data-ref')?.replace(/\[\]$/, '') === ref, `${name}.${key}`);
        ok((await line(page)).includes(says(name, key)), `at ${name}.${key} the page says what the reference does`, await line(page));
    }
    same(await violations(page, axe), [], 'with it: no violation that axe finds');
}

// ---- the rest ----

async function sends(s: First): Promise<void> {
    // Shops, keys, people, the build list: by the command, as the first steps say.
    s.call('store', 'builds', join(s.folder, 'builds.csv'), '--store', s.store);
    for (const [what, file] of [['shops', 'shops.csv'], ['keys', `${SHOP}.pub`]] as const) s.call('store', 'keep', what, join(s.folder, file), '--store', s.store);
    for (const [name, role, shop] of [['ines', 'technician', SHOP], ['ada', 'clerk', '']] as const) s.call('people', 'add', name, '--role', role, ...(shop === '' ? [] : ['--shop', shop]), '--store', s.store);
    const phone = await enter(s, 'ines', { size: PHONE }), bytes = readFileSync(s.bag), sha256 = createHash('sha256').update(bytes).digest('hex');
    const send = () => phone.page.evaluate(async ([name, base64]) => {
        const session = await (await fetch('/api/v1/session')).json(), body = Uint8Array.from(atob(base64!), (x) => x.charCodeAt(0));
        const answer = await fetch(`/api/v1/bags/${name}`, { method: 'PUT', body, headers: { 'Content-Type': 'application/zip', 'X-Mendwright-Csrf': session.csrf } });
        return { status: answer.status, told: await answer.json() };
    }, [sha256, bytes.toString('base64')] as const);
    const first = await send(), again = await send();
    same([first.status, first.told.result, again.told.result, again.told.claim], [201, 'taken', 'already', first.told.claim], 'a technician of the shop sends the bag; sent again, nothing changes');
    same(await phone.page.evaluate(async () => { const session = await (await fetch('/api/v1/session')).json(); return (await fetch('/api/v1/rulings', { method: 'POST', body: '{}', headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': session.csrf } })).status; }), 403, 'and cannot have it ruled on');
    await phone.page.goto(s.url + 'desk/#/');
    await phone.page.waitForSelector('tr[data-claim]');
    same([await phone.page.locator('[data-act="rule-now"]').count(), await phone.page.locator('.tour').getAttribute('data-tour')], [0, 'claims-own'], 'nor is there a way on the page; the card is the technician\u2019s');
    await phone.close();
}

async function rules(s: First, axe: string): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk;
    await at(page, s, '#/');
    same([(await rows(page)).map((r) => r[0]), await page.locator('[data-act="rule-now"]').innerText()], [['Not ruled'], 'Rule on the one that waits for the rules'], 'the claim waits for the rules');
    same(await violations(page, axe), [], 'the list with it: no violation that axe finds');
    await page.click('[data-act="rule-now"]');
    await page.waitForFunction(() => document.querySelector('[data-act="rule-now"]') === null, undefined, { timeout: 60000 });
    same(await page.locator('[data-turn] [role="status"]').innerText(), '1 ruled on: 1 to pay, 0 to ask, 0 to look at, 0 refused.', 'the clerk has the rules look');
    const due = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as { verdict: string; amount_minor: number; claim: string }[]).find((r) => r.claim !== undefined)!;
    same((await rows(page)).map((r) => [r[0], r[1], r[6]]), [['Pay', due.claim, euro(due.amount_minor)]], 'the claim is to be paid, as much as `rule` says');
    await page.click('tr[data-claim] a');
    await page.waitForSelector('.acts');
    await page.focus('#claim-title');
    await page.keyboard.press('p');
    await page.waitForFunction(() => (document.activeElement as HTMLElement | null)?.dataset['act'] === 'yes');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /^Paid/.test(document.querySelector('#claim-title')?.textContent ?? ''));
    await desk.close();
}

async function sees(page: Page, s: First): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/campaign');
    await page.waitForSelector('[data-figure="money.paid_minor"]');
    const told = s.call('campaign', '--store', s.store)[0], figure = async (of: string) => (await page.locator(`[data-figure="${of}"]`).first().innerText()).replaceAll(/[\u00a0\u202f]/g, ' ');
    ok(told.money.paid_minor > 0 && told.units.proved === 1, 'one unit is proved, and paid', JSON.stringify(told.units));
    same([await figure('money.paid_minor'), await figure('units.proved'), await figure('units.in_scope')], [euro(told.money.paid_minor), '1', String(told.units.in_scope)], 'the owner\u2019s campaign shows it, as `campaign` does');
    ok(s.call('store', 'verify', '--store', s.store)[0].ok === true, 'the store is whole');
}

let program = '';
void withPages(async (kit: Kit) => {
    program = kit.program;
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await empty(kit);
    try {
        const owner = await enter(s, 'ola');
        await tour(owner.page, s, axe);
        await writes(owner.page, s, axe);
        await sends(s);
        await rules(s, axe);
        await sees(owner.page, s);
        await owner.close();
        same(broken, [], 'no error of the page, and the content policy held');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
