// A clerk at the Desk, over an invented campaign: an hour of fifty claims by the keyboard alone, as the command line then tells them; two clerks at
// the same claim; a word taken back; many paid at once; who may not; what a claim shows (evidence, photos, difference, strips, cut, time line, words
// of money, letters); names and notes that are meant to do harm; axe, dark, narrow, wide, 200 %.
// usage: desk_rule.test PAGES PROGRAM ROOT
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { minorOf } from '../../src/desk/act';
import { racksOf, standing } from '../../src/desk/did';
import { KEYS } from '../../src/desk/keys';
import { ok, same } from '../tap.mjs';
import { at, broken, enter, euro, EVENING, ids, Ruled, Served, served, violations } from './desk_kit';
import { DESK, PHONE } from './drive';
import { Kit, withPages } from './kit';

const HOUR = 50;
const told = (s: Served, id: string): any => s.call('rule', '--store', s.store, '--claim', id, '--trial', '--at', EVENING)[0];
const whole = (page: Page, id: string): Promise<any> => page.evaluate(async (c) => (await fetch(`/api/v1/claims/${c}`)).json(), id);
async function opened(page: Page): Promise<string> {
    await page.waitForFunction(() => document.activeElement?.id === 'claim-title' && document.querySelector('article.claim')?.getAttribute('data-open') === location.hash.slice(2, 15));
    return (await page.getAttribute('article.claim', 'data-open'))!;
}
/** Until what was done is on the record: the page says so. */
const done = (page: Page, says: RegExp): Promise<unknown> => page.waitForFunction((source) => new RegExp(source).test(document.querySelector('.said-done')?.textContent ?? '') && document.querySelector('.acts form') === null, says.source);

// ---- an hour ----

interface Did { claim: string; did: string; reason: string }

/** Looks at each claim and does by its verdict what a clerk would: pays what is due, notes what waits for the shop, puts a word on what is held. Only
 * the keyboard is touched. */
async function oneClaim(page: Page, i: number, id: string): Promise<Did> {
    const verdict = (await page.textContent('#claim-title'))!, press = (k: string) => page.keyboard.press(k), reason = `looked at it, number ${i}`;
    const type = async (keys: string, says: RegExp, did: string): Promise<Did> => {
        await press(keys);
        await page.waitForFunction(() => (document.activeElement as HTMLInputElement | null)?.name === 'reason');
        await page.keyboard.type(reason);
        await press('Enter');
        await done(page, says);
        return { claim: id, did, reason };
    };
    if (verdict.startsWith('To be paid')) {
        await press('p');
        await page.waitForFunction(() => (document.activeElement as HTMLElement | null)?.dataset['act'] === 'yes');
        await press('Enter');
        await done(page, /^Paid out/);
        return { claim: id, did: 'paid', reason: '' };
    }
    if (verdict.startsWith('A person must')) return i % 3 === 0 ? type('a', /^Ask:/, 'ask') : i % 3 === 1 ? type('r', /^Refuse:/, 'refuse') : type('p', /^Pay:/, 'pay');
    if (verdict.startsWith('Not paid')) return type('h', /^Hold:/, 'hold');
    return type('n', /^Noted/, 'noted');
}

