// Who may see what: every page of the Desk (all of pages.tsx) walked by an owner, a clerk, a technician and somebody who is not signed in: what the
// top line offers, what the page shows or that it is not shown, what may be done on it, and what the server says to each role when the call behind
// it is made all the same. usage: roles.test PAGES PROGRAM ROOT
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { broken, enter, Served, served } from './desk_kit';
import { beginDraft, holdsAll, Role, WALKED, Walked } from './desk_pages';
import { DESK, start } from './drive';
import { Kit, withPages } from './kit';

const ROLES = ['owner', 'clerk', 'technician', 'nobody'] as const;
/** What may be done where: on a page that the role sees, these stand for those roles alone. */
const DOINGS: readonly { title: string; does: string; roles: readonly Role[] }[] = [
    { title: 'claims', does: '[data-act="rule-now"]', roles: ['clerk', 'owner'] },
    { title: 'a claim', does: '.acts button', roles: ['clerk', 'owner'] },
    { title: 'a study', does: '[data-act="keep"]', roles: ['clerk', 'owner'] },
    { title: 'units found', does: '.bring input[type="file"]', roles: ['owner'] },
    { title: 'units found', does: '.give-out a', roles: ['owner'] },
];
/** The calls behind the pages, each with the least role (openapi.json, x-role). GETs only: what changes something is tried by test/serve/audit.py. */
const CALLS: readonly { title: string; path: (s: Served) => string; roles: readonly Role[] }[] = [
    { title: 'claims', path: () => 'claims?limit=5', roles: ['technician', 'clerk', 'owner'] },
    { title: 'a claim', path: (s) => `claims/${s.rulings[0]!.claim}`, roles: ['technician', 'clerk', 'owner'] },
    { title: 'campaign', path: () => 'campaign', roles: ['clerk', 'owner'] },
    { title: 'studies', path: () => 'studies', roles: ['clerk', 'owner'] },
    { title: 'a study', path: () => 'studies', roles: ['clerk', 'owner'] },
    { title: 'bulletins', path: () => 'drafts', roles: ['owner'] },
    { title: 'a draft', path: () => 'drafts/walked', roles: ['owner'] },
    { title: 'units found', path: () => 'export/units.csv', roles: ['owner'] },
    { title: 'people', path: () => 'people', roles: ['owner'] },
    { title: 'people', path: () => 'audit', roles: ['owner'] },
    { title: 'practice', path: () => 'practice/results', roles: ['owner'] },
    { title: 'shops', path: () => 'shops', roles: ['owner'] },
];
const titles = (list: readonly { title: string }[]): string[] => [...new Set(list.map((x) => x.title))];

/** Shown: what is the page's own stands there. Not shown: somebody who is signed in gets the claims in its place, and nobody the sign-in, alone. */
async function see(page: Page, s: Served, role: Role, w: Walked): Promise<void> {
    await page.goto('about:blank');
    await page.goto(`${s.url}desk/#/${w.hash(s)}`);
    const isShown = w.roles.includes(role);
    await page.waitForSelector(isShown ? w.wanted : role === 'nobody' ? '.sign-in' : '.list tr[data-claim]', { timeout: 60000 });
    if (!isShown) same([await page.locator(w.wanted).count(), await page.locator('h1').first().innerText(), await page.locator('.not-yours').count()], [0, role === 'nobody' ? 'Nobody is signed in' : 'Claims', role === 'nobody' ? 0 : 1], `${w.title}: not shown to ${role === 'nobody' ? 'nobody' : `a ${role}`}, who gets ${role === 'nobody' ? 'the way to sign in' : 'the claims, and is told'}`);
    else {
        const does = DOINGS.filter((d) => d.title === w.title), seen = await Promise.all(does.map(async (d) => (await page.locator(d.does).count()) > 0));
        same(seen, does.map((d) => d.roles.includes(role)), `${w.title}: shown to a${role === 'owner' ? 'n owner' : ` ${role}`}${does.length === 0 ? '' : `, with ${does.filter((d) => d.roles.includes(role)).length} of ${does.length} doings`}`);
    }
}

async function walk(page: Page, s: Served, role: Role): Promise<void> {
    await page.goto(`${s.url}desk/#/`);
    await page.waitForSelector(role === 'nobody' ? '.sign-in' : '.list tr[data-claim]', { timeout: 60000 });
    const offered = await page.locator('.top nav a').evaluateAll((all) => all.map((a) => a.getAttribute('href')!.replace('#/', ''))), mine = [...new Set(WALKED.filter((w) => w.roles.includes(role)).map((w) => w.name))];
    // With the claims alone there is nowhere to go, and no line of links.
    same(offered.sort(), mine.length < 2 ? [] : mine.sort(), `the top line offers ${role}: ${mine.length < 2 ? 'nothing' : mine.map((n) => (n === '' ? 'claims' : n)).join(', ')}`);
    for (const w of WALKED) await see(page, s, role, w);
    const told = await page.evaluate(async (paths) => Promise.all(paths.map(async (p) => (await fetch(`/api/v1/${p}`)).status)), CALLS.map((c) => c.path(s)));
    same(told, CALLS.map((c) => (c.roles.includes(role) ? 200 : role === 'nobody' ? 401 : 403)), `asked for it all the same, the server answers ${role}: ${told.join(' ')}`);
}

await withPages(async (kit: Kit) => {
    const s = await served(kit);
    holdsAll(kit.root);
    same([titles(CALLS).sort(), DOINGS.filter((d) => !WALKED.some((w) => w.title === d.title))], [titles(WALKED).sort(), []], 'every page that is walked has the call behind it tried');
    const owner = await enter(s, 'ola');
    await beginDraft(owner.page);
    for (const role of ROLES) {
        const phone = role === 'owner' ? owner : role === 'nobody' ? await start(s.url + 'health', { size: DESK, calm: true, bare: true }) : await enter(s, role === 'clerk' ? 'ada' : 'ines');
        await walk(phone.page, s, role);
        await phone.close();
    }
    // A technician of that shop sees its claims and no other's.
    const ines = await enter(s, 'ines'), shop = s.rulings[0]!.shop;
    const other = s.rulings.find((r) => r.shop !== shop)!;
    same(await ines.page.evaluate(async (c) => (await fetch(`/api/v1/claims/${c}`)).status, other.claim), 404, 'another shop\u2019s claim is not there for a technician');
    await ines.page.goto('about:blank');
    await ines.page.goto(`${s.url}desk/#/${other.claim}`);
    await ines.page.waitForSelector('.claim [role="alert"]', { timeout: 60000 });
    ok(await ines.page.locator('#claim-title').count() === 0, 'nor on the page');
    await ines.close();
    same(broken, [], 'the content policy has nothing to say, and no script failed');
    ok(await s.stop() === 0, 'the server ends with 0');
}, true);
