// The campaign's page behind the program's own server, over a small invented campaign: every figure on the page is the one that `campaign --json`
// prints, and every figure printed is on the page; links lead to the claims that a figure counts; a bag that is taken in shows by itself;
// roles; no violation that axe finds, light and dark, wide and narrow, at 200 %; an empty store tells the first steps.
// usage: campaign.test PAGES PROGRAM ROOT
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { caller } from './call';
import { DESK, PHONE, Phone, start } from './drive';
import { violations } from './judge';
import { Kit, withPages } from './kit';
import { beginServing } from '../serve.mjs';

const EVENING = '2026-10-01T18:00:00Z', UNITS = '40', SEED = '7';
interface Served { url: string; link(name: string): string; take(): void; campaign(...words: string[]): any; stop(): Promise<number> }

/** The last bag is kept back until take(). */
async function served(kit: Kit): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-campaign-')), store = join(folder, 'store'), campaign = join(folder, 'campaign');
    const call = caller(kit.program);
    const put = (name: string, text: string): string => { writeFileSync(join(folder, name), text); return join(folder, name); };
    call('demo', 'make', campaign, '--units', UNITS, '--seed', SEED, '--faulty', '50');
    call('store', 'init', '--store', store);
    for (const [what, file] of [['bulletin', 'bulletin.yaml'], ['shops', 'shops.csv'], ['keys', 'keys.txt']] as const) call('store', 'keep', what, join(campaign, file), '--store', store);
    call('store', 'builds', join(campaign, 'builds.csv'), '--store', store);
    call('store', 'keep', 'reserve', put('reserve.csv', 'bulletin,amount,currency,person\nOV-26-03,25000.00,EUR,ola\n'), '--store', store);
    call('store', 'keep', 'stock', put('stock.csv', 'kit,on_hand,ordered,lead_days\nleft-upper,3,20,30\nright-upper,40,0,10\n'), '--store', store);
    const [head, ...bags] = readFileSync(join(campaign, 'arrivals.csv'), 'utf8').trim().split('\n');
    const take = (name: string, lines: string[]) => { writeFileSync(join(campaign, name), [head, ...lines, ''].join('\n')); call('take', '--arrivals', join(campaign, name), '--store', store); };
    const truth = JSON.parse(readFileSync(join(campaign, 'truth.json'), 'utf8')).claims as { bag: string; take?: string }[], isTaken = (line: string) => truth.find((t) => line.includes(t.bag))?.take !== 'refused';
    const sound = bags.length - 1 - [...bags].reverse().findIndex(isTaken);
    take('early.csv', bags.filter((_, i) => i !== sound));
    const first = call('rule', '--store', store, '--at', EVENING) as { claim: string; verdict: string; shop: string }[];
    call('rule', '--store', store, '--claim', first.find((r) => r.verdict === 'pay')!.claim, '--overrule', 'refuse', '--reason', 'the invoice names another unit', '--person', 'ada', '--at', EVENING);
    call('rule', '--store', store, '--settle', '--person', 'ada', '--at', EVENING);
    for (const [name, role, shop] of [['ada', 'clerk', ''], ['ola', 'owner', ''], ['ines', 'technician', first[0]!.shop]] as const) call('people', 'add', name, '--role', role, ...(shop === '' ? [] : ['--shop', shop]), '--store', store);
    const s = await beginServing(kit.program, store, folder);
    return {
        url: s.url, take: () => take('late.csv', [bags[sound]!]), link: (name) => 'enter/' + (call('people', 'link', name, '--store', store)[0] as { link: string }).link,
        campaign: (...words) => call('campaign', '--store', store, ...words)[0], stop: s.stop,
    };
}

