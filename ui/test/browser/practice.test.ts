// The practice pages, driven by hand: three exercises solved, one failed on purpose; without a network, after a kill, by the keyboard alone; what is said
// for those who do not see the drawing; axe, targets and large text on each state.   usage: practice.test PAGES PROGRAM ROOT
import { readFileSync } from 'node:fs';
import { Page } from 'playwright-core';
import { ok, same } from '../tap.mjs';
import { DESK, PHONE, Phone, SCRATCH, start, temporaryFolder, until } from './drive';
import { Served, served } from './served';
import { small, violations } from './judge';
import { Kit, withPages } from './kit';
import { setsOf } from '../../src/practice/game';

const CORNERS = ['0/1', '1/1', '0/0', '1/0'];

/** Somebody who practises: says what is done, and waits until it is kept and the room stands still. */
class Learner {
    n = 0;
    byKeyboard = false;
    constructor(readonly page: Page) {}
    async push(selector: string): Promise<void> {
        const target = this.page.locator(selector).first();
        if (!this.byKeyboard) return target.click();
        // Tab to it, as somebody without a pointer does.
        await target.waitFor();
        for (let i = 0; i < 120 && !(await target.evaluate((e) => document.activeElement === e)); i++) await this.page.keyboard.press('Tab');
        if (!(await target.evaluate((e) => document.activeElement === e))) throw new Error(`the keyboard does not reach ${selector}`);
        await this.page.keyboard.press('Enter');
    }
    async open(kit: Kit, set: string, id: string, act = 'begin'): Promise<void> {
        await this.page.goto(`${kit.url}#/practice/${set}/${id}`);
        await this.push(`[data-act="${act}"]`);
        await this.page.waitForSelector('.play');
        this.n = 0;
    }
    async done(): Promise<void> {
        this.n++;
        await this.page.waitForSelector(`.play[data-ops="${this.n}"][data-running="false"]`, { timeout: 60000 });
    }
    async pick(group: string, tool?: string): Promise<void> {
        await this.push(`[data-group="${group}"]`);
        if (tool !== undefined) await this.push(`[data-tool="${tool}"]`);
    }
    async run(mm: number): Promise<void> { await this.pick('run'); await this.push(`[data-stop="${mm}"]`); await this.done(); }
    async at(group: string, tool: string, place: string, steps = 0): Promise<void> {
        await this.pick(group, tool);
        for (let i = 0; i < 30; i++) {
            const now = steps === 0 ? 0 : Number(await this.page.getAttribute('[data-amount]', 'data-amount'));
            if (now === steps) break;
            await this.push(`[data-step="${now < steps ? '+' : '-'}"]`);
        }
        await this.push(`[data-place="${place}"]`);
        await this.done();
    }
    async once(group: string, tool: string): Promise<void> { await this.pick(group, tool); await this.push(`[data-do="${tool}"]`); await this.done(); }
    async gaps(): Promise<void> { for (const place of CORNERS) await this.at('read', 'read-gap', place); }
    /** In and out with all gaps read, as every job ends. */
    async proof(): Promise<void> { await this.run(150); await this.gaps(); await this.run(960); await this.gaps(); }
    async finish(answers: string[] = []): Promise<void> {
        await this.push('[data-act="finish"]');
        await this.push('[data-act="finish-now"]');
        for (const choice of answers) { await this.push(`[data-choice="${choice}"]`); await this.page.waitForSelector(`[data-choice="${choice}"][aria-pressed="true"]`); }
        if (answers.length > 0) await this.push('[data-act="answered"]');
        await this.page.waitForSelector('.debrief, [data-choice]');
        if (answers.length > 0) await this.page.waitForSelector('[data-result]:not([data-result=""])');
    }
    async safe(on: boolean): Promise<void> { await this.once('safe', on ? 'support' : 'isolate'); await this.once('safe', on ? 'isolate' : 'support'); }
    async text(selector: string): Promise<string> { return (await this.page.locator(selector).first().textContent()) ?? ''; }
    attr(selector: string, name: string): Promise<string | null> { return this.page.getAttribute(selector, name); }
}

