// An owner's first campaign, from an empty store to a claim that is paid, wholly by the pages: the bulletin, shops with rates and a key, the build
// list, the people, the technician's whole job on the Bench, the rules, the payment. By the command go only the store itself and its first owner,
// as in doc/first-campaign.md, and what the pages show is held against. Then the tour of the first day, what stands at the cursor where a
// bulletin is written, and who may have the rules look.
// usage: first.test PAGES PROGRAM ROOT
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { beginServing } from '../serve.mjs';
import { ok, same } from '../tap.mjs';
import { caller } from './call';
import { at, broken, enter, euro, rows, Served, violations } from './desk_kit';
import { DESK, PHONE, Phone, start, Technician } from './drive';
import { Kit, VIN, withPages } from './kit';

const content = '.editor .cm-content';
/** The example's bulletin, but for its last days of claiming: the test's job is done today, whenever that is. */
const bulletinOf = (root: string): string => readFileSync(join(root, 'examples/OV-26-03.yaml'), 'utf8').replace('until: 2027-06-30', 'until: 2099-12-31').replace('days_after_repair: 45', 'days_after_repair: 3650');
const SHOP = 'fern-mobile-2', RATE = '71.00', BUILDS = `vin,station,label\n${VIN},fore,WD40 2024-W13\n${VIN},aft,WD40 2024-W32\nZZZFM24T0R0000001,fore,WD40 2024-W14\n`;
interface First extends Served { folder: string; text: string }

/** A store without anything but its owner, and the bulletin that is to be written. */
async function empty(kit: Kit): Promise<First> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-first-')), store = join(folder, 'store');
    const call = caller(kit.program);
    call('store', 'init', '--store', store);
    call('people', 'add', 'ola', '--role', 'owner', '--store', store);
    const own = await beginServing(kit.program, store, folder);
    return {
        url: own.url, store, folder, text: bulletinOf(kit.root), rulings: [], overruled: '', call, stop: own.stop,
        link: (name) => 'enter/' + (call('people', 'link', name, '--store', store)[0] as { link: string }).link,
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
    const places: [string, string, RegExp][] = [['bulletin', 'issued', /^ {2}issued: /], ['kits[]', 'parts', /^ {4}parts:/], ['scope.stations[]', 'with', /^ +with: \{hand: \w+\}$/]];
    for (const [name, key, sought] of places) {
        await goTo(page, text, text.split('\n').find((l) => sought.test(l))!);
        // Within braces: the key there is of the writer's own, and the line is of the one that holds it.
        if (sought.source.includes('hand')) for (const pressed of ['End', 'ArrowLeft', 'ArrowLeft']) await page.keyboard.press(pressed);
        await page.waitForFunction((ref) => document.querySelector('.at-cursor')?.getAttribute('data-ref')?.replace(/\[\]$/, '') === ref, `${name}.${key}`);
        ok((await line(page)).includes(says(name, key)), `at ${name}.${key} the page says what the reference does`, await line(page));
    }
    same(await violations(page, axe), [], 'with it: no violation that axe finds');
}

// ---- the rest ----

/** The step of the campaign's page that leads to `page`; what was done before is marked there. */
async function stepTo(page: Page, s: First, name: string, done: string[]): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/campaign');
    await page.waitForFunction((n) => document.querySelectorAll('.steps [data-done]').length === n, done.length);
    same(await page.locator('.steps [data-done]').evaluateAll((all) => all.map((x) => x.getAttribute('data-done'))), done, `the campaign\u2019s page tells what is done: ${done.join(', ')}`);
    await page.click(`[data-step="${name}"]`);
}

async function shops(page: Page, s: First): Promise<void> {
    await stepTo(page, s, 'shops', ['bulletins']);
    await page.waitForSelector('[data-form="row"]');
    await page.fill('[data-form="row"] [name="shop"]', SHOP);
    await page.selectOption('[data-form="row"] [name="kind"]', 'mobile');
    await page.fill('[data-form="row"] [name="rate"]', RATE);
    await page.fill('[data-form="row"] [name="from"]', '2026-01-01');
    await page.click('[data-act="put"]');
    await page.waitForSelector(`[data-shop="${SHOP}"]`);
    const told = (s.call('store', 'shops', '--store', s.store)[0] as { shops: { shop: string; rows: { kind: string; rate: string; from: string }[]; keys: string[] }[] }).shops;
    same(told.map((x) => [x.shop, x.rows[0]!.kind, x.rows[0]!.rate, x.rows[0]!.from]), [[SHOP, 'mobile', RATE, '2026-01-01']], 'the first row begins the list of shops; rate and day are those of `store shops`');
}