async function hour(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, all = await (async () => { await page.waitForSelector('table.claims'); return ids(page); })();
    const clicks = await page.evaluate(() => { (window as any).clicked = 0; addEventListener('pointerdown', () => (window as any).clicked++, true); return 0; });
    await page.waitForFunction((id) => document.activeElement?.textContent === id, all[0]!);
    await page.keyboard.press('Enter');
    const log: Did[] = [], began = Date.now();
    for (let i = 0; log.length < HOUR && i < all.length; i++) {
        const id = await opened(page);
        if (id !== all[i]) { ok(false, `claim ${i} is the one the list has there`, `${id} ${all[i]}`); break; }
        const isUnruled = (await page.textContent('#claim-title'))!.startsWith('Not ruled');
        if (!isUnruled) log.push(await oneClaim(page, i, id));
        if (i + 1 < all.length) { await page.keyboard.press('.'); await page.waitForFunction((next) => location.hash.includes(next), all[i + 1]!); }
    }
    console.log(`# ${log.length} claims in ${((Date.now() - began) / 1000).toFixed(0)} s, by a machine's fingers`);
    same(log.length, HOUR, `a clerk's hour: ${HOUR} claims by the keyboard alone`);
    same(await page.evaluate(() => (window as any).clicked), clicks, 'nothing was clicked');
    ok(new Set(log.map((d) => d.did)).size >= 5, 'paid, noted, asked, held or refused over the rules', [...new Set(log.map((d) => d.did))].join(' '));
    const wrong: string[] = [];
    for (const d of log) {
        const c = await whole(page, d.claim), last = c.rulings[c.rulings.length - 1], by = told(s, d.claim);
        const kind = d.did === 'paid' ? 'paid' : d.did === 'noted' ? 'noted' : 'overruled';
        if (last.kind !== kind || last.person !== 'ada' || (d.reason !== '' && last.reason !== d.reason) || (kind === 'overruled' && last.verdict !== d.did)) wrong.push(`${d.claim} ${JSON.stringify(last)}`);
        if (by.verdict !== c.verdict || by.amount_minor !== c.amount_minor || by.paid_minor !== c.paid_minor) wrong.push(`${d.claim}: rule --json says ${by.verdict} ${by.amount_minor} ${by.paid_minor}`);
        if (d.did === 'paid' && c.paid_minor !== c.amount_minor) wrong.push(`${d.claim} is not paid`);
    }
    same(wrong, [], 'each is on the record under her name, and rule --json says the same of verdict and money');
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.querySelector('article.claim') === null);
    await at(page, s, '#/?needs=person');
    const held = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).filter((r) => r.claim !== undefined && !r.new && (r.verdict === 'hold' || r.paid_minor > (r.verdict === 'pay' ? r.amount_minor : 0))).map((r) => r.claim).sort();
    same((await ids(page)).sort(), held, 'what then waits for a person is what rule --json holds or has overpaid');
    await desk.close();
}

// ---- two at once, and taking back ----

async function twoClerks(s: Served): Promise<void> {
    const ada = await enter(s, 'ada'), bo = await enter(s, 'bo'), held = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).find((r) => r.verdict === 'ask' && !r.overruled)!.claim;
    for (const desk of [ada, bo]) { await at(desk.page, s, `#/${held}`); await desk.page.waitForSelector('.acts'); }
    const say = async (page: Page, key: string, reason: string) => { await page.focus('#claim-title'); await page.keyboard.press(key); await page.waitForFunction(() => (document.activeElement as HTMLInputElement | null)?.name === 'reason'); await page.keyboard.type(reason); await page.keyboard.press('Enter'); };
    await say(ada.page, 'h', 'I have called the shop');
    await done(ada.page, /^Hold/);
    await say(bo.page, 'r', 'nobody answers there');
    await bo.page.waitForSelector('[data-quicker]');
    const quicker = (await bo.page.textContent('[data-quicker]'))!;
    ok(quicker.includes('overrule') && quicker.includes('by ada') && quicker.includes('I have called the shop') && quicker.includes('Hold'), 'two clerks: the second is shown the first one\u2019s word', quicker);
    same(await bo.page.inputValue('input[name="reason"]'), 'nobody answers there', 'and keeps what was typed');
    const kinds = async () => ((await whole(ada.page, held)).rulings as any[]).filter((r) => r.kind === 'overruled').map((r) => `${r.kind} ${r.person} ${r.reason}`);
    same(await kinds(), ['overruled ada I have called the shop'], 'nothing of the second was written');
    ok((await bo.page.textContent('#claim-title'))!.startsWith('A person must look at it'), 'the page shows the claim as it is now');
    await bo.page.keyboard.press('Enter');
    await done(bo.page, /^Refuse/);
    same(await kinds(), ['overruled ada I have called the shop', 'overruled bo nobody answers there'], 'said again, knowing it: both words are on the record');
    await bo.page.focus('#claim-title');
    await bo.page.keyboard.press('b');
    await bo.page.waitForFunction(() => /before it stood the word of ada/.test(document.querySelector('#act-why')?.textContent ?? ''));
    ok(true, 'a word that replaced another person\u2019s is not taken back unseen');
    await ada.close();
    await bo.close();
}

