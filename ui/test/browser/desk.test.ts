// The Desk behind the program's own server, over a small invented campaign that was taken in, ruled, overruled once and settled: the list and
// its figures are those of `rule --json`; filters are links; a claim whole; the keyboard alone; no violation that axe finds; a technician sees
// no other shop's things; the content policy holds; the Bench does not grow by it and its service worker leaves it alone.
// usage: desk.test PAGES PROGRAM ROOT      (PAGES: the Bench's; the Desk's own are those in the program)
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { limits, moment, money, NANO, number } from '../../src/desk/show';
import { ok, same } from '../tap.mjs';
import { at, broken, comeBack, enter, euro, focused, ids, REASON, Ruled, rows, Served, served, verdictOf, violations, WORDS } from './desk_kit';
import { DESK, PHONE } from './drive';
import { Kit, withPages } from './kit';

// ---- the tests ----

async function list(s: Served): Promise<string[]> {
    const desk = await enter(s, 'ada'), { page } = desk;
    await page.waitForSelector('table.claims');
    ok(new URL(page.url()).pathname === '/desk/', 'a clerk\u2019s link leads to the Desk');
    ok(/ada\s+clerk/.test((await page.textContent('.who'))!), 'who is signed in');
    const shown = await rows(page), all = shown.map((r) => r[1]!), wanted = new Map(s.rulings.map((r) => [r.claim, r]));
    same([...all].sort(), [...wanted.keys()].sort(), `the list has the ${wanted.size} claims of rule --json`);
    ok(s.rulings.some((r) => r.new) && s.rulings.some((r) => r.overruled) && s.rulings.some((r) => r.paid_minor > 0) && new Set(s.rulings.map(verdictOf)).size === 5, 'among them every verdict, one not ruled, one overruled, some paid');
    const money = (r: Ruled) => (r.new ? ['', ''] : [euro(r.amount_minor), euro(r.paid_minor)]);
    same(shown.map((r) => [r[1], r[0], r[3], r[4], r[6], r[7]]),
        all.map((id) => { const r = wanted.get(id)!; return [id, WORDS[verdictOf(r)], r.vin, r.shop, ...money(r)]; }), 'verdict, VIN, shop, what is to be paid and what is paid: those of rule --json, claim for claim');
    ok((await page.textContent('.invented'))!.startsWith('Invented'), 'that the campaign is invented is said');
    for (const verdict of Object.keys(WORDS)) {
        await page.click(`.filters nav:not(.needs) a[href="#/?verdict=${verdict}"]`);
        await page.waitForFunction((v) => document.querySelector('.filters nav a[aria-current]')?.textContent?.startsWith(v) && [...document.querySelectorAll('.verdict-cell')].every((c) => c.textContent === v), WORDS[verdict]!);
        same((await ids(page)).sort(), s.rulings.filter((r) => verdictOf(r) === verdict).map((r) => r.claim).sort(), `filter ${verdict}: those of that verdict`);
    }
    const one = s.rulings[0]!;
    for (const [name, value] of [['shop', one.shop], ['vin', one.vin]] as const) {
        await at(page, s, `#/?${name}=${value}`);
        same((await ids(page)).sort(), s.rulings.filter((r) => r[name] === value).map((r) => r.claim).sort(), `the address #/?${name}=... is a link to that filter`);
    }
    await at(page, s, `#/?vin=${one.vin.slice(-6)}`);
    same((await ids(page)).sort(), s.rulings.filter((r) => r.vin.endsWith(one.vin.slice(-6))).map((r) => r.claim).sort(), 'the last characters of a VIN find the unit');
    const found = s.rulings.filter((r) => !r.new).flatMap((r) => r.findings.map((f) => f.rule))[0]!;
    await at(page, s, `#/?rule=${found}`);
    same((await ids(page)).sort(), s.rulings.filter((r) => !r.new && r.findings.some((f) => f.rule === found)).map((r) => r.claim).sort(), `#/?rule=${found}: those with that finding`);
    await at(page, s, `#/?after=${all[4]}`);
    same(await ids(page), all.slice(5), 'after: those taken in before that claim');
    await at(page, s, '#/?vin=ZZZFM24T0R0009999');
    ok((await page.textContent('.empty'))!.includes('No claim'), 'a filter that nothing fits says so');
    await desk.close();
    return all;
}