const broken: string[] = [];
async function enter(s: { url: string; link(name: string): string }, name: string, options: Parameters<typeof start>[1] = {}): Promise<Phone> {
    const phone = await start(s.url + 'health', { size: DESK, calm: true, bare: true, ...options });
    phone.page.on('console', (m) => { if (/content security policy|<path>|<svg>/i.test(m.text())) broken.push(m.text()); });
    phone.page.on('pageerror', (e) => broken.push(e.message));
    await phone.page.goto(s.url + s.link(name));
    await phone.page.click('#enter');
    await phone.page.waitForURL(/\/(desk|bench)\//);
    return phone;
}
async function at(page: Page, url: string): Promise<void> {
    await page.goto(url + 'health');
    await page.goto(url + 'desk/#/campaign');
    await page.waitForSelector('.campaign');
}

// ---- figures ----

interface Seen { of: string; text: string; href: string | null }
const figures = (page: Page): Promise<Seen[]> => page.evaluate(() => [...document.querySelectorAll('[data-figure]')].map((e) => ({ of: e.getAttribute('data-figure')!, text: (e.textContent ?? '').replace(/[\u00a0\u202f]/g, ' '), href: e.getAttribute('href') })));
const member = (of: string, from: any): any => of.split('.').reduce((x, name) => x?.[name], from);

/** Whether the text on the page is that figure, read back from it: money exactly, counts exactly, shares and means to the digits shown. */
function isSame(of: string, text: string, value: any): boolean {
    if (value === null) return text === '';
    if (typeof value === 'string') return text === value;
    if (of.endsWith('_minor') || of === 'money.reserve.minor') return text.replace(' EUR', '').replace('\u2212', '-') === (value / 100).toFixed(2);
    if (/(^|\.)(p|q)$/.test(of)) return text === '< 0.0001' ? value < 0.0001 : Math.abs(Number(text) - value) <= 0.006 * value;
    if (text.endsWith(' %')) return Math.abs(Number(text.slice(0, -2)) - 100 * value) <= 0.5 + 1e-9;
    const digits = (text.split('.')[1] ?? '').length, read = Number(text.replace(/ /g, ''));
    return Number.isInteger(value) && !/mean|sd|days|ppk/.test(of) ? read === value : Math.abs(read - value) <= 0.5 * 10 ** -digits + 1e-9;
}

/** Every number that is told, by its path. */
function* numbers(x: any, at = ''): Generator<string> {
    if (typeof x === 'number') yield at;
    else if (x !== null && typeof x === 'object') for (const [k, v] of Object.entries(x)) yield* numbers(v, at === '' ? k : `${at}.${k}`);
}
// Not figures of the campaign, or told by the drawing and in words beside it: limits of points (their own column), what stands (paid, promised and
// owed back are its parts), on hand and used since (left is their difference), k and n of a reason (in its words), times, places.
const OTHERWISE = /^(revision|currency_digits|seq)$|_nano$|stands_minor|\.at_ms$|since_ms$|stock\.(on_hand|used_since)$|reasons\.\d+\.[kn]$|^forecast\.(units|come)$|^money\.refused_minor$|^other_currency$/;

async function checkFigures(page: Page, told: any, what: string): Promise<void> {
    const seen = await figures(page), wrong = seen.filter((f) => !isSame(f.of, f.text, member(f.of, told)));
    same(wrong.map((f) => [f.of, f.text, member(f.of, told)]), [], `${what}: each of ${seen.length} figures on the page is the command's`);
    ok(new Set(seen.map((f) => f.of)).size > 150, `${what}: so many different ones`);
    // What is nought or empty may be left out.
    const shown = new Set(seen.map((f) => f.of)), left = [...numbers(told)].filter((of) => !shown.has(of) && !OTHERWISE.test(of) && member(of, told) !== 0);
    same(left, [], `${what}: every figure of the command's is on the page`);
}

async function openAll(page: Page): Promise<Seen[]> {
    if (await page.$('[data-act="all-shops"]')) await page.click('[data-act="all-shops"]');
    const all: Seen[] = [];
    for (const button of await page.$$('button.opens')) {
        await button.click();
        all.push(...await figures(page));
    }
    return all;
}

async function owner(s: Served): Promise<void> {
    const { page, close } = await enter(s, 'ola');
    await at(page, s.url);
    const told = s.campaign();
    if (await page.$('[data-act="all-shops"]')) await page.click('[data-act="all-shops"]');
    // Of points the rows of all shops; each shop's are opened below.
    const byShop = told.readings.map((r: any, i: number) => (r.shop === null ? -1 : i)).filter((i: number) => i >= 0);
    await checkFigures(page, { ...told, readings: told.readings.map((r: any) => (r.shop === null ? r : {})) }, 'at one look');
    const opened = await openAll(page), rows = new Set(opened.filter((f) => f.of.endsWith('.n')).map((f) => f.of));
    same(opened.filter((f) => f.of.startsWith('readings.') && !isSame(f.of, f.text, member(f.of, told))).slice(0, 3), [], `opened: ${opened.length} figures are the command's`);
    same(byShop.filter((i: number) => !rows.has(`readings.${i}.n`)), [], `each of ${byShop.length} shops at its points can be opened`);
    const asked = (await figures(page)).find((f) => f.of === 'money.asked_minor')!;
    await page.click(`[data-figure="money.asked_minor"][href]`);
    await page.waitForSelector('tr[data-claim]');
    const count = await page.evaluate(() => document.querySelectorAll('tr[data-claim]').length);
    same([asked.href, count], ['#/?verdict=ask', told.claims.find((c: any) => c.verdict === 'ask').claims], 'money asked about opens the claims that it is made of');
    await page.goBack();
    await page.waitForSelector('.campaign');
    const shop = told.money.by_shop.find((b: any) => b.pay > 0), i = told.money.by_shop.indexOf(shop);
    if (await page.$('[data-act="all-shops"]')) await page.click('[data-act="all-shops"]');
    await page.click(`[data-figure="money.by_shop.${i}.pay"]`);
    await page.waitForSelector('tr[data-claim]');
    same(await page.evaluate(() => document.querySelectorAll('tr[data-claim]').length), shop.pay, 'a shop\u2019s claims to be paid, too');
    same(await page.evaluate(() => [document.querySelector('nav a[aria-current="page"]') !== null]), [true], 'the pages stand at the top');
    await close();
}

async function live(s: Served): Promise<void> {
    const { page, close } = await enter(s, 'ada');
    await at(page, s.url);
    await page.reload(); // the second look has news to tell
    await page.waitForSelector('.news');
    const before = Number(await page.getAttribute('.campaign', 'data-seq')), taken = await page.textContent('[data-figure="claims.4.claims"]');
    await page.waitForFunction(() => (document.querySelector('[role="status"]')?.textContent ?? '').startsWith('Live'));
    s.take();
    await page.waitForFunction((n) => Number(document.querySelector('.campaign')?.getAttribute('data-seq')) > n, before);
    ok(await page.textContent('[data-figure="claims.4.claims"]') === String(Number(taken) + 1), 'a bag is taken in: the page counts it by itself');
    const told = s.campaign('--since', (await page.getAttribute('.news', 'data-since'))!);
    same(Number(await page.getAttribute('.campaign', 'data-seq')), told.seq, 'and is of the same entry of the log as the command');
    same(told.news.taken, Number(await page.textContent('[data-figure="news.taken"]')), 'what came since the last look is told as well');
    if (await page.$('[data-act="all-shops"]')) await page.click('[data-act="all-shops"]');
    await checkFigures(page, { ...told, readings: told.readings.map((r: any) => (r.shop === null ? r : {})) }, 'after the bag');
    await close();
}

// ---- roles, access, the empty store ----

async function roles(s: Served): Promise<void> {
    const { page, close } = await enter(s, 'ines');
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/campaign');
    await page.waitForSelector('.list');
    same(await page.evaluate(() => [document.querySelectorAll('div.campaign').length, document.querySelectorAll('header.top nav a[href="#/campaign"]').length]), [0, 0], 'a technician is shown claims instead, and no way there');
    same(await page.evaluate(async () => [(await fetch('/api/v1/campaign')).status, (await fetch('/api/v1/news')).status]), [403, 403], 'and the calls are refused');
    await close();
}

async function access(s: Served, axe: string): Promise<void> {
    const ways = [['light', DESK, false], ['dark', DESK, true], ['on a phone', PHONE, false], ['at 200 % (half as wide)', { width: 640, height: 450 }, false], ['wide', { width: 1920, height: 1000 }, true]] as const;
    for (const [what, size, dark] of ways) {
        const { page, close } = await enter(s, 'ola', { size, dark });
        await at(page, s.url);
        await page.click('button.opens');
        same(await violations(page, axe), [], `axe finds nothing: ${what}`);
        ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `nothing makes the page wider than the screen: ${what}`);
        const plots = await page.evaluate(() => [...document.querySelectorAll('.campaign svg[role="img"]')].filter((e) => (e.getAttribute('aria-label') ?? '').length < 10).length);
        same(plots, 0, `every drawing says in words what it shows: ${what}`);
        await close();
    }
}