/** The shop's key is made on the technician's phone; its public half, which is told on the screen, the owner puts to the shop. */
async function key(owner: Page, s: First, bench: Page): Promise<void> {
    await bench.goto(s.url + 'bench/#/settings');
    await bench.click('[data-act="make-key"]');
    const half = (await bench.locator('[data-public]').innerText()).trim();
    ok(/^[0-9a-f]{64}$/.test(half), 'the shop\u2019s key is made on the phone, which tells the public half', half);
    const [file] = await Promise.all([bench.waitForEvent('download'), bench.click('[data-act="save-key"]')]), bag = join(s.folder, 'other.zip'), ring = join(s.folder, 'ring.txt');
    writeFileSync(ring, `${SHOP} ${half}\n`);
    s.call('bag', 'make', join(root, 'examples/jobs/ov-26-03-a'), '-o', bag, '--key', (await file.path())!);
    same(s.call('bag', 'verify', bag, '--keys', ring)[0].signature, 'good', 'the secret half, saved for the shop\u2019s other phones, signs by the command as well');
    await bench.goto(s.url + 'bench/#/');
    await owner.goto(s.url + 'health');
    await owner.goto(s.url + 'desk/#/shops');
    await owner.waitForSelector('[data-form="key"]');
    await owner.fill('[data-form="key"] [name="shop"]', SHOP);
    await owner.fill('[data-form="key"] [name="key"]', half);
    await owner.click('[data-act="key"]');
    await owner.waitForSelector(`[data-shop="${SHOP}"] .keys .code`);
    same((s.call('store', 'shops', '--store', s.store)[0] as { shops: { keys: string[] }[] }).shops.map((x) => x.keys), [[half]], 'and the owner puts it to the shop');
}

async function units(page: Page, s: First): Promise<void> {
    await stepTo(page, s, 'units', ['bulletins', 'shops']);
    await page.setInputFiles('input[name="list"]', { name: 'builds.csv', mimeType: 'text/csv', buffer: Buffer.from(BUILDS) });
    await page.click('[data-act="try"]');
    await page.click('[data-act="put"]', { timeout: 60000 });
    await page.waitForSelector('[data-came="put"]', { timeout: 60000 });
    same(await page.evaluate(async () => (await fetch('/api/v1/export/units.csv')).text()).then((x) => x.trim().split(/\r?\n/).sort()), BUILDS.trim().split('\n').sort(), 'the build list is brought in, row by row');
}

/** Lets somebody in, and gives the link that they then come in by. */
async function invite(page: Page, name: string, role: 'technician' | 'clerk'): Promise<string> {
    await page.fill('.invite [name="name"]', name);
    await page.selectOption('.invite [name="role"]', role);
    if (role === 'technician') await page.fill('.invite [name="shop"]', SHOP);
    await page.click('[data-act="invite"]');
    await page.waitForSelector('.told');
    const url = await page.locator('.told input').inputValue();
    await page.click('[data-act="told"]');
    return url;
}

async function comes(url: string, where: RegExp, size: typeof DESK): Promise<Phone> {
    const phone = await start(url, { size, calm: true, bare: true });
    phone.page.on('console', (m) => { if (/content security policy|<path>/i.test(m.text())) broken.push(m.text()); });
    phone.page.on('pageerror', (e) => broken.push(e.message));
    await phone.page.click('#enter');
    await phone.page.waitForURL(where);
    return phone;
}

/** The phone's clock in the morning; what of the day has passed is told to it with every screen, so that the job takes as long as one does. */
async function morning(phone: Phone): Promise<(ms: number) => Promise<void>> {
    const HOURS = 9 * 3600e3;
    await phone.page.addInitScript((back) => {
        const now = Date.now.bind(Date), Real = Date, w = window as unknown as { passed: number };
        w.passed = 0;
        const today = (): number => now() - back + w.passed;
        class Earlier extends Real { constructor(...a: unknown[]) { super(...((a.length === 0 ? [today()] : a) as [number])); } static override now = today; }
        (globalThis as unknown as { Date: unknown }).Date = Earlier;
    }, HOURS);
    await phone.page.reload();
    let all = 0;
    return async (ms) => { all = Math.min(HOURS - 60e3, all + ms); await phone.page.evaluate((n) => { (window as unknown as { passed: number }).passed = n; }, all); };
}