/** The server is asked for four at a time in place of a hundred, so that a small campaign has pages. */
async function pages(s: Served, all: string[]): Promise<void> {
    const desk = await enter(s, 'ola'), { page } = desk, seen: string[] = [];
    ok(new URL(page.url()).pathname === '/desk/', 'an owner\u2019s link leads to the Desk');
    await page.route(/claims\?/, (route) => route.continue({ url: route.request().url().replace(/limit=\d+/, 'limit=4') }));
    await at(page, s, '#/');
    for (let i = 0; i < 10; i++) {
        const here = await ids(page), older = await page.$('[data-act="older"]');
        seen.push(...here);
        if (older === null) break;
        ok(here.length === 4, 'four of them, and a link to older ones');
        await older.click();
        await page.waitForFunction((was) => !document.querySelector(`tr[data-claim="${was}"]`), here[0]!);
    }
    same(seen, all, 'page after page every claim once, the newest first');
    await at(page, s, '#/?verdict=hold');
    same(await ids(page), all.filter((id) => s.rulings.some((r) => r.claim === id && verdictOf(r) === 'hold')).slice(0, 4), 'the newest of a verdict, wherever they stand among all');
    await desk.close();
}

async function claim(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, one = s.rulings.filter((r) => r.verdict === 'hold' && r.findings.length > 0)[0]!;
    await at(page, s, `#/${one.claim}`);
    await page.waitForSelector('article.claim');
    ok((await page.textContent('#claim-title'))!.startsWith('A person must look at it'), 'the verdict first, in words');
    const text = (await page.textContent('.findings'))!;
    same(one.findings.filter((f) => !text.includes(f.message) || (f.cure !== null && !text.includes(f.cure))), [], `its ${one.findings.length} findings and their cures, as rule --json has them`);
    const told = await page.evaluate(async (id) => (await fetch(`/api/v1/claims/${id}`)).json(), one.claim) as any;
    const due = await page.evaluate(() => [...document.querySelectorAll('.claim table')].find((t) => t.querySelector('caption')?.textContent === 'Money')!.querySelectorAll('tbody tr').length);
    same(due, told.rulings[0].awards.length, 'a line of money for each award');
    const gaps = told.readings.filter((r: any) => r.unit === 'nm').map((r: any) => `${(r.value_nano / 1e6).toFixed(1)} mm`), read = (await page.textContent('table.readings'))!.replaceAll('\u00a0', ' ');
    ok(gaps.length > 0 && gaps.every((g: string) => read.includes(g)) && read.includes('56 \u2026 61 mm'), `its ${gaps.length} gaps in millimetres (1 mm is 10^6 nm) with a digit of their gauge, and the bulletin\u2019s limits`);
    for (const img of await page.$$('.photos figure img')) await img.scrollIntoViewIfNeeded();
    await page.waitForFunction(() => [...document.querySelectorAll<HTMLImageElement>('.photos figure img')].every((i) => i.complete));
    const photos = await page.evaluate(() => [...document.querySelectorAll('.photos figure')].map((f) => ({ wide: f.querySelector('img')?.naturalWidth ?? 0, says: f.textContent ?? '' })));
    ok(photos.length === told.photos.length && photos.every((p, i) => p.wide === told.photos[i].width && (told.photos[i].codes === null || p.says.includes(told.photos[i].codes))), `its ${photos.length} photos are shown, with what their codes say`);
    await at(page, s, `#/${s.overruled}`);
    await page.waitForSelector('article.claim');
    const whole = (await page.textContent('article.claim'))!;
    ok(whole.startsWith('All claims') && whole.includes('By a person, over the rules.') && whole.includes(REASON) && /Overruled: Refuse[^:]* by ada: /.test(whole), 'who overruled, and why, stands at the verdict and in the history');
    const paid = s.rulings.find((r) => r.paid_minor > 0)!;
    await at(page, s, `#/${paid.claim}`);
    await page.waitForSelector('article.claim');
    ok((await page.textContent('.verdict'))!.replaceAll('\u00a0', ' ').includes(`${euro(paid.paid_minor)} paid`), 'a paid claim says how much was paid');
    await page.click('[data-act="sign-out"]');
    await page.waitForSelector('.sign-in');
    ok(await page.evaluate(async () => (await fetch('/api/v1/claims')).status) === 401, 'signed out, nothing is told any more');
    await desk.close();
}