/** What is right, by the file that the pages have. */
async function rightOf(kit: Kit, id: string): Promise<string[]> {
    const sets = setsOf(JSON.parse(readFileSync(`${kit.pages}/practice/sets.json`, 'utf8'))), exercise = sets.flatMap((s) => s.exercises).find((e) => e.id === id)!;
    return exercise.questions.map((q) => q.choices.find((c) => c.right)!.id);
}

async function solved(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, size: PHONE }), page = phone.page, one = new Learner(page);
    await page.click('[data-act="practice"]');
    await page.waitForSelector('[data-exercise="one-tooth"]');
    ok((await page.locator('body').innerText()).includes('no substitute for the maker'), 'from the first screen, with no job and no sign-in, to the exercises; they say that they are no substitute for the maker\u2019s instructions');
    await page.click('[data-exercise="one-tooth"]');
    await one.open(kit, 'first-steps', 'one-tooth');
    const words = await one.text('[data-scene]');
    await one.pick('read', 'count-teeth');
    await one.push('[data-place="0/1"]');
    await page.waitForSelector('[data-refused="not-here"]');
    ok((await one.text('[data-refused]')).includes('outer stop') && (await one.attr('.play', 'data-ops')) === '0' && (await one.attr('[data-clock]', 'data-clock')) === '0', 'what cannot be reached is refused, says what to do first, and costs nothing');
    await one.run(960);
    for (const place of CORNERS) await one.at('read', 'read-end', place);
    const out = await one.text('[data-scene]');
    ok(words.includes('The room is in') && out.includes('out at the stop') && out.includes('rack ends and teeth'), 'the scene is told in words and changes with the room', out);
    same(await page.evaluate(() => document.querySelector('[data-scene]')?.getAttribute('aria-live')), 'polite', 'in a region that is read out');
    await one.safe(true);
    await one.at('read', 'count-teeth', '0/1');
    ok(/\+1 tooth/.test(await one.text('[data-said]')) && (await page.locator('[data-skipped]').count()) === 0, 'the count says one tooth, and with the battery locked no caution is skipped');
    await one.at('move', 'jump', '0/1', -1);
    await page.click('[data-tab="notebook"]');
    ok((await one.attr('[data-reading="read-end/0/1/0"]', 'data-stale')) === 'true', 'the notebook says that readings before the move no longer hold');
    await page.click('[data-tab="tools"]');
    await one.safe(false);
    await one.proof();
    await page.click('[data-tab="advice"]');
    same(await one.attr('[data-advice]', 'data-advice'), 'inside', 'the advice, from the eight fresh gaps: all inside');
    await one.finish(await rightOf(kit, 'one-tooth'));
    await page.waitForSelector('[data-best]');
    same([await one.attr('.debrief', 'data-good'), await one.attr('.debrief', 'data-inside'), await one.attr('[data-best]', 'data-best'), await page.locator('[data-skips]').count()], ['true', 'true', '1', 0], 'one tooth out: found, jumped back, solved in one move as the best plan, no caution skipped');
    ok((await one.text('[data-told="teeth"]')).includes('Rack end'), 'the debrief says which sight tells it');

    await one.open(kit, 'first-steps', 'slow-morning');
    await one.run(960);
    await one.once('read', 'read-time');
    await one.at('read', 'read-volts', '0/0');
    await page.click('[data-tab="notebook"]');
    same(await one.attr('[data-reading="read-volts/0/0/1"]', 'data-verdict'), 'outside', 'too few volts, against their limits on the strip');
    await page.click('[data-tab="tools"]');
    await one.once('renew', 'charge');
    await one.proof();
    await one.finish(await rightOf(kit, 'slow-morning'));
    same(await one.attr('.debrief', 'data-good'), 'true', 'slow on a cold morning: the battery, solved');

    await one.open(kit, 'first-steps', 'half-a-tooth');
    await one.run(960);
    await one.at('read', 'read-end', '1/1');
    await one.at('read', 'read-end', '1/0');
    await one.safe(true);
    await one.at('read', 'count-teeth', '1/1');
    await one.at('renew', 'renew-rack', '1/1');
    await one.safe(false);
    await one.proof();
    await one.finish(await rightOf(kit, 'half-a-tooth'));
    same(await one.attr('.debrief', 'data-good'), 'true', 'half a tooth: the rack was cut wrong, solved by a new one');

    // Failed on purpose, as an exam: the wrong rack, with nothing under the room, and away.
    await page.goto(`${kit.url}#/practice/first-steps/one-tooth`);
    await page.click('[data-act="again"]');
    await one.open(kit, 'first-steps', 'one-tooth', 'begin-exam');
    same([await page.locator('[data-act="undo"]').count(), await page.locator('[data-tab]').count()], [0, 4], 'in an exam nothing is undone');
    await one.run(960);
    await one.at('move', 'jump', '1/1', 2);
    ok((await page.locator('[data-skipped]').count()) === 2, 'what was dangerous is done and told at once: nothing under the room, battery on', await one.text('[data-said]'));
    await one.finish(['none']);
    same([await one.attr('.debrief', 'data-good'), await one.attr('.debrief', 'data-inside'), await page.locator('[data-skips]').getAttribute('data-skips'), await one.attr('[data-answer]', 'data-right')], ['false', 'false', '2', 'false'], 'failed on purpose: not inside, the cautions and the wrong answer are told');
    ok((await page.locator('.inside-rows .stop-text').count()) > 0, 'and what is outside in truth');
    const [download] = await Promise.all([page.waitForEvent('download'), page.click('[data-act="save-result"]')]), saved = JSON.parse(readFileSync(await download.path(), 'utf8')) as any[];
    same(Object.keys(saved[0]).sort(), ['answers', 'began', 'ended', 'exercise', 'hints_used', 'mode', 'ops', 'seed', 'set', 'set_sha256'], 'the result can be saved, as the server takes it');
    same([saved[0].mode, saved[0].exercise, saved[0].ops[0], saved[0].ops[1], saved[0].ops.at(-1)], ['exam', 'one-tooth', [0, 0, 0, 960000000], [11, 1, 1, 2], [19, 0, 0, 0]], 'with every operation');
    await page.goto(`${kit.url}#/practice/results`);
    same(await page.locator('[data-result-row]').count(), 4, 'four results are kept on this phone');
    await phone.close();
}

