// desk_kit: what the tests of the Desk share: the program's own server over a small invented campaign that was taken in, ruled, overruled once and
// settled; who comes in; what the pages say of themselves.
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { caller } from './call';
import { DESK, Phone, start } from './drive';
import { Kit } from './kit';
export { violations } from './judge';
import { beginServing } from '../serve.mjs';

export const EVENING = '2026-12-01T18:00:00Z', REASON = 'the invoice names another unit';
export interface Ruled { claim: string; verdict: string; amount_minor: number; paid_minor: number; vin: string; shop: string; new: boolean; overruled: boolean; findings: { rule: string; message: string; cure: string | null }[] }
export interface Served { url: string; store: string; rulings: Ruled[]; overruled: string; call(...words: string[]): any[]; link(name: string): string; stop(): Promise<number> }

/** The last bag comes after the ruling, so one claim is not ruled yet; one is overruled; what is to be paid is paid. */
export async function served(kit: Kit, units = '30', seed = '7', isSettled = true): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-desk-')), store = join(folder, 'store'), campaign = join(folder, 'campaign');
    const call = caller(kit.program);
    call('demo', 'make', campaign, '--units', units, '--seed', seed, '--faulty', '70');
    call('store', 'init', '--store', store);
    for (const [what, file] of [['bulletin', 'bulletin.yaml'], ['shops', 'shops.csv'], ['keys', 'keys.txt']] as const) call('store', 'keep', what, join(campaign, file), '--store', store);
    call('store', 'builds', join(campaign, 'builds.csv'), '--store', store);
    const [head, ...bags] = readFileSync(join(campaign, 'arrivals.csv'), 'utf8').trim().split('\n');
    const take = (name: string, lines: string[]) => { writeFileSync(join(campaign, name), [head, ...lines, ''].join('\n')); call('take', '--arrivals', join(campaign, name), '--store', store); };
    take('early.csv', bags.slice(0, -1));
    const first = call('rule', '--store', store, '--at', EVENING) as Ruled[], overruled = first.filter((r) => r.verdict === 'pay').pop()!.claim;
    call('rule', '--store', store, '--claim', overruled, '--overrule', 'refuse', '--reason', REASON, '--person', 'ada', '--at', EVENING);
    if (isSettled) call('rule', '--store', store, '--settle', '--person', 'ada', '--at', EVENING);
    take('late.csv', bags.slice(-1));
    for (const [name, role, shop] of [['ada', 'clerk', ''], ['ola', 'owner', ''], ['ines', 'technician', first[0]!.shop]] as const) call('people', 'add', name, '--role', role, ...(shop === '' ? [] : ['--shop', shop]), '--store', store);
    const own = await beginServing(kit.program, store, folder);
    return {
        url: own.url, store, overruled, call, rulings: (call('rule', '--store', store, '--trial', '--at', EVENING) as Ruled[]).filter((r) => r.claim !== undefined),
        link: (name) => 'enter/' + (call('people', 'link', name, '--store', store)[0] as { link: string }).link,
        stop: own.stop,
    };
}

// ---- what the pages say of themselves ----

export const broken: string[] = [];
export async function enter(s: Served, name: string, options: Parameters<typeof start>[1] = {}): Promise<Phone> {
    const phone = await start(s.url + 'health', { size: DESK, calm: true, bare: true, ...options });
    phone.page.on('console', (m) => { if (/content security policy|<path>/i.test(m.text())) broken.push(m.text()); });
    phone.page.on('pageerror', (e) => broken.push(e.message));
    await phone.page.goto(s.url + s.link(name));
    await phone.page.click('#enter');
    await phone.page.waitForURL(/\/(desk|bench)\//);
    return phone;
}
/** Lets whom the link names in again, in another tab, when the session of the page has ended. */
export async function comeBack(phone: Phone, link: string): Promise<void> {
    const other = await phone.context.newPage();
    await other.goto(link);
    await other.click('#enter');
    await other.waitForSelector('table.claims');
    await other.close();
    await phone.page.evaluate(() => dispatchEvent(new Event('focus'))); // as when a person turns to it again
    await phone.page.waitForSelector('.sign-in', { state: 'detached' });
}
/** Asks for an address of the Desk and waits until its list is there. */
export async function at(page: Page, s: Served, hash: string): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/' + hash);
    await page.waitForSelector('.list .after', { state: 'attached' });
}
export const rows = (page: Page): Promise<string[][]> => page.evaluate(() => [...document.querySelectorAll('tr[data-claim]')].map((r) => [...r.querySelectorAll('td')].map((c) => (c.textContent ?? '').trim().replaceAll('\u00a0', ' '))));
export const ids = async (page: Page): Promise<string[]> => (await rows(page)).map((r) => r[1]!);
export const focused = (page: Page): Promise<string> => page.evaluate(() => document.activeElement?.textContent ?? '');

export const WORDS: Record<string, string> = { pay: 'Pay', ask: 'Ask', hold: 'Hold', refuse: 'Refuse', unruled: 'Not ruled' };
/** The euro has two decimals (ISO 4217, list one). */
export const euro = (minor: number): string => `${(minor / 100).toFixed(2)} EUR`;
/** What `rule` would do with a claim it has not ruled on does not stand yet. */
export const verdictOf = (r: Ruled): string => (r.new ? 'unruled' : r.verdict);