/** Fingers that wait for nothing: what is typed right behind the key that opens a form is its reason, and the arrows go through the verdicts. */
async function quickFingers(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, held = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).find((r) => r.verdict === 'ask' && !r.overruled)!.claim, reason = 'not banned, only photographed by phone';
    await at(page, s, `#/${held}`);
    await page.waitForSelector('.acts');
    await page.focus('#claim-title');
    const form = () => page.evaluate(() => { const f = document.querySelector<HTMLFormElement>('.acts form'); return f === null ? null : [String(new FormData(f).get('verdict')), String(new FormData(f).get('reason'))]; });
    // All in one go, as a slow machine gets them: nothing is drawn in between.
    const name = await page.evaluate(async () => {
        document.querySelector('#claim-title')!.dispatchEvent(new KeyboardEvent('keydown', { key: 'r', bubbles: true, cancelable: true }));
        for (let i = 0; i < 9; i++) await Promise.resolve();
        return (document.activeElement as HTMLInputElement).name;
    });
    same(name, 'reason', 'the reason has the focus before the next key can come');
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.querySelector('.acts form') === null);
    await page.keyboard.press('r');
    await page.keyboard.type(reason);
    same(await form(), ['refuse', reason], 'what is typed at once behind the key is the reason, and no letter of it a deed');
    await page.keyboard.press('Shift+Tab');
    const arrow = async () => { await page.keyboard.press('ArrowUp'); return [(await form())![0], await page.evaluate(() => (document.activeElement as HTMLInputElement).name)]; };
    same([await arrow(), await arrow()], [['hold', 'verdict'], ['ask', 'verdict']], 'the arrows go from verdict to verdict, and the focus stays with them');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Control+A');
    await page.keyboard.press('Delete');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('#act-why')!.textContent !== '');
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.querySelector('.acts form') === null);
    same(await page.textContent('#act-why'), '', 'what was wrong with a form goes with the form');
    await desk.close();
}

async function takeBack(s: Served): Promise<void> {
    const desk = await enter(s, 'bo'), { page } = desk, asked = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).filter((r) => r.verdict === 'ask' && !r.overruled).pop()!;
    await at(page, s, `#/${asked.claim}`);
    await page.waitForSelector('.acts');
    await page.focus('#claim-title');
    await page.keyboard.press('b');
    await page.waitForFunction(() => /No word of yours/.test(document.querySelector('.said-done')?.textContent ?? ''));
    ok(await page.$('[data-act="take-back"]') === null, 'nothing to take back: no button, and the key says so');
    await page.click('[data-act="refuse"]');
    await page.click('[data-act="yes"]');
    ok((await page.textContent('#act-why'))!.includes('needs a reason'), 'without a reason nothing is said');
    await page.fill('input[name="reason"]', 'a slip of the hand');
    await page.click('[data-act="yes"]');
    await done(page, /^Refuse/);
    ok((await page.textContent('#claim-title'))!.startsWith('Not paid'), 'refused by mistake');
    await page.focus('#claim-title');
    await page.keyboard.press('b');
    await done(page, /taken back/);
    const now = told(s, asked.claim), history = (await page.textContent('article.claim'))!;
    ok((await page.textContent('#claim-title'))!.startsWith('Something is missing') && now.verdict === 'ask' && !now.overruled, 'taken back: the rules\u2019 ruling stands again, on the page and by rule --json');
    ok(history.includes('a slip of the hand') && history.includes('Word taken back'), 'both stay in the history');
    // An amount of one's own.
    await page.focus('#claim-title');
    await page.keyboard.press('p');
    await page.fill('input[name="amount"]', '12.345');
    await page.fill('input[name="reason"]', 'half of it');
    await page.keyboard.press('Enter');
    ok((await page.textContent('#act-why'))!.includes('no amount'), 'an amount with more digits than the currency has is refused');
    await page.fill('input[name="amount"]', '123.45');
    await page.focus('input[name="reason"]');
    await page.keyboard.press('Enter');
    await done(page, /^Pay/);
    ok((await page.textContent('.verdict'))!.replaceAll('\u00a0', ' ').includes('123.45 EUR to be paid') && told(s, asked.claim).amount_minor === 12345, 'an amount of one\u2019s own, in minor units on the record');
    await desk.close();
}