async function keyboard(s: Served, all: string[]): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, press = async (...keys: string[]) => { for (const k of keys) await page.keyboard.press(k); };
    const open = async () => { await page.waitForSelector('article.claim'); return page.getAttribute('article.claim', 'data-open'); };
    await page.waitForFunction((id) => document.activeElement?.textContent === id, all[0]!);
    await press('.', '.', ',', 'ArrowDown', 'ArrowDown', 'ArrowUp');
    same(await focused(page), all[2], 'keyboard: point, comma and the arrows move along the list');
    await press('End', '.', 'Home', ',');
    same(await focused(page), all[0], 'keyboard: they stop at its ends');
    await press('.', 'Enter');
    same(await open(), all[1], 'keyboard: Enter opens');
    await page.waitForFunction(() => document.activeElement?.id === 'claim-title');
    await press('.');
    await page.waitForFunction((id) => document.querySelector('article.claim')?.getAttribute('data-open') === id && document.activeElement?.id === 'claim-title', all[2]!);
    ok(true, 'keyboard: with a claim open, the point opens the next, and the focus is at its verdict');
    await press('Escape');
    await page.waitForFunction((id) => document.querySelector('article.claim') === null && document.activeElement?.textContent === id, all[2]!);
    ok(true, 'keyboard: Escape closes it, and the focus is back in its row');
    await press('v');
    await page.keyboard.type(s.rulings[0]!.vin);
    ok((await ids(page)).length === all.length, 'keyboard: letters typed into a field are no commands');
    await press('Enter');
    await page.waitForFunction(() => document.querySelectorAll('tr[data-claim]').length < 3);
    same(await ids(page), [s.rulings[0]!.claim], 'keyboard: v finds by VIN');
    await page.goBack();
    await page.waitForFunction((n) => document.querySelectorAll('tr[data-claim]').length === n, all.length);
    ok(true, 'the browser\u2019s back goes back to all claims');
    ok((await page.textContent('.help'))!.includes('Esc'), 'the keys are told on the page');
    await desk.close();
}

async function access(s: Served, kit: Kit, all: string[]): Promise<void> {
    const source = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8');
    for (const [name, options] of [['wide', { size: DESK }], ['wide, dark', { size: DESK, dark: true }], ['phone', { size: PHONE }], ['narrow, dark', { size: { width: 320, height: 640 }, dark: true }]] as const) {
        const desk = await enter(s, 'ada', options), { page } = desk, found: string[] = [], wide: string[] = [], held = s.rulings.find((r) => r.verdict === 'hold')!.claim;
        const look = async (where: string) => {
            found.push(...(await violations(page, source)).map((v) => `${where}: ${v}`));
            if (await page.evaluate(() => document.scrollingElement!.scrollWidth > innerWidth)) wide.push(where);
        };
        await at(page, s, '#/');
        await look('list');
        for (const id of [held, s.overruled, all[0]!]) {
            await at(page, s, `#/${id}`);
            await page.waitForSelector('article.claim');
            await look(`claim ${id}`);
        }
        await at(page, s, '#/K000000000000');
        await page.waitForSelector('[role="alert"]');
        await look('a claim that is not there');
        await at(page, s, '#/?verdict=pay&vin=ZZZFM24T0R0009999');
        await look('nothing found');
        await page.click('[data-act="sign-out"]');
        await page.waitForSelector('.sign-in');
        await look('nobody');
        same(found, [], `${name}: no violation that axe finds`);
        same(wide, [], `${name}: nothing is wider than the window (WCAG 2.1, 1.4.10)`);
        await desk.close();
    }
}