async function drawn(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, size: DESK }), page = phone.page, one = new Learner(page);
    await page.goto(`${kit.url}#/practice`);
    await page.fill('[data-field="seed"]', '4');
    await page.click('[data-act="draw"]');
    await one.open(kit, 'free', '4-100');
    await one.run(150);
    await one.gaps();
    await one.run(960);
    await one.gaps();
    const gap = await one.text('[data-read="read-gap/0/1/1"]');
    await page.click('[data-act="undo"]');
    await page.waitForSelector('.play[data-ops="9"]');
    one.n = 9;
    await one.at('read', 'read-gap', '1/0');
    same(await one.text('[data-read="read-gap/0/1/1"]'), gap, 'a drawn unit: readings stand at their corners, and undo takes back the last operation alone');
    await page.click('[data-tab="advice"]');
    const moves = await page.locator('[data-move]').evaluateAll((list) => list.map((e) => [Number(e.getAttribute('data-move')), Number(e.getAttribute('data-steps'))]));
    ok(moves.length > 0 || (await one.attr('[data-advice]', 'data-advice')) === 'inside', 'the advice says what to move', JSON.stringify(moves));
    await phone.close();
}

async function kept(kit: Kit): Promise<void> {
    const folder = temporaryFolder('practice-', SCRATCH);
    let phone = await start(kit.url, { calm: true, folder }), one = new Learner(phone.page);
    // Never opened with a network: one load of the first screen, then whatever comes after all else.
    await until(phone.page, () => navigator.serviceWorker.ready.then(() => true));
    await until(phone.page, async () => { for (const name of await caches.keys()) if ((await (await caches.open(name)).keys()).some((r) => r.url.endsWith('practice/sets.json'))) return true; return false; });
    await phone.context.setOffline(true);
    await phone.page.reload();
    await phone.page.click('[data-act="practice"]');
    await phone.page.waitForSelector('[data-exercise="one-tooth"]');
    ok(true, 'after one load of the first screen, the exercises open with the network off');
    await one.open(kit, 'first-steps', 'one-tooth');
    await one.run(960);
    await one.at('read', 'read-end', '0/1');
    const words = await one.text('[data-said]');
    await phone.kill();
    phone = await start(kit.url, { calm: true, folder });
    one = new Learner(phone.page);
    await phone.context.setOffline(true);
    await phone.page.goto(`${kit.url}#/practice/first-steps/one-tooth`);
    await phone.page.waitForSelector('.play[data-ops="2"]');
    same(await one.text('[data-said]'), words, 'the browser killed: everything done stands as it stood, to the last reading');
    await phone.page.goto(`${kit.url}#/practice`);
    await phone.page.click('[data-act="resume"]');
    await phone.page.waitForSelector('.play');
    ok(true, 'and the list leads back to it');
    await phone.close();
}

