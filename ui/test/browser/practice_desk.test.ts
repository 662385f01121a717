// The Desk's page on practice, over the program's own server: without a result; then results of three technicians, whose figures are the server's
// and whose order is by need; a gauge study of what they read and of a class measurement, as `study gauge` gives it; a set with a fault, put
// right, shared, seen by a technician without its truth, withdrawn; who may not see the page; no violation that axe finds, light and dark, wide
// and narrow, at 200 %. usage: practice_desk.test PAGES PROGRAM ROOT
import { mkdtempSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Page } from 'playwright-core';
import { beginServing } from '../serve.mjs';
import { ok, same } from '../tap.mjs';
import { caller } from './call';
import { broken, enter, Served, violations } from './desk_kit';
import { DESK, PHONE } from './drive';
import { Kit, withPages } from './kit';

const SHOTS = process.env['PRACTICE_SHOTS']; // a folder: for looking at the screens
const shot = async (page: Page, name: string): Promise<void> => { if (SHOTS !== undefined) await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true }); };
type Op = (number | string)[];

async function begun(kit: Kit): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-practice-')), store = join(folder, 'store');
    const call = caller(kit.program, [0, 1]);
    call('store', 'init', '--store', store);
    for (const [name, role, shop] of [['ada', 'clerk', ''], ['ola', 'owner', ''], ['ines', 'technician', 'fern-mobile-2'], ['otto', 'technician', 'fern-mobile-2'], ['pia', 'technician', 'elsewhere-9']] as const)
        call('people', 'add', name, '--role', role, ...(shop === '' ? [] : ['--shop', shop]), '--store', store);
    const own = await beginServing(kit.program, store, folder);
    return { url: own.url, store, overruled: '', call, rulings: [], link: (name) => 'enter/' + (call('people', 'link', name, '--store', store)[0] as { link: string }).link, stop: own.stop };
}

async function at(page: Page, s: Served): Promise<void> {
    await page.goto(s.url + 'health');
    await page.goto(s.url + 'desk/#/practice');
    await page.waitForSelector('.practice [data-set="first-steps"]');
}

/** Asks the server as the page's own person. */
const ask = (page: Page, method: string, path: string, body?: unknown): Promise<{ status: number; told: any }> => page.evaluate(async ([m, p, b]) => {
    const who = (await (await fetch('/api/v1/session')).json()) as { csrf: string };
    const answer = await fetch(`/api/v1/practice/${p}`, { method: m!, headers: { 'X-Mendwright-Csrf': who.csrf, ...(b === '' ? {} : { 'Content-Type': 'application/json' }) }, ...(b === '' ? {} : { body: b! }) });
    return { status: answer.status, told: await answer.json().catch(() => null) };
}, [method, path, body === undefined ? '' : JSON.stringify(body)]);

/** Every gap twice, before anything is moved, after the tape was laid on the block n times: so each has noise of their own. */
const readTwice = (n: number): Op[] => {
    const gaps = [0, 1].flatMap(() => [[1, 0, 0, 0], [1, 0, 1, 0], [1, 1, 0, 0], [1, 1, 1, 0]] as Op[]);
    return [...Array.from({ length: n }, () => [7, 0, 0, 0] as Op), [0, 0, 0, 150000000], ...gaps, [0, 0, 0, 960000000], ...gaps];
};

async function handIn(s: Served, kit: Kit, name: string, games: [string, string, Op[] | null, Record<string, string>, number][]): Promise<void> {
    const { page, close } = await enter(s, name), { told } = await ask(page, 'GET', 'sets');
    for (const [set, exercise, ops, answers, reads] of games) {
        const solved = (s.call('practice', 'solve', join(kit.root, 'examples/practice', `${set}.yaml`))[0] as { exercises: { exercise: string; ops: Op[] }[] }).exercises.find((x) => x.exercise === exercise)!.ops;
        const found = told.sets.find((x: any) => x.set === set), seed = found.exercises.find((x: any) => x.id === exercise).seed as number;
        const answer = await ask(page, 'POST', 'results', { set, set_sha256: found.sha256, exercise, mode: 'practice', seed, ops: [...(reads < 0 ? [] : readTwice(reads)), ...(ops ?? solved)], hints_used: ops === null ? 0 : 2, answers, began: '2026-11-25T08:00:00Z', ended: '2026-11-25T09:00:00Z' });
        if (answer.status !== 201) throw new Error(`${name} ${exercise}: ${answer.status} ${JSON.stringify(answer.told)}`);
    }
    await close();
}

