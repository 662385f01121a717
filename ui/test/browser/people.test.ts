// The owner's pages on people and shops behind the program's own server: somebody is invited by a link and comes in by it in another browser; another
// role changes what they see; revoked, they are out; the last owner stays; what was done is listed as `people audit` tells it; the list of
// shops is changed, by two at once too, and is then what `store shops` tells; no violation that axe finds, light and dark, wide and narrow, at 200 %.
// usage: people.test PAGES PROGRAM ROOT
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { broken, enter, Served, served, violations } from './desk_kit';
import { DESK, PHONE, start } from './drive';
import { withPages } from './kit';

const SHOTS = process.env['PEOPLE_SHOTS']; // a folder: for looking at the screens
const shot = async (page: Page, name: string): Promise<void> => { if (SHOTS !== undefined) await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true }); };
async function at(page: Page, s: Served, name: string, wanted: string): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + `desk/#/${name}`);
    await page.waitForSelector(wanted);
}
const row = (name: string): string => `[data-person="${name}"]`;
const status = (page: Page): Promise<string> => page.locator('[role="status"]').first().innerText();
const people = (s: Served): Record<string, string> => Object.fromEntries((s.call('people', 'list', '--store', s.store)[0] as { people: { name: string; role: string; revoked: boolean }[] }).people.map((p) => [p.name, p.revoked ? 'revoked' : p.role]));

/** By the keyboard alone: the form filled and sent; the link is where the focus then is. */
async function invite(page: Page, name: string, role: string): Promise<string> {
    await page.locator('.invite input[name="name"]').focus();
    await page.keyboard.type(name);
    await page.keyboard.press('Tab');
    await page.keyboard.type(role.slice(0, 2));
    await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    await page.waitForSelector('.told');
    return page.evaluate(() => (document.activeElement as HTMLInputElement).value);
}

async function invited(page: Page, s: Served, axe: string): Promise<void> {
    await at(page, s, 'people', row('ola'));
    same(await violations(page, axe), [], 'people: no violation that axe finds');
    ok((await page.locator('.said-first').innerText()).startsWith('3 may come in: 1 as owner, 1 as clerk, 1 as technician'), 'how many may come in, and as what', await page.locator('.said-first').innerText());
    const url = await invite(page, 'nora', 'clerk');
    ok(url.startsWith(s.url + 'enter/'), 'a clerk is let in, and the link is told, selected, where the focus is', url);
    same(await violations(page, axe), [], 'with a link: no violation that axe finds');
    await shot(page, 'people-link');
    const nora = await start(url, { size: DESK, calm: true, bare: true });
    await nora.page.click('#enter');
    await nora.page.waitForURL(/\/desk\//);
    await nora.page.waitForSelector('.list .after', { state: 'attached' });
    const tabs = (p: Page) => p.locator('.top nav a').allInnerTexts();
    ok((await tabs(page)).includes('People') && !(await tabs(nora.page)).some((x) => ['People', 'Shops', 'Bulletins'].includes(x)), 'another browser comes in by it, and sees what a clerk sees', (await tabs(nora.page)).join());
    const again = await start(url, { size: DESK, calm: true, bare: true });
    await again.page.click('#enter');
    await again.page.waitForFunction(() => document.querySelector('#said')?.textContent !== '');
    ok(/\/enter\//.test(again.page.url()), 'the link lets in once');
    await again.close();

    await page.click('[data-act="told"]');
    await page.click(`${row('nora')} [data-act="change"]`);
    await page.locator(`${row('nora')} select`).selectOption('owner');
    await page.click('[data-act="keep-role"]');
    await page.waitForSelector(`${row('nora')} [data-role="owner"]`);
    same([people(s)['nora'], await status(page)], ['owner', 'nora is owner now.'], 'the clerk is made an owner, who is told so');
    await nora.page.reload();
    await nora.page.waitForSelector('.sign-in');
    ok(true, 'their session has ended');
    await page.click(`${row('nora')} [data-act="link"]`);
    await page.waitForSelector('.told');
    await nora.page.goto(await page.locator('.told input').inputValue());
    await nora.page.click('#enter');
    await nora.page.waitForSelector('.top nav a >> text=People');
    ok(true, 'by another link they come in, and see the owner’s pages');

    await nora.page.goto(s.url + 'desk/#/people');
    await nora.page.waitForSelector(row('ola'));
    same(await nora.page.locator(`${row('nora')} [data-act="revoke"]`).count() + (await nora.page.locator(`${row('nora')} [data-act="change"]`).count()), 0, 'nobody is offered to take away their own role');
    await page.focus(`${row('nora')} [data-act="revoke"]`);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.activeElement?.getAttribute('data-act') === 'revoke-yes').catch(() => undefined);
    same(await page.evaluate(() => document.activeElement?.getAttribute('data-act')), 'revoke-yes', 'revoking is asked for once more, and the keyboard is there');
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.activeElement?.getAttribute('data-act') === 'revoke').catch(() => undefined);
    same([people(s)['nora'], await page.evaluate(() => document.activeElement?.getAttribute('data-act'))], ['owner', 'revoke'], 'Escape leaves it');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.activeElement?.getAttribute('data-act') === 'revoke-yes');
    await page.keyboard.press('Enter');
    await page.waitForSelector(`${row('nora')} [data-act="change"]:has-text("Let in again")`);
    same(people(s)['nora'], 'revoked', 'yes revokes');
    await nora.page.click(`${row('ines')} [data-act="link"]`);
    await nora.page.waitForSelector('.sign-in');
    ok(true, 'what they do next finds nobody signed in');
    await nora.close();
    same(await page.locator(`${row('ola')} [data-act="revoke"]`).count(), 0, 'the last owner is not offered for revoking');
    const forced = await page.evaluate(async () => { const me = (await (await fetch('/api/v1/session')).json()) as { csrf: string }; return (await fetch('/api/v1/people/ola', { method: 'DELETE', headers: { 'X-Mendwright-Csrf': me.csrf } })).status; });
    same([forced, people(s)['ola']], [409, 'owner'], 'nor is revoked when the server is asked for it');
}