async function keyboard(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, size: DESK }), one = new Learner(phone.page);
    one.byKeyboard = true;
    await one.push('[data-act="practice"]');
    await one.push('[data-exercise="one-tooth"]');
    await one.push('[data-act="begin"]');
    await phone.page.waitForSelector('.play');
    await one.run(960);
    await one.at('read', 'read-end', '0/1');
    await one.safe(true);
    await one.at('move', 'jump', '0/1', -1);
    await one.safe(false);
    await one.proof();
    await one.finish(await rightOf(kit, 'one-tooth'));
    same(await one.attr('.debrief', 'data-good'), 'true', 'the keyboard alone solves an exercise, from the first screen to the debrief');
    await phone.close();
}

async function moves(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { size: PHONE }), page = phone.page, one = new Learner(page);
    await one.open(kit, 'first-steps', 'one-tooth');
    const at = () => page.evaluate(() => [...document.querySelectorAll('[data-moves="bore/0"], [data-moves="pinion/1"], [data-moves="room"]')].map((e) => e.getAttribute('transform')).join());
    const before = await at();
    await one.pick('run');
    await one.push('[data-stop="960"]');
    await page.waitForSelector('.play[data-running="true"]');
    await page.waitForFunction((was) => [...document.querySelectorAll('[data-moves="bore/0"], [data-moves="pinion/1"], [data-moves="room"]')].map((e) => e.getAttribute('transform')).join() !== was, before);
    const turn = await page.evaluate(() => { const n = (s: string) => Number(/-?[\d.]+/.exec(document.querySelector(s)!.getAttribute('transform')!.replace('translate(0 ', ''))![0]); return [n("[data-moves=\"rack/0\"]") / 3, n('[data-moves="pinion/0"]')]; });
    // A pinion of 18 teeth and module 2 rolls 18 mm a radian: by hand.
    ok(Math.abs(((turn[0]! / 18) * 180 / Math.PI) % 360 - turn[1]!) < 0.05, 'a run moves room, racks and pinions, and rack and pinion stay in mesh', turn.join());
    same(await page.locator('[data-stop="0"]').getAttribute('aria-disabled'), 'true', 'nothing else is done while it runs');
    await page.click('[data-act="to-end"]');
    await one.done();
    ok((await one.text('[data-scene]')).includes('out at the stop'), 'the run can be cut short to its end');
    await page.reload();
    await page.waitForSelector('.play[data-ops="1"][data-running="false"]');
    await phone.close();
}