const FINISH: Op[] = [['finish', 0, 0, 0]];
const cells = (page: Page, row: string): Promise<string[]> => page.locator(row).first().locator('th,td').allInnerTexts();

async function empty(s: Served, axe: string): Promise<void> {
    const { page, close } = await enter(s, 'ola');
    await at(page, s);
    ok((await page.locator('.said-first').innerText()).startsWith('Nobody has handed in a result yet'), 'without a result the page says so, and where results come from', await page.locator('.said-first').innerText());
    same(await page.locator('[data-set]').evaluateAll((rows) => rows.map((r) => r.getAttribute('data-set'))), ['first-steps', 'hard-days', 'in-the-yard'], 'the sets that come with the program are listed');
    same(await violations(page, axe), [], 'without a result: no violation that axe finds');
    await close();
}

async function figures(s: Served, kit: Kit): Promise<void> {
    await handIn(s, kit, 'ines', [['first-steps', 'to-one-side', null, {}, 0], ['hard-days', 'wrong-kit', null, { 'why-jumps': 'depth' }, -1], ['first-steps', 'one-tooth', null, { 'which-rack': 'fore-upper' }, -1]]);
    await handIn(s, kit, 'otto', [['first-steps', 'to-one-side', FINISH, {}, 1], ['hard-days', 'wrong-kit', FINISH, { 'why-jumps': 'volts' }, -1]]);
    await handIn(s, kit, 'pia', [['first-steps', 'to-one-side', null, {}, 2], ['hard-days', 'wrong-kit', FINISH, { 'why-jumps': 'cut' }, -1]]);
    const { page, close } = await enter(s, 'ola');
    await at(page, s);
    const seen = (await ask(page, 'GET', 'results')).told;
    const said = await page.locator('.said-first').innerText();
    ok(said.includes('7 results of 3 people') && said.includes('Most in need of help: otto, 0 of 2') && said.includes('Hardest: “New parts, same noise”, passed by 1 of 3'), 'what it comes to stands first', said);
    same(await page.locator('[data-person]').evaluateAll((rows) => rows.map((r) => r.getAttribute('data-person'))), ['otto', 'pia', 'ines'], 'people by need');
    const ines = seen.people.find((p: any) => p.person === 'ines');
    same((await cells(page, '[data-person="ines"]')).slice(1, 5), [`${ines.passed} of ${ines.tried}`, `${ines.right} of ${ines.questions}`, String(ines.hints), String(ines.cautions)], 'a person’s figures are the server’s');
    same([ines.passed, ines.tried, ines.right, ines.questions], [3, 3, 2, 2], 'and what was handed in');
    same((await cells(page, '[data-exercise="wrong-kit"]')).slice(1, 3), ['hard', '1 of 3'], 'the hardest exercise');
    same((await cells(page, '[data-question="why-jumps"]')).slice(0, 3), ['Why did it jump?', 'New parts, same noise', '1 of 3'], 'the question that two got wrong, in its own words');
    const apart = [...seen.disagree].sort((a: any, b: any) => b.range_nm - a.range_nm)[0];
    same(await page.locator('[data-point]').count(), 8, 'each gap that three have read');
    ok((await cells(page, '[data-point]'))[1]!.replace('\u00a0', ' ') === `${(apart.range_nm / 1e6).toFixed(1)} mm`, 'the one that differs most comes first', (await cells(page, '[data-point]')).join(' | '));
    const study = await page.locator('[data-study="practised"]').innerText();
    ok(study.includes('3 people, 8 gaps, 2 readings each') && study.includes(seen.gauge.gauge_sd_mm.toFixed(3)), 'the gauge study of what they read', study);
    await shot(page, 'practice');

    const csv = readFileSync(join(kit.root, 'test/serve/class.csv'), 'utf8'), told = s.call('study', 'gauge', join(kit.root, 'test/serve/class.csv'), '--part', 'part', '--operator', 'operator', '--value', 'value')[0] as { repeatability_var: number; percent_study: number };
    await page.click('#prc-gauge summary');
    await page.setInputFiles('[data-form="csv"] input[type="file"]', { name: 'class.csv', mimeType: 'text/csv', buffer: Buffer.from(csv) });
    await page.waitForFunction(() => (document.querySelector('[data-form="csv"] textarea') as HTMLTextAreaElement).value.startsWith('part'));
    await page.click('[data-act="csv"]');
    await page.waitForSelector('[data-study="class"]');
    const own = await page.locator('[data-study="class"]').innerText();
    ok(own.includes(Math.sqrt(told.repeatability_var).toFixed(3)) && own.includes(`${told.percent_study.toFixed(told.percent_study < 9.95 ? 1 : 0)} %`), 'a class measurement, as `study gauge` gives it', own);
    await close();
}