async function technician(s: Served): Promise<void> {
    const phone = await enter(s, 'ines'), { page } = phone, own = s.rulings[0]!.shop, other = s.rulings.find((r) => r.shop !== own)!;
    ok(new URL(page.url()).pathname === '/bench/', 'a technician\u2019s link leads to the Bench');
    await page.evaluate(() => navigator.serviceWorker.ready);
    const mine = s.rulings.filter((r) => r.shop === own).map((r) => r.claim).sort();
    for (const hash of ['#/', `#/?shop=${other.shop}`]) {
        await at(page, s, hash);
        same((await ids(page)).sort(), mine, `a technician at desk/${hash}: the own shop\u2019s claims alone`);
    }
    const scopes = await page.evaluate(async () => [navigator.serviceWorker.controller, ...(await navigator.serviceWorker.getRegistrations()).map((r) => new URL(r.scope).pathname)]);
    same(scopes, [null, '/bench/'], 'the Bench\u2019s service worker is there and does not catch the Desk');
    await at(page, s, `#/?vin=${other.vin}`);
    ok((await ids(page)).length === 0, 'another shop\u2019s unit is not found');
    await at(page, s, `#/${other.claim}`);
    await page.waitForSelector('.claim [role="alert"]');
    ok(!(await page.content()).includes(other.vin), 'another shop\u2019s claim is answered like one that is not there');
    await phone.close();
    const desk = await enter(s, 'ada'), photo = await desk.page.evaluate(async (id) => ((await (await fetch(`/api/v1/claims/${id}`)).json()) as any).photos[0].sha256, other.claim);
    await desk.close();
    const again = await enter(s, 'ines');
    same(await again.page.evaluate(async (p) => (await fetch(p)).status, `/api/v1/claims/${other.claim}/photos/${photo}`), 404, 'nor is its photo');
    await again.close();
}

/** The session ends while a note is being written. Who was writing comes back by a link, in another tab, and finds the words and the place;
 * somebody else finds nothing of them. */
async function ended(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page, context } = desk, words = 'the shop rang: the picture follows on Monday';
    const note = async () => {
        await page.click('[data-act="note"]');
        await page.fill('input[name="reason"]', words);
        await context.clearCookies();
        await page.click('[data-act="yes"]');
        await page.waitForSelector('.sign-in');
    };
    const back = async (name: string) => {
        await comeBack(desk, s.url + s.link(name));
        await page.waitForSelector('article.claim');
    };
    await at(page, s, `#/${s.overruled}`);
    await page.waitForSelector('article.claim');
    await note();
    ok((await page.textContent('.sign-in'))!.includes('The session of ada has ended') && await page.locator('article.claim').isHidden() && await page.inputValue('.sign-in [name="name"]') === 'ada', 'a session that ends asks who is there, by name, and shows nothing else');
    await back('ada');
    ok(await page.inputValue('input[name="reason"]') === words, 'the same person again: the note is still there, half written');
    await page.click('[data-act="yes"]');
    await page.waitForSelector('.said-done >> text=/./');
    const last = await page.evaluate(async (id) => ((await (await fetch(`/api/v1/claims/${id}`)).json()) as any).rulings.pop(), s.overruled) as any;
    same([last.kind, last.person, last.reason], ['noted', 'ada', words], 'and is entered with the new session');
    await page.click('[data-act="note"]');
    await page.fill('input[name="reason"]', 'half a');
    await page.keyboard.press('Escape');
    ok((await page.textContent('.said-done'))!.startsWith('Left.'), 'a note that is left is not gone');
    await page.click('[data-act="note"]');
    ok(await page.inputValue('input[name="reason"]') === 'half a', 'begun anew, it is there');
    await page.click('[data-act="no"]');
    await page.click('[data-act="refuse"]');
    await page.fill('input[name="reason"]', 'no such unit');
    await page.click('[data-act="no"]');
    const offered: string[] = [];
    for (const deed of ['pay', 'hold', 'refuse']) {
        await page.click(`[data-act="${deed}"]`);
        offered.push(await page.inputValue('input[name="reason"]'));
        await page.click('[data-act="no"]');
    }
    same(offered, ['', '', 'no such unit'], 'a reason that is left is offered for its own verdict alone');
    await note();
    await back('ola');
    same([await page.locator('input[name="reason"]').count(), /ola\s+owner/.test((await page.textContent('.who'))!)], [0, true], 'somebody else: nothing of the first one\u2019s is there');
    await page.click('[data-act="note"]');
    ok(await page.inputValue('input[name="reason"]') === '', 'nor in a note of theirs');
    await desk.close();
}