async function keyboard(s: Served): Promise<void> {
    const { page, close } = await enter(s, 'ola');
    await at(page, s.url);
    const stops = new Set<string>();
    for (let i = 0; i < 40; i++) {
        await page.keyboard.press('Tab');
        stops.add(await page.evaluate(() => document.activeElement?.getAttribute('data-figure') ?? ''));
    }
    ok(['money.paid_minor', 'money.asked_minor', 'units.reached', 'units.proved'].every((of) => stops.has(of)), 'figures that open something are reached by the keyboard', [...stops].join(' '));
    await close();
}

async function empty(kit: Kit, axe: string): Promise<void> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-campaign-')), store = join(folder, 'store');
    const call = (...words: string[]) => spawnSync(kit.program, [...words, '--store', store, '--json'], { encoding: 'utf8' }).stdout;
    call('store', 'init');
    call('people', 'add', 'ola', '--role', 'owner');
    const s = await beginServing(kit.program, store, folder), link = () => 'enter/' + (JSON.parse(call('people', 'link', 'ola')) as { link: string }).link;
    const { page, close } = await enter({ url: s.url, link }, 'ola');
    await at(page, s.url);
    ok((await page.textContent('.campaign'))!.includes('First steps') && (await page.$$('.steps li')).length === 4, 'an empty store tells the first steps');
    same(await violations(page, axe), [], 'axe finds nothing there');
    call('store', 'keep', 'bulletin', join(kit.root, 'examples/OV-26-03.yaml'));
    await page.waitForSelector('[data-figure="units.in_scope"]');
    ok(true, 'once a bulletin is kept, its campaign is there by itself');
    await close();
    same(await s.stop(), 0, 'its server ends with 0');
}

await withPages(async (kit) => {
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await served(kit);
    try {
        await owner(s);
        await live(s);
        await roles(s);
        await access(s, axe);
        await keyboard(s);
        await empty(kit, axe);
        same([...new Set(broken)], [], 'no page error, and nothing breaks the content policy');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0, listeners and all');
    }
});