async function sends(kit: Kit, s: First, url: string, owner: Page): Promise<void> {
    const phone = await comes(url, /\/bench\//, PHONE), { page } = phone, pass = await morning(phone), tech = new Technician(phone, kit.unit());
    await page.waitForSelector('[data-act="open"]');
    await key(owner, s, page);
    await page.waitForSelector('[data-act="open"]');
    await tech.openJob(VIN);
    await tech.work(() => pass(5 * 60e3));
    await page.click('[data-act="send"]');
    const told = (await page.waitForSelector('[data-sent="sent"]', { timeout: 60000 }).then((e) => e.textContent())) ?? '';
    ok(/K[0-9A-HJKMNP-TV-Z]{12}/.test(told), 'the technician does the whole job on the Bench and sends it; the screen names the claim', told);
    same(await page.evaluate(async () => { const session = await (await fetch('/api/v1/session')).json(); return (await fetch('/api/v1/rulings', { method: 'POST', body: '{}', headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': session.csrf } })).status; }), 403, 'and cannot have it ruled on');
    await page.goto(s.url + 'desk/#/');
    await page.waitForSelector('tr[data-claim]');
    same([await page.locator('[data-act="rule-now"]').count(), await page.locator('.tour').getAttribute('data-tour')], [0, 'claims-own'], 'nor is there a way on the page; the card is the technician\u2019s');
    await phone.close();
}

async function rules(s: First, url: string, axe: string): Promise<void> {
    const desk = await comes(url, /\/desk\//, DESK), { page } = desk;
    await at(page, s, '#/');
    same([(await rows(page)).map((r) => r[0]), await page.locator('[data-act="rule-now"]').innerText()], [['Not ruled'], 'Rule on the one that waits for the rules'], 'the claim waits for the rules');
    same(await violations(page, axe), [], 'the list with it: no violation that axe finds');
    await page.click('[data-act="rule-now"]');
    await page.waitForFunction(() => document.querySelector('[data-act="rule-now"]') === null, undefined, { timeout: 60000 });
    const due = (s.call('rule', '--store', s.store, '--trial') as { verdict: string; amount_minor: number; claim: string; findings: unknown[] }[]).find((r) => r.claim !== undefined)!;
    ok(await page.locator('[data-turn] [role="status"]').innerText() === '1 ruled on: 1 to pay, 0 to ask, 0 to look at, 0 refused.', 'the clerk has the rules look', `${await page.locator('[data-turn] [role="status"]').innerText()} ${JSON.stringify(due.findings)}`);
    same((await rows(page)).map((r) => [r[0], r[1], r[6]]), [['Pay', due.claim, euro(due.amount_minor)]], 'the claim is to be paid, as much as `rule` says');
    await page.click('tr[data-claim] a');
    await page.waitForSelector('.acts');
    await page.focus('#claim-title');
    await page.keyboard.press('p');
    await page.waitForFunction(() => (document.activeElement as HTMLElement | null)?.dataset['act'] === 'yes');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => /^Paid/.test(document.querySelector('#claim-title')?.textContent ?? ''));
    same((s.call('rule', '--store', s.store, '--trial') as { claim: string; signature?: string; findings: { rule: string }[] }[]).find((r) => r.claim === due.claim)!.findings, [], 'nothing is held against it: the bag is signed by the shop\u2019s key');
    await desk.close();
}

async function sees(page: Page, s: First): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/campaign');
    await page.waitForSelector('[data-figure="money.paid_minor"]');
    const told = s.call('campaign', '--store', s.store)[0], figure = async (of: string) => (await page.locator(`[data-figure="${of}"]`).first().innerText()).replaceAll(/[\u00a0\u202f]/g, ' ');
    ok(told.money.paid_minor > 0 && told.units.proved === 1, 'one unit is proved, and paid', JSON.stringify(told.units));
    same([await figure('money.paid_minor'), await figure('units.proved'), await figure('units.in_scope'), await page.locator('.steps').count()], [euro(told.money.paid_minor), '1', String(told.units.in_scope), 0], 'the owner\u2019s campaign shows it, as `campaign` does, and no first steps any more');
    const acts = (s.call('people', 'audit', '--limit', '50', '--store', s.store)[0] as { acts: { what: string; who: string | null }[] }).acts;
    same(acts.filter((a) => a.who === null).map((a) => a.what), ['link', 'added'], 'but for the first owner and their link, everything was done by somebody who had come in');
    ok(s.call('store', 'verify', '--store', s.store)[0].ok === true, 'the store is whole');
}

let program = '', root = '';
void withPages(async (kit: Kit) => {
    ({ program, root } = kit);
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await empty(kit);
    try {
        const owner = await enter(s, 'ola'), { page } = owner;
        await tour(page, s, axe);
        await writes(page, s, axe);
        await shops(page, s);
        await units(page, s);
        await stepTo(page, s, 'people', ['bulletins', 'shops', 'units']);
        await page.waitForSelector('.invite');
        const ines = await invite(page, 'ines', 'technician'), ada = await invite(page, 'ada', 'clerk');
        await page.goto(s.url + 'health');
        await page.goto(s.url + 'desk/#/campaign');
        await page.waitForSelector('[data-done="people"]');
        same(await violations(page, axe), [], 'with all first steps done: no violation that axe finds');
        await sends(kit, s, ines, page);
        await rules(s, ada, axe);
        await sees(page, s);
        await owner.close();
        same(broken, [], 'no error of the page, and the content policy held');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