// ---- many at once ----

async function many(s: Served): Promise<void> {
    const desk = await enter(s, 'ola'), { page } = desk;
    await at(page, s, '#/?needs=payment&findings=none');
    const due = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).filter((r) => r.claim !== undefined && !r.new && r.verdict === 'pay' && r.amount_minor > r.paid_minor);
    const clean = due.filter((r) => r.findings.length === 0), others = due.filter((r) => r.findings.length > 0);
    ok(clean.length > 0 && others.length > 0, `${clean.length} are due without a finding, ${others.length} with one`);
    same((await ids(page)).sort(), clean.map((r) => r.claim).sort(), 'the link "Payment, without findings" shows those alone');
    await at(page, s, '#/?needs=payment');
    const sum = euro(clean.reduce((n, r) => n + r.amount_minor - r.paid_minor, 0)), button = (await page.textContent('[data-act="many"]'))!.replaceAll('\u00a0', ' ');
    ok(button.includes(`${clean.length} here`) && button.includes(sum), `the button counts those without a finding alone, and their money: ${sum}`, button);
    // One of them is changed by somebody else after the list was shown.
    s.call('rule', '--store', s.store, '--note', 'wait for the shop', '--claim', clean[0]!.claim, '--person', 'ada');
    await page.click('[data-act="many"]');
    await page.click('[data-act="many-yes"]');
    await page.waitForFunction(() => /not paid/.test(document.querySelector('[data-many] [role="status"]')?.textContent ?? ''));
    same((await page.textContent('[data-many] [role="status"]'))!.startsWith(`${clean.length - 1} paid. 1 not paid`), true, 'all but the one that was changed meanwhile are paid, and that is said');
    const after = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).filter((r) => r.claim !== undefined);
    same(clean.slice(1).filter((r) => after.find((x) => x.claim === r.claim)!.paid_minor !== r.amount_minor), [], 'by rule --json they are paid in full');
    same([clean[0]!, ...others].filter((r) => after.find((x) => x.claim === r.claim)!.paid_minor !== r.paid_minor), [], 'the changed one and those with findings are as they were');
    const refused = await page.evaluate(async (id) => {
        const session = await (await fetch('/api/v1/session')).json(), claim = await fetch(`/api/v1/claims/${id}`);
        return (await (await fetch('/api/v1/payments', { method: 'POST', headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': session.csrf }, body: JSON.stringify({ claims: [{ claim: id, etag: claim.headers.get('ETag')!.replaceAll('"', '') }] }) })).json()).claims[0].result;
    }, others[0]!.claim);
    same(refused, 'findings', 'one with a finding is not paid so, whatever asks for it');
    await desk.close();
}

// ---- what a claim shows ----

async function shown(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, seen = s.rulings.find((r) => r.findings.some((f) => f.rule === 'photo-seen'))!;
    await at(page, s, `#/${seen.claim}`);
    await page.waitForSelector('[data-alike] canvas');
    await page.waitForFunction(() => /differs|byte for byte/.test(document.querySelector('[data-alike] [role="status"]')?.textContent ?? ''));
    const c = await whole(page, seen.claim), f = c.rulings.filter((r: any) => r.kind === 'ruled').pop().findings.find((x: any) => x.rule === 'photo-seen'), other = await whole(page, f.other);
    const srcs = await page.evaluate(() => [...document.querySelectorAll<HTMLImageElement>('[data-alike] img')].map((i) => new URL(i.src).pathname));
    same(srcs, [`/api/v1/claims/${seen.claim}/photos/${c.photos.find((p: any) => p.name === f.what).sha256}`, `/api/v1/claims/${f.other}/photos/${other.photos.find((p: any) => p.name === f.other_what).sha256}`], 'seen before: this photo and the earlier one, side by side');
    ok(s.rulings.find((r) => r.claim === seen.claim)!.findings.some((x) => x.message.includes(f.other)), 'the earlier claim is the one that the finding names');
    const light = await page.evaluate(() => { const k = document.querySelector<HTMLCanvasElement>('[data-alike] canvas')!, d = k.getContext('2d')!.getImageData(0, 0, k.width, k.height).data; let n = 0; for (let i = 0; i < d.length; i += 4) n += d[i]!; return n / (d.length / 4); });
    // Two pictures that are alike differ little: nearly white. The same canvas over two that are not: test below.
    ok(light > 200, `their difference is nearly white: ${light.toFixed(0)} of 255`);
    await page.click('.evidence a >> text="the photo"');
    ok(await page.evaluate(() => document.activeElement?.classList.contains('picture') ?? false), 'evidence leads to the photo');
    await page.focus('#claim-title');
    await page.keyboard.press('o');
    await page.waitForSelector('dialog.viewer[open]');
    ok((await page.textContent('dialog.viewer .facts'))!.includes(f.what), 'the key opens the photo in question');
    const view = () => page.evaluate(() => { const d = document.querySelector<HTMLElement>('dialog.viewer')!, i = d.querySelector('img')!; return [d.dataset['zoom'], d.dataset['turn'], getComputedStyle(i).transform, i.getBoundingClientRect().width]; });
    const before = await view();
    await page.keyboard.press('+');
    await page.keyboard.press('t');
    const after = await view();
    ok(before[0] === '1' && after[0] === '2' && after[1] === '90' && after[2] !== before[2] && after[2] === 'matrix(0, 1, -1, 0, 0, 0)', 'larger and turned by a quarter, by the keyboard', JSON.stringify([before, after]));
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.querySelector('dialog.viewer') === null);
    same(await page.getAttribute('article.claim', 'data-open'), seen.claim, 'Escape closes the photo and leaves the claim open');
    // Readings: the page's verdict, band and wedge are the server's.
    const judged = c.readings.filter((r: any) => r.verdict !== null && r.phase === 'after');
    ok(judged.length > 0 && (await page.textContent('table.readings'))!.includes('inside'), `${judged.length} readings are judged by the server`);
    const gap = judged.find((r: any) => r.unit === 'nm' && r.low_nano !== null && r.high_nano !== null), strip = await page.evaluate((id) => {
        const row = document.getElementById(`point-${id}`)!, edges = [...row.querySelectorAll('.edge')].map((e) => Number(/^M([\d.]+)/.exec(e.getAttribute('d')!)![1])), guards = [...row.querySelectorAll('.guard')].map((g) => Number(g.getAttribute('width')));
        return { edges, guards, wedge: Number(/^M([\d.]+)/.exec(row.querySelector('.wedge')!.getAttribute('d')!)![1]) };
    }, gap.point);
    const scale = (strip.edges[1]! - strip.edges[0]!) / (gap.high_nano - gap.low_nano), near = (a: number, b: number) => Math.abs(a - b) < 0.01;
    ok(near(strip.wedge, strip.edges[0]! + (gap.value_nano - gap.low_nano) * scale), 'the wedge stands to scale between its limits');
    ok(strip.guards.length === 2 && near(strip.guards[0]!, (gap.guarded_low_nano - gap.low_nano) * scale) && near(strip.guards[1]!, (gap.high_nano - gap.guarded_high_nano) * scale), 'its guard bands are as wide as the server says, to scale');
    // z(0.95) = 1.6449 (table of the normal distribution); the guard band is z(1 - risk) u, rounded up to whole nanometres (JCGM 106:2012, 8.3.2).
    const risk = (await page.evaluate(async () => (await fetch('/api/v1/bulletins/OV-26-03/2')).json()) as any).decision.risk;
    ok(risk === 0.05 && Math.abs(gap.guard_nano - 1.6448536 * gap.u_nano) < 2, 'the guard band is 1.6449 standard uncertainties for a risk of 5 %');
    // Cut, time line, money, letters.
    const racks = await page.evaluate(() => document.querySelectorAll('[data-racks] tbody tr').length), events = (await page.evaluate(async (id) => (await fetch(`/api/v1/claims/${id}/events`)).json(), seen.claim) as any).events;
    same(racks, new Set(events.filter((e: any) => e.type === 'rack_measured' || e.type === 'cut').map((e: any) => `${e.station} ${e.payload.rack}`)).size, 'a row for each rack that was measured or cut');
    await page.click('[data-time-line] summary');
    same(await page.evaluate(() => document.querySelectorAll('.events tbody tr').length), events.length, `the time line has all ${events.length} events`);
    const paid = s.rulings.find((r) => r.verdict === 'pay' && !r.overruled && !r.new)!, full = told(s, paid.claim);
    await at(page, s, `#/${paid.claim}`);
    await page.waitForSelector('table.money');
    const money = (await page.textContent('table.money'))!.replaceAll('\u00a0', ' ');
    same(full.lines.filter((l: any) => l.paid_minor > 0 && (!money.includes(l.what) || !money.includes(euro(l.paid_minor)))), [], 'every line of money with the words and the amount of rule --json');
    const letter = await page.evaluate(async (id) => { const a = await fetch(`/api/v1/claims/${id}/letter?as=text&language=en`); return [a.headers.get('Content-Type'), await a.text()]; }, seen.claim);
    same(letter[1], s.call('rule', '--store', s.store, '--claim', seen.claim, '--letter', '--language', 'en')[0].text, 'the letter is that of the command line, word for word');
    ok(!letter[1]!.includes('Desk:'), 'what is meant for the desk is not in it');
    await desk.close();
}

// ---- harm ----

const EVIL = '"><img src=x onerror="document.body.dataset.harmed=1"><script>document.body.dataset.harmed=1</script>{{7*7}}\u202e';

async function harm(s: Served): Promise<void> {
    const desk = await enter(s, 'ada'), { page } = desk, one = (s.call('rule', '--store', s.store, '--trial', '--at', EVENING) as Ruled[]).find((r) => r.verdict === 'ask')!.claim;
    await at(page, s, `#/${one}`);
    await page.waitForSelector('.acts');
    await page.focus('#claim-title');
    await page.keyboard.press('n');
    await page.fill('input[name="reason"]', EVIL);
    await page.keyboard.press('Enter');
    await done(page, /^Noted/);
    ok((await page.textContent('article.claim'))!.includes('<script>document.body') && await page.evaluate(() => document.body.dataset['harmed']) === undefined, 'a note that holds markup is shown as it was typed, and does nothing');
    let why = '';
    try { s.call('people', 'add', '<img src=x onerror=alert(1)>', '--role', 'clerk', '--store', s.store); } catch (e) { why = String(e); }
    ok(why.includes('letters, digits'), 'a name that holds markup is not let in at all');
    for (const hash of [`#/?shop=${encodeURIComponent(EVIL)}`, `#/?rule=${encodeURIComponent(EVIL)}`, `#/?bulletin=${encodeURIComponent(EVIL)}`, '#/?needs=%3Cscript%3E', '#/?verdict=__proto__', '#/__proto__', '#/constructor']) {
        await page.goto(s.url + 'health');
        await page.goto(s.url + 'desk/' + hash);
        await page.waitForSelector('.list, [role="alert"]');
    }
    same(await page.evaluate(() => document.body.dataset['harmed']), undefined, 'nor does an address that holds it');
    await desk.close();
}

// ---- who may not ----

async function mayNot(s: Served): Promise<void> {
    const tech = await enter(s, 'ines'), { page } = tech, own = s.rulings[0]!;
    await at(page, s, `#/${own.claim}`);
    await page.waitForSelector('article.claim');
    ok(await page.$('.acts') === null && await page.$('[data-act="many"]') === null && await page.$('[data-alike]') === null, 'a technician sees the claim and no way to rule on it');
    for (const key of KEYS.map((k) => k.key)) { await page.focus('#claim-title'); await page.keyboard.press(key); await page.keyboard.press('Escape'); await at(page, s, `#/${own.claim}`); await page.waitForSelector('article.claim'); }
    const other = s.rulings.find((r) => r.shop !== own.shop)!;
    const statuses = await page.evaluate(async ([mine, theirs]) => {
        const csrf = (await (await fetch('/api/v1/session')).json()).csrf, tag = (await fetch(`/api/v1/claims/${mine}`)).headers.get('ETag')!, out: number[] = [];
        for (const id of [mine, theirs]) for (const [method, what, body] of [['POST', 'ruling', { verdict: 'pay', reason: 'x' }], ['DELETE', 'ruling', null], ['POST', 'payment', null], ['POST', 'note', { text: 'x' }]] as const)
            out.push((await fetch(`/api/v1/claims/${id}/${what}`, { method, headers: { 'X-Mendwright-Csrf': csrf, 'If-Match': tag, ...(body === null ? {} : { 'Content-Type': 'application/json' }) }, ...(body === null ? {} : { body: JSON.stringify(body) }) })).status);
        out.push((await fetch('/api/v1/payments', { method: 'POST', headers: { 'X-Mendwright-Csrf': csrf, 'Content-Type': 'application/json' }, body: JSON.stringify({ claims: [{ claim: mine, etag: tag.replaceAll('"', '') }] }) })).status);
        out.push((await fetch(`/api/v1/claims/${theirs}/letter`)).status, (await fetch(`/api/v1/claims/${theirs}/events`)).status, (await fetch(`/api/v1/claims/${mine}/letter`)).status);
        return out;
    }, [own.claim, other.claim] as const);
    same(statuses, [403, 403, 403, 403, 403, 403, 403, 403, 403, 404, 404, 200], 'nor does the server let them: not on their own claims, not on another shop\u2019s; the letter is their own shop\u2019s alone');
    await tech.close();
}

// ---- looks ----

async function access(s: Served, kit: Kit): Promise<void> {
    const source = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), seen = s.rulings.find((r) => r.findings.some((f) => f.rule === 'photo-seen'))!.claim;
    const looks = [['light', { size: DESK }], ['dark', { size: DESK, dark: true }], ['phone', { size: PHONE }], ['200 % zoom (640 by 450 points)', { size: { width: 640, height: 450 } }], ['very wide', { size: { width: 2560, height: 1440 } }]] as const;
    for (const [name, options] of looks) {
        const desk = await enter(s, 'ada', options), { page } = desk, found: string[] = [], wide: string[] = [];
        const look = async (where: string) => {
            found.push(...(await violations(page, source)).map((v) => `${where}: ${v}`));
            if (await page.evaluate(() => document.scrollingElement!.scrollWidth > innerWidth)) wide.push(where);
        };
        await at(page, s, '#/?needs=payment');
        await look('queue');
        if (await page.$('[data-act="many"]') !== null) { await page.click('[data-act="many"]'); await look('many'); await page.click('[data-act="many-no"]'); }
        await at(page, s, `#/${seen}`);
        await page.waitForSelector('[data-alike] canvas');
        await page.waitForSelector('[data-time-line]');
        await page.click('[data-time-line] summary');
        await look('claim');
        for (const key of ['p', 'n']) {
            await page.focus('#claim-title');
            await page.keyboard.press(key);
            await page.waitForSelector('.acts form');
            await look(`form of ${key}`);
            await page.click('[data-act="no"]');
        }
        await page.focus('#claim-title');
        await page.keyboard.press('o');
        await page.waitForSelector('dialog.viewer[open]');
        await look('photo');
        await page.keyboard.press('Escape');
        await page.waitForFunction(() => document.querySelector('dialog.viewer') === null);
        await page.focus('#claim-title');
        await page.keyboard.press('?');
        await page.waitForSelector('dialog.keys[open]');
        same(await page.evaluate(() => [...document.querySelectorAll('dialog.keys dt kbd')].map((k) => k.textContent)).then((shownKeys) => KEYS.map((k) => k.key).filter((k) => !shownKeys.includes(k))), [], `${name}: every key is in the list of keys`);
        await look('keys');
        same(found, [], `${name}: no violation that axe finds`);
        same(wide, [], `${name}: nothing is wider than the window (WCAG 2.1, 1.4.4, 1.4.10)`);
        await desk.close();
    }
}

/** What does not need a browser. */
function still(): void {
    // The euro has two decimals, the yen none, the Bahraini dinar three (ISO 4217, list one).
    same([minorOf('493.01', 2), minorOf('493', 2), minorOf('4,5', 2), minorOf('1234', 0), minorOf('1.234', 3), minorOf('', 2), minorOf(' 7 ', 2)], [49301, 49300, 450, 1234, 1234, null, 700], 'amounts as they are typed');
    same([minorOf('1.005', 2), minorOf('-1', 2), minorOf('1e3', 2), minorOf('1 000', 2), minorOf('x', 2), minorOf('5', null), minorOf('1.2.3', 2)].map((n) => Number.isNaN(n)), Array(7).fill(true), 'what is no amount, and where digits are not known');
    const e = (id: string, type: string, payload: Record<string, unknown>, corrects?: string) => ({ id, type, at_ms: 0, technician: 'x', shop: 'y', station: 'fore', ...(corrects === undefined ? {} : { corrects }), payload });
    const list = [e('1', 'rack_measured', { rack: 'a', length_nm: 1e9 }), e('2', 'rack_measured', { rack: 'a', length_nm: 1.1e9 }, '1'), e('3', 'moved', { target: 'rack', name: 'a', steps: 2 }), e('4', 'moved', { target: 'rack', name: 'a', steps: -3 }), e('5', 'moved', { target: 'adjuster', name: 'a', steps: 9 })];
    same(standing(list).map((x) => x.id), ['2', '3', '4', '5'], 'what was put right stands in the other\u2019s place');
    same(racksOf(list).map((r) => [r.rack, r.measured.map((m) => m.replaceAll('\u00a0', ' ')), r.jumps]), [['a', ['1100.0 mm'], -1]], 'a rack: what stands as measured, and its teeth in sum');
    same(new Set(KEYS.map((k) => k.key)).size, KEYS.length, 'no key does two things');
}

await withPages(async (kit) => {
    still();
    const s = await served(kit, '170', '11', false);
    try {
        s.call('people', 'add', 'bo', '--role', 'clerk', '--store', s.store);
        await shown(s);
        await mayNot(s);
        await access(s, kit);
        await hour(s);
        await quickFingers(s);
        await twoClerks(s);
        await takeBack(s);
        await many(s);
        await harm(s);
        same(s.call('store', 'verify', '--store', s.store)[0].ok, true, 'the store is sound after all of it');
        // A 412 and a 409 are answers that were asked for; a page error or a broken policy is not.
        same([...new Set(broken)], [], 'no page error, and nothing breaks the content policy');
    } finally {
        ok(await s.stop() === 0, 'the server ends with 0');
    }
});