/** What does not need a browser. */
function still(kit: Kit): void {
    const table = [...readFileSync(join(kit.root, 'src/core/quantity.h'), 'utf8').matchAll(/X\(UNIT_\w+, "([^"]+)", DIM_\w+, (\d+)\)/g)].map((m) => [m[1]!, m[2]!]);
    same(Object.entries(NANO).map(([k, v]) => [k, String(v)]).sort(), table.sort(), 'units are those of the core');
    // One inch is 25.4 mm exactly (international yard and pound agreement, 1959): 63.5 mm are 2 1/2 in, 10 mm are 0.3937 in.
    same([number(63500000n, 'in'), number(-396875n, 'in'), number(10000000n, 'in'), number(58300000n, 'mm'), number(59000000n, 'mm', 1), number(1n, 'mm')], ['2 1/2', '\u22121/64', '\u22480.394', '58.3', '59.0', '\u22480'], 'amounts: fractions, digits, rounding that is said');
    // The yen has no decimals, the Bahraini dinar three (ISO 4217, list one).
    same([money(1234, 'JPY', 0), money(1234, 'BHD', 3), money(-5, 'EUR', 2), money(5, 'EUR', null)].map((m) => m.replace('\u00a0', ' ')), ['1234 JPY', '1.234 BHD', '\u22120.05 EUR', '5 minor units EUR'], 'money by the digits of its currency; unknown ones are not guessed');
    same([limits(null, { nano: 22e9, unit: 'A' }, 'A'), limits({ nano: 0, unit: '1' }, { nano: 0, unit: '1' }, '1')], ['\u2264 22\u00a0A', '0'], 'limits as doc/looks.md writes them');
    same(moment(951782400000).replace('\u00a0', ' '), '2000-02-29 00:00', 'moments in UTC (951782400 s: `date -u -d 2000-02-29 +%s`, GNU coreutils)');
    const tokens = (file: string) => [...readFileSync(join(kit.root, file), 'utf8').matchAll(/--(paper|sheet|ink|soft|rule|fine|band|hatch|act|on-act|stop|metal|s\d): [^;]+/g)].map((m) => m[0]);
    same(tokens('ui/src/desk/style.css'), tokens('ui/src/style.css'), 'the tokens are the Bench\u2019s');
    const bench = readdirSync(kit.pages, { recursive: true } as any) as unknown as string[], desk = join(kit.pages, '../desk'), own = [join(desk, 'index.html'), ...readdirSync(join(desk, 'assets')).map((f) => join(desk, 'assets', f))];
    ok(bench.every((f) => !f.includes('desk')) && bench.filter((f) => /\.(js|html|css)$/.test(f)).every((f) => !readFileSync(join(kit.pages, f), 'utf8').includes('Mendwright Desk')), 'nothing of the Desk is in the Bench');
    // What the page names, and what the scripts that it names import before they run; the rest comes when a page of it is opened.
    const page = readFileSync(own[0]!, 'utf8'), first = own.filter((f) => f.endsWith('.js') && page.includes(f.split('/').pop()!)).map((f) => [...readFileSync(f, 'utf8').matchAll(/(?:import|from)\s*"\.\/([^"]+)"/g)].map((m) => m[1]).join(' ')).join(' ');
    const packed = own.filter((f) => f.endsWith('.html') || page.includes(f.split('/').pop()!) || first.includes(f.split('/').pop()!)).map((f) => gzipSync(readFileSync(f)).length).reduce((a, b) => a + b, 0);
    ok(packed < 60 * 1024, `the Desk's first load is ${Math.ceil(packed / 1024)} KiB compressed (gzip), under 60; studies, practice, lists and the editor come when they are opened`);
    same(own.flatMap((f) => [...readFileSync(f, 'utf8').matchAll(/https?:\/\/[^\s"'`)]+/g)].map((m) => m[0]).filter((u) => !u.startsWith('http://www.w3.org/'))), [], 'it names nothing outside');
}

await withPages(async (kit) => {
    still(kit);
    const s = await served(kit);
    try {
        const all = await list(s);
        await pages(s, all);
        await claim(s);
        await keyboard(s, all);
        await technician(s);
        await access(s, kit, all);
        await ended(s);
        same([...new Set(broken)], [], 'no page error, and nothing breaks the content policy');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