async function shared(s: Served, kit: Kit, axe: string): Promise<void> {
    const exam = readFileSync(join(kit.root, 'examples/practice/exam-one.yaml'), 'utf8'), { page, close } = await enter(s, 'ola');
    await at(page, s);
    await page.click('summary:has-text("Share a set")');
    await page.fill('[data-form="share"] textarea', exam.replace('amount: -4 mm', 'amount: -4'));
    await page.click('[data-act="share"]');
    await page.waitForSelector('.checked .said-faults li');
    const lines = exam.split('\n'), line = lines.findIndex((x) => x.includes('amount: -4 mm')) + 1, column = lines[line - 1]!.indexOf('-4') + 1, fault = await page.locator('.checked .said-faults li').first().innerText();
    ok(fault.startsWith(`Line ${line}, column ${column}`) && fault.includes('expected a number and mm'), 'a set with a fault is not shared; where and what is told', fault);
    same(await page.locator('[data-set="exam-one"]').count(), 0, 'and it is not in the list');
    same(await violations(page, axe), [], 'with a fault: no violation that axe finds');
    await shot(page, 'practice-fault');
    await page.fill('[data-form="share"] textarea', exam);
    await page.locator('[data-act="share"]').focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-set="exam-one"]');
    ok((await page.locator('.practice > [role="status"]').innerText()).startsWith('exam-one is shared'), 'put right, it is shared, by the keyboard', await page.locator('.practice > [role="status"]').innerText());
    const ines = await enter(s, 'ines'), told = (await ask(ines.page, 'GET', 'sets')).told.sets.find((x: any) => x.set === 'exam-one');
    ok(told.exercises.length === 3 && told.exercises[0].faults === undefined && told.exercises[0].seed === undefined, 'a technician has it, without what is wrong');
    await ines.page.goto(s.url + 'health');
    await ines.page.goto(s.url + 'bench/#/practice/exam-one/first-unit');
    await ines.page.waitForSelector('[data-act="begin-exam"]');
    await ines.page.click('[data-act="begin-exam"]');
    await ines.page.waitForSelector('[data-tab]');
    const begun = (await ask(ines.page, 'GET', 'sets')).told.sets.find((x: any) => x.set === 'exam-one').exercises;
    same([begun[0].seed, begun[0].faults.length, begun[1].seed, await ines.page.locator('[data-act="undo"]').count()], [211, 2, undefined, 0], 'on the Bench the exam begins: what it then needs is told, of that exercise alone, and nothing is undone');
    await ines.page.goto(s.url + 'desk/#/practice');
    await ines.page.waitForSelector('.list .after', { state: 'attached' });
    same(await ines.page.locator('.practice').count(), 0, 'and is not shown this page');
    await ines.close();
    await page.click('[data-set="exam-one"] [data-act="withdraw"]');
    await page.click('[data-act="withdraw-yes"]');
    await page.waitForFunction(() => document.querySelector('[data-set="exam-one"]') === null);
    ok(true, 'asked once more, it is withdrawn');
    await close();
}

async function looked(s: Served, axe: string): Promise<void> {
    const ways = [['light', DESK, false], ['dark', DESK, true], ['on a phone', PHONE, false], ['at 200 % (half as wide)', { width: 640, height: 450 }, false], ['wide', { width: 1920, height: 1000 }, true]] as const;
    for (const [what, size, dark] of ways) {
        const { page, close } = await enter(s, 'ola', { size, dark });
        await at(page, s);
        await page.waitForSelector('[data-person]');
        same(await violations(page, axe), [], `no violation that axe finds: ${what}`);
        ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `nothing makes the page wider than the screen: ${what}`);
        await shot(page, `practice-${what.replace(/[^a-z]+/g, '-')}`);
        await close();
    }
}

await withPages(async (kit) => {
    const axe = readFileSync(join(kit.root, 'ui/node_modules/axe-core/axe.min.js'), 'utf8'), s = await begun(kit);
    try {
        await empty(s, axe);
        await figures(s, kit);
        await shared(s, kit, axe);
        await looked(s, axe);
        same(broken, [], 'the content policy was never broken, nothing failed');
    } finally {
        same(await s.stop(), 0, 'the server ends with 0');
    }
});