async function enter(s: Served, name: string, size: { width: number; height: number }): Promise<Phone> {
    const phone = await start(new URL('health', s.url).href, { calm: true, bare: true, size });
    await phone.page.goto(new URL(s.link(name), s.url).href);
    await phone.page.click('#enter');
    await phone.page.waitForURL(/\/(desk|bench)\//);
    return phone;
}

/** Signed in at a server: an exam is opened there, the result goes there, and the server's own account agrees. */
async function handedIn(kit: Kit): Promise<void> {
    const s = await served(kit);
    s.call('people', 'add', 'ada', '--role', 'owner', '--store', s.store);
    const owner = await enter(s, 'ada', DESK), ask = (path: string, body?: unknown) => owner.page.evaluate(async ([to, text]) => {
        const csrf = (await (await fetch('/api/v1/session')).json()).csrf as string, answer = await fetch(to!, text === null ? {} : { method: 'PUT', headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': csrf }, body: text! });
        return { status: answer.status, json: await answer.json() as any };
    }, [path, body === undefined ? null : JSON.stringify(body)] as const);
    const shared = await ask('/api/v1/practice/sets/exam-one', { text: readFileSync(`${kit.root}/examples/practice/exam-one.yaml`, 'utf8') });
    same(shared.status, 200, 'the owner shares an exam');
    const phone = await enter(s, 'ines', PHONE), page = phone.page, one = new Learner(page);
    await page.goto(new URL('bench/#/practice', s.url).href);
    await page.waitForSelector('[data-set="exam-one"] [data-exercise="first-unit"]');
    const told = await page.evaluate(async () => JSON.stringify((await (await fetch('/api/v1/practice/sets')).json()).sets.find((x: any) => x.set === 'exam-one').exercises[0]));
    ok(!told.includes('faults'), 'a technician sees it in the list and is told no fault of it');
    await page.click('[data-set="exam-one"] [data-exercise="first-unit"]');
    await page.click('[data-act="begin-exam"]');
    await page.waitForSelector('.play');
    ok((await page.locator('[data-act="undo"]').count()) === 0, 'it is opened at the server and begins, as an exam');
    await one.run(960);
    await one.finish([]);
    if (await page.locator('[data-choice]').count()) {
        for (const q of new Set(await page.locator('[data-question]').evaluateAll((l) => l.map((e) => e.getAttribute('data-question')!)))) await page.click(`[data-question="${q}"]`);
        await page.waitForSelector('[data-act="answered"]:not([aria-disabled])');
        await page.click('[data-act="answered"]');
    }
    await page.waitForSelector('[data-result="sent"]');
    const seen = (await ask('/api/v1/practice/results')).json, row = seen.results.find((r: any) => r.exercise === 'first-unit');
    ok(row !== undefined && row.mode === 'exam' && row.passed === false && (await one.attr('.debrief', 'data-good')) === 'false', 'the result is sent; the server plays it again and says what the page says: not passed', JSON.stringify(row));
    await phone.close();
    await owner.close();
    same(await s.stop(), 0, 'the server ends with 0');
}

/** axe, targets and large text on each state. */
async function states(kit: Kit, name: string, phone: Phone): Promise<void> {
    const page = phone.page, one = new Learner(page), axe = readFileSync(`${kit.root}/ui/node_modules/axe-core/axe.min.js`, 'utf8'), bad: string[] = [], tiny: string[] = [], wide: string[] = [];
    let n = 0;
    const look = async (where: string) => {
        n++;
        bad.push(...(await violations(page, axe)).map((v) => `${where}: ${v}`));
        tiny.push(...(await small(page)).map((v) => `${where}: ${v}`));
        await page.evaluate(() => { document.documentElement.style.fontSize = '200%'; });
        wide.push(...(await page.evaluate(() => [...document.querySelectorAll('main *, .foot *, .head *')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && e.closest('.visually, .file, svg, .play h1') === null).map((e) => `${e.tagName}.${e.getAttribute('class') ?? ''} ${(e.textContent ?? '').slice(0, 30)}`).slice(0, 3))).map((v) => `${where}: ${v}`));
        await page.evaluate(() => { document.documentElement.style.fontSize = ''; });
    };
    await page.goto(`${kit.url}#/practice`);
    await page.waitForSelector('[data-exercise]');
    await look('list');
    await page.goto(`${kit.url}#/practice/first-steps/one-tooth`);
    await page.waitForSelector('[data-act="begin"]');
    await look('before it begins');
    await one.open(kit, 'first-steps', 'one-tooth');
    for (const group of ['run', 'read', 'safe', 'move', 'renew']) { await one.pick(group); await look(`tools: ${group}`); }
    await one.at('renew', 'ease', '0/1').catch(() => undefined);
    await look('a caution skipped');
    await one.run(150);
    await one.gaps();
    await look('gaps read');
    await one.run(960);
    for (const place of CORNERS) await one.at('read', 'read-end', place);
    if (await page.locator('[data-pick-view="racks"]').isVisible()) for (const view of ['above', 'racks']) { await page.click(`[data-pick-view="${view}"]`); await look(`drawing: ${view}`); }
    await one.at('read', 'count-teeth', '0/1');
    await one.safe(true);
    await one.at('move', 'pack', '0/1', 2);
    await page.click('[data-tab="notebook"]');
    await look('notebook');
    await page.click('[data-tab="advice"]');
    await look('advice');
    await page.click('[data-tab="task"]');
    await page.click('[data-act="hint"]');
    await page.waitForSelector('.hints li');
    await look('task and hint');
    await page.click('[data-tab="tools"]');
    await one.pick('run');
    await one.push('[data-stop="0"]');
    await page.waitForSelector('[data-refused="no-power"]');
    await look('refused');
    await page.click('[data-act="finish"]');
    await look('about to finish');
    await page.click('[data-act="finish-now"]');
    await page.waitForSelector('[data-choice]');
    await look('questions');
    await page.click('[data-choice]');
    await page.waitForSelector('[data-act="answered"]:not([aria-disabled])');
    await page.click('[data-act="answered"]');
    await page.waitForSelector('[data-best]');
    await look('debrief');
    for (const summary of await page.locator('details > summary').all()) await summary.click();
    await look('debrief, all open');
    await page.goto(`${kit.url}#/practice/results`);
    await page.waitForSelector('[data-result-row]');
    await look('results');
    ok(bad.length === 0, `${name}: axe finds nothing on ${n} states`, bad.slice(0, 8).join('\n'));
    ok(tiny.length === 0, `${name}: every target is 48 px or more`, tiny.slice(0, 8).join('\n'));
    ok(wide.length === 0, `${name}: with text at 200 % nothing leaves the screen`, wide.slice(0, 8).join('\n'));
    await phone.close();
}

const only = process.argv[5] ?? '';
await withPages(async (kit) => {
    if (only === '' || only === 'solved') await solved(kit);
    if (only === '' || only === 'drawn') await drawn(kit);
    if (only === '' || only === 'kept') await kept(kit);
    if (only === '' || only === 'keyboard') await keyboard(kit);
    if (only === '' || only === 'server') await handedIn(kit);
    if (only === '' || only === 'moves') await moves(kit);
    if (only === '' || only === 'states') {
        await states(kit, 'phone', await start(kit.url, { calm: true, size: PHONE }));
        await states(kit, 'desk, dark', await start(kit.url, { calm: true, size: DESK, dark: true }));
        await states(kit, 'small phone, French, dark', await start(kit.url, { calm: true, size: { width: 320, height: 640 }, dark: true, language: 'fr-FR' }));
        await states(kit, 'projector, Spanish', await start(kit.url, { calm: true, size: { width: 1280, height: 720 }, language: 'es-ES' }));
    }
}, true);