async function audited(page: Page, s: Served): Promise<void> {
    await at(page, s, 'people', '.audit tbody tr');
    const told = (s.call('people', 'audit', '--limit', '50', '--store', s.store)[0] as { acts: { what: string; who: string | null; at_ms: number }[] }).acts;
    const seen = await page.locator('.audit tbody tr').evaluateAll((rows) => rows.map((r) => [r.getAttribute('data-did'), r.children[0]!.textContent!.replace('\u00a0', ' '), r.children[1]!.textContent]));
    same(seen, told.map((a) => [a.what, new Date(a.at_ms).toISOString().replace('T', ' ').slice(0, 16), a.who ?? 'not told']), `the list of who did what is the command line's, ${told.length} rows of it`);
    await page.click('.kinds a:has-text("revoked")');
    await page.waitForFunction(() => document.querySelectorAll('.audit tbody tr').length === 1);
    same(await page.locator('.audit tbody td').allInnerTexts().then((x) => [x[1], x[2], x[3]]), ['ola', 'revoked', 'nora'], 'by kind, which is a link: who revoked whom');
    await page.click('.kinds a:has-text("overruled")');
    await page.waitForSelector('[data-did="overruled"] a.code');
    await page.click('[data-did="overruled"] a.code');
    await page.waitForSelector('.claim h1');
    ok(page.url().endsWith(`#/${s.overruled}`), 'a word over the rules leads to its claim');
}

/** Who was revoked is forgotten, asked for once more; the acts stay under a number. */
async function forgotten(page: Page, s: Served): Promise<void> {
    await at(page, s, 'people', row('nora'));
    same(await page.locator(`${row('ola')} [data-act="forget"]`).count() + await page.locator(`${row('ines')} [data-act="forget"]`).count(), 0, 'whoever may come in is not offered for forgetting');
    await page.focus(`${row('nora')} [data-act="forget"]`);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.activeElement?.getAttribute('data-act') === 'forget-yes');
    await page.keyboard.press('Enter');
    await page.waitForFunction((r) => document.querySelector(r) === null, row('nora'));
    await page.waitForSelector('[data-did="forgotten"]');
    same([people(s)['nora'], await status(page), (await page.locator('.people').innerText()).includes('nora')], [undefined, 'Forgotten. What they did stays listed, under a number.', false], 'who was revoked is forgotten on the page, and their name is nowhere on it');
}

interface Told { shops: { shop: string; claims: number; rows: { kind: string; rate: string | null; from: string | null }[]; keys: string[] }[] }
const shops = (s: Served): Told => s.call('store', 'shops', '--store', s.store)[0] as Told;
async function isTold(page: Page, s: Served, what: string): Promise<void> {
    const seen = await page.locator('.shops table tbody').evaluateAll((bodies) => bodies.map((b) => ({ shop: b.querySelector('th')!.textContent, rows: [...b.querySelectorAll('[data-act="fill"]')].length, keys: [...b.querySelectorAll('.keys .code')].map((k) => k.getAttribute('title')), claims: Number(b.querySelector('tr')!.children[b.querySelector('tr')!.children.length - 2]!.textContent) })));
    same(seen, shops(s).shops.map((x) => ({ shop: x.shop, rows: x.rows.length, keys: x.keys, claims: x.claims })), what);
}

async function changed(page: Page, s: Served, axe: string): Promise<void> {
    await at(page, s, 'shops', '.shops tbody');
    same(await violations(page, axe), [], 'shops: no violation that axe finds');
    await isTold(page, s, 'shops with their rows, keys and claims are those of `store shops`');
    const first = shops(s).shops.find((x) => x.rows.length > 0)!, other = await enter(s, 'ola');
    await at(other.page, s, 'shops', '.shops tbody');
    await page.click(`[data-shop="${first.shop}"] [data-act="fill"]`);
    same(await page.evaluate(() => (document.activeElement as HTMLInputElement).name), 'rate', 'a row is put into the form, and the rate has the focus');
    await page.fill('[data-form="row"] [name="rate"]', '91.25');
    await page.fill('[data-form="row"] [name="from"]', '2027-01-01');
    await page.keyboard.press('Enter');
    await page.waitForSelector(`[data-shop="${first.shop}"]:has-text("91.25")`);
    ok(shops(s).shops.find((x) => x.shop === first.shop)!.rows.some((r) => r.rate === '91.25' && r.from === '2027-01-01'), 'a rate with the day from which it holds is in the list');
    ok((await page.locator(`[data-shop="${first.shop}"]:has-text("91.25")`).innerText()).includes('not yet'), 'and said not to hold yet');
    await other.page.fill('[data-form="row"] [name="shop"]', 'late-comer');
    await other.page.click('[data-act="put"]');
    await other.page.waitForSelector('[role="alert"]');
    ok((await other.page.locator('[role="alert"]').innerText()).startsWith('Somebody else changed the list') && (await other.page.locator('[data-form="row"] [name="shop"]').inputValue()) === 'late-comer' && !shops(s).shops.some((x) => x.shop === 'late-comer'), 'of two who change it at once the later is told, and keeps what was typed', `${await other.page.locator('[role="alert"]').innerText()} ${await other.page.locator('[data-form="row"] [name="shop"]').inputValue()}`);
    await other.page.waitForSelector(`[data-shop="${first.shop}"]:has-text("91.25")`);
    await other.page.click('[data-act="put"]');
    await other.page.waitForSelector('[data-shop="late-comer"]');
    ok(shops(s).shops.some((x) => x.shop === 'late-comer'), 'and puts it on top of what is there now');
    await other.close();
    await page.fill('[data-form="row"] [name="shop"]', 'x');
    await page.fill('[data-form="row"] [name="rate"]', '6,8');
    await at(page, s, 'shops', '[data-shop="late-comer"]');
    await page.fill('[data-form="row"] [name="shop"]', 'odd');
    await page.fill('[data-form="row"] [name="rate"]', 'much');
    await page.click('[data-act="put"]');
    await page.waitForSelector('[role="alert"]');
    ok(/found "?much|much/.test(await page.locator('[role="alert"]').innerText()), 'what is no money is told, with what was found', await page.locator('[role="alert"]').innerText());
    await page.fill('[data-form="key"] [name="shop"]', 'late-comer');
    await page.fill('[data-form="key"] [name="key"]', 'ab'.repeat(32));
    await page.click('[data-act="key"]');
    await page.waitForSelector('[data-shop="late-comer"] .keys .code');
    await isTold(page, s, 'a key more');
    await page.click('[data-shop="late-comer"] [data-act="key-gone"]');
    await page.click('[data-act="key-gone-yes"]');
    await page.waitForFunction(() => document.querySelector('[data-shop="late-comer"] .keys .code') === null);
    await page.click('[data-shop="late-comer"] [data-act="gone"]');
    await page.click('[data-act="gone-yes"]');
    await page.waitForFunction(() => document.querySelector('[data-shop="late-comer"]') === null);
    await isTold(page, s, 'the key revoked and the row taken out');
    await page.click(`[data-shop] a[href^="#/?shop="]`);
    await page.waitForSelector('.list .after', { state: 'attached' });
    ok(page.url().includes('?shop='), 'the number of claims leads to them');
}

async function looked(s: Served, axe: string): Promise<void> {
    const ways = [['light', DESK, false], ['dark', DESK, true], ['on a phone', PHONE, false], ['at 200 % (half as wide)', { width: 640, height: 450 }, false], ['wide', { width: 1920, height: 1000 }, true]] as const;
    for (const [what, size, dark] of ways) {
        const { page, close } = await enter(s, 'ola', { size, dark });
        for (const [name, wanted] of [['people', '.audit tbody tr'], ['shops', '.shops tbody']] as const) {
            await at(page, s, name, wanted);
            same(await violations(page, axe), [], `${name}: no violation that axe finds: ${what}`);
            ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${name}: nothing makes the page wider than the screen: ${what}`);
            await shot(page, `${name}-${what.replace(/[^a-z]+/g, '-')}`);
        }
        await close();
    }
    for (const name of ['ada', 'ines']) {
        const { page, close } = await enter(s, name);
        await page.goto(s.url + 'desk/#/people');
        await page.waitForSelector('.list .after', { state: 'attached' });
        same(await page.locator('.people').count(), 0, `${name} is not shown people, but claims`);
        await close();
    }
}

await withPages(async (kit) => {
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await served(kit);
    try {
        const ola = await enter(s, 'ola');
        await invited(ola.page, s, axe);
        await audited(ola.page, s);
        await changed(ola.page, s, axe);
        await forgotten(ola.page, s);
        await ola.close();
        await looked(s, axe);
        same(broken, [], 'the content policy was never broken, nothing failed');
    } finally {
        same(await s.stop(), 0, 'the server ends with 0');
    }
});
