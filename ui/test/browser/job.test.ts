// A whole job in Chromium at phone size, from the VIN to the saved bag, and what the program says of that bag; two phones on one job;
// putting right by a later entry; photos that are dark, blurred or seen before; the second example.
// usage: job.test PAGES PROGRAM ROOT
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { ok, same } from '../tap.mjs';
import { Phone, picture, start, Technician, temporary } from './drive';
import { Kit, VIN, withPages } from './kit';
import { readZip } from '../../src/bag/zip';

async function saved(phone: Phone, press: string): Promise<Buffer> {
    const [download] = await Promise.all([phone.page.waitForEvent('download'), phone.page.click(press)]);
    return readFileSync(await download.path());
}
const run = (kit: Kit, ...args: string[]) => JSON.parse(spawnSync(kit.program, [...args, '--json'], { encoding: 'utf8' }).stdout) as any;

async function wholeJob(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    const said: string[] = [];
    await tech.openJob(VIN);
    const screens = await tech.work(async (where) => {
        if (where.endsWith('moved') || where.endsWith('true-done') || where.endsWith('jumped') || where.endsWith('timed')) said.push(`${where}: ${await page.locator('h1').first().innerText()}`);
    });
    ok(screens > 80, `the whole job was ${screens} screens`);
    ok(said.some((s) => s.includes('jumped') && s.includes('Out of step')) && said.some((s) => s.includes('timed') && s.includes('In step')), 'the racks were out of step, jumped, and then in step', said.join('\n'));
    ok(said.some((s) => s.includes('moved') && s.includes('outside')) && said.some((s) => s.includes('true-done') && s.includes('All inside')), 'gaps were outside, adjusters moved, and then all were inside', said.join('\n'));
    const bytes = await saved(phone, '[data-act="bag"]'), path = temporary('bag.zip', bytes);
    const verified = run(kit, 'bag', 'verify', path);
    same([verified.valid, verified.complete, verified.faults.length, verified.signature], [true, true, 0, 'none'], 'the saved bag is valid and complete by the program, and unsigned');
    const files = readZip(new Uint8Array(bytes)), events = files.find((f) => f.path.endsWith('/data/events.json'))!;
    const job = run(kit, 'job', temporary('events.json', Buffer.from(events.bytes)));
    same([job.finished, job.vin, job.findings_in_all], [true, VIN, 0], 'the program replays its events: finished, that VIN, nothing that does not add up');
    same(job.stations.map((s: any) => [s.id, s.scope.verdict, s.kit.kit, s.cuts.map((c: any) => c.mark_nm)]), [['fore', 'in', 'left-upper', [1203500000, 1204000000]], ['aft', 'in', 'right-upper', [1203500000, 1204000000]]], 'both columns in, their kits, their marks');
    const cut = run(kit, 'cut', `${kit.root}/examples/OV-26-03.yaml`, '--station', 'fore', '--with', 'relief=upper', '--rack', 'inboard=1203.5mm', '--rack', 'outboard=1204mm');
    same(job.stations[0].cuts.map((c: any) => [c.rack, c.mark_nm, c.offcut_nm]), cut.racks.map((r: any) => [r.id, r.mark_nm, r.offcut_nm]), 'and they are the command line\u2019s');
    ok(job.stations.every((s: any) => s.photos.length === 6) && job.unit.photos.length === 3, 'every photo that the maker wants is in it');
    const photos = files.filter((f) => f.path.endsWith('.jpg'));
    const looked = photos.map((f) => JSON.parse(spawnSync(kit.program, ['photo', temporary('p.jpg', Buffer.from(f.bytes)), '--json'], { encoding: 'utf8' }).stdout) as any);
    ok(photos.length === 15 && looked.every((p) => p.fault === null && p.taken === null), 'the program opens all 15 photos, and none carries a camera\u2019s data');
    await phone.close();
}

/** Quite another bulletin, in inches: no racks, nothing cut or timed; hinge bushes chosen by what is told of the pin. */
async function ramp(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true, language: 'en-US' }), tech = new Technician(phone, kit.ramp()), page = phone.page, said: string[] = [];
    await tech.openJob('1M8GDM9AXKP042788', 'FR-26-11');
    const screens = await tech.work(async (where) => { if (/moved|true-done/.test(where)) said.push(`${where}: ${await page.locator('h1').first().innerText()}`); });
    ok(screens > 40 && said.some((s) => s.includes('outside')) && said.some((s) => s.includes('All inside')), `the second example, in inches: ${screens} screens, trued in ${said.length} rounds`, said.join('\n'));
    const bytes = await saved(phone, '[data-act="bag"]'), events = readZip(new Uint8Array(bytes)).find((f) => f.path.endsWith('/data/events.json'))!;
    const job = run(kit, 'job', temporary('events.json', Buffer.from(events.bytes)));
    const gap = job.stations[0].readings.find((r: any) => r.point === 'left-hinge').history[0].value_nm;
    same([job.finished, job.stations.map((s: any) => s.kit.kit), gap], [true, ['standard', 'standard'], 65881250], 'finished, with its kits; 2 38/64 in is 65 881 250 nm (2.59375 x 25.4 mm)');
    await phone.close();
}

async function twoPhones(kit: Kit): Promise<void> {
    const a = await start(kit.url, { calm: true }), one = new Technician(a, kit.unit());
    await one.openJob(VIN);
    for (let i = 0; i < 8; i++) await one.one();
    await a.page.goto(kit.url + '#/');
    await a.page.click('a[href^="#/j/"]');
    await a.page.click('a[href$="/all"]');
    await a.page.click('main a[href$="/finish"]');
    const events = await saved(a, '[data-act="share"]');
    kit.state.lost = 1; // the second phone's first look for bulletins: the file itself makes it look again
    const b = await start(kit.url, { calm: true }), two = new Technician(b, kit.unit());
    while ((kit.state.lost ?? 0) > 0) await b.page.waitForTimeout(20);
    await b.page.locator('[data-file="events"]').setInputFiles({ name: 'events.json', mimeType: 'application/json', buffer: events });
    await b.page.waitForSelector('[role="status"] >> text=/Added \\d+/');
    const n = (JSON.parse(events.toString()) as any).events.length;
    ok((await b.page.locator('main').innerText()).includes(`Added ${n} entries`), `the second phone takes the first one\u2019s ${n} entries`);
    await b.page.goto(kit.url + '#/settings');
    await b.page.waitForSelector('[data-field="technician"]');
    await b.page.fill('[data-field="technician"]', 'olu');
    await b.page.fill('[data-field="shop"]', 'fern-mobile-2');
    await b.page.click('[data-act="save"]');
    await b.page.click('a[href^="#/j/"]');
    await two.settled();
    for (let i = 0; i < 4; i++) await two.one();
    await b.page.click('a[href$="/all"]');
    await b.page.click('main a[href$="/finish"]');
    const more = await saved(b, '[data-act="share"]');
    await a.page.goto(kit.url + '#/');
    await a.page.locator('[data-file="events"]').setInputFiles({ name: 'events.json', mimeType: 'application/json', buffer: more });
    await a.page.waitForSelector('[role="status"] >> text=/Added \\d+/');
    const total = (JSON.parse(more.toString()) as any).events as any[];
    ok(total.length > n && new Set(total.map((e) => e.technician)).size === 2, `and gives back ${total.length} entries of two technicians`);
    const text = await a.page.locator('main').innerText();
    const added = total.length - n;
    ok(text.includes(`Added ${added} ${added === 1 ? 'entry' : 'entries'} of another phone.`), 'of which the first takes the new ones only', text);
    await a.close();
    await b.close();
}

async function photos(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await tech.openJob(VIN);
    while (!(await page.locator('.foot input[type="file"]').count())) await tech.one();
    for (const kind of ['dark', 'blurred'] as const) {
        await tech.photo(kind);
        await page.waitForFunction((k) => document.querySelector('[data-advice]')?.getAttribute('data-advice') === k, kind);
        ok((await page.locator('[data-act="keep"]').count()) === 0, `a ${kind} photo is told, and taking it again is offered first`);
    }
    await page.locator('.foot input[type="file"]').first().setInputFiles({ name: 'x.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('no picture at all') });
    await page.waitForSelector('[role="alert"]');
    ok((await page.locator('[role="alert"]').innerText()).includes('cannot be opened'), 'a file that is no picture is told');
    const buffer = await picture(page, 77);
    await page.locator('.foot input[type="file"]').first().setInputFiles({ name: 'a.jpg', mimeType: 'image/jpeg', buffer });
    await page.click('[data-act="keep"]');
    await tech.settled();
    while (!(await page.locator('.foot input[type="file"]').count())) await tech.one();
    await page.locator('.foot input[type="file"]').first().setInputFiles({ name: 'b.jpg', mimeType: 'image/jpeg', buffer });
    await page.waitForSelector('[data-advice="seen"]');
    ok(true, 'a photo that was kept before is told as seen');
    await phone.close();
}

/** The phone has never been here, and the code on the paper is the first that it opens. */
async function link(kit: Kit): Promise<void> {
    kit.state.lost = 1; // bulletins come later, and in the order of their names
    const phone = await start(`${kit.url}#/open/${VIN}/OV-26-03`, { calm: true });
    await phone.page.waitForSelector('option:checked >> text=OV-26-03', { state: 'attached' });
    ok((await phone.page.inputValue('[data-field="vin"]')) === VIN, 'a link that a new phone opens first finds its bulletin, though another one came before it');
    await phone.close();
}

async function puttingRight(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await page.click('[data-act="open"]');
    await tech.signIn();
    await page.goto(`${kit.url}#/open/1M8GDM9AXKP042788/FR-26-11`);
    await page.waitForFunction(() => (document.querySelector('[data-field="vin"]') as HTMLInputElement | null)?.value === '1M8GDM9AXKP042788');
    ok((await page.locator('option:checked').innerText()).startsWith('FR-26-11'), 'a link from the paper opens with its VIN and bulletin');
    await page.goto(`${kit.url}#/open/1M8GDM9AXKP042788/ZZ-99-9`);
    await page.waitForSelector('[data-missing] >> text=ZZ-99-9');
    same([await page.inputValue('select'), await page.locator('[data-act="open-job"][aria-disabled]').count()], ['', 1], 'one whose bulletin is not on this phone says so, and no other is taken in its place');
    await page.selectOption('select', { index: 1 });
    await page.waitForSelector('[data-act="open-job"]:not([aria-disabled])');
    ok((await page.locator('option:checked').innerText()).startsWith('FR-26-11'), 'unless somebody chooses it');
    await page.goto(kit.url + '#/');
    await tech.openJob('ZZZFM24T5R0001235');
    ok(true, 'a VIN with a wrong check digit opens a job where the bulletin only advises');
    for (let i = 0; i < 2; i++) await tech.one();
    await page.click('a[href$="/all"]');
    await page.click('a[href$="/history"]');
    const before = await page.locator('[data-event]').count();
    await page.locator('[data-event="scope_found"] [data-back]').first().click();
    await page.waitForFunction((n) => document.querySelectorAll('[data-event]').length > n, before);
    ok((await page.locator('main').innerText()).includes('taken back'), 'an entry is taken back by a later one, and both are there');
    await page.goto(kit.url + '#/');
    await page.click('a[href^="#/j/"]');
    await page.waitForSelector('[data-field="label"]');
    ok((await page.inputValue('[data-field="label"]')) !== '', 'the job is back at that task, the label as it was typed');
    await phone.close();
}

/** What holds earlier keeps later steps shut, also for whoever goes there by the list. */
async function holding(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await tech.openJob(VIN);
    while (!page.url().includes('step/support-room')) await tech.one();
    await page.click('a[href$="/all"]');
    await page.click('main a[href*="step/remove-column/fore"]');
    await page.waitForSelector('[data-act="go-there"]');
    ok((await page.locator('h1').innerText()) === 'Not yet' && (await page.locator('main').innerText()).includes('Support the room'), 'a column is not taken off before the room is supported');
    await page.click('[data-act="go-there"]');
    await page.waitForSelector('[data-act="read"]');
    ok((await page.locator('main').innerText()).includes('CRUSH') && (await page.locator('[data-act="read"][aria-disabled]').count()) === 1, 'and that step opens only once its cautions are ticked');
    await phone.close();
}

async function disagreeing(kit: Kit): Promise<void> {
    const phone = await start(kit.url, { calm: true }), unit = kit.unit(), tech = new Technician(phone, unit), page = phone.page;
    await tech.openJob(VIN);
    while (!(await page.locator('[data-field^="rack-"]').count())) await tech.one();
    await page.click('[data-value="upper"]');
    for (const [rack, value] of [['inboard', '1230.5'], ['outboard', '1204']] as const) {
        await page.fill(`[data-field="rack-${rack}"]`, value);
        await page.click('[data-act="take-length"]');
        await tech.settled();
    }
    ok((await page.locator('h1').innerText()) === 'They do not agree' && (await page.locator('[data-act="take-kit"]').count()) === 0, 'racks that differ by 26.5 mm ask for a second measurement before a kit is named');
    for (let i = 0; i < 2; i++) {
        const field = (await page.locator('[data-field^="rack-"]').getAttribute('data-field'))!;
        await page.fill(`[data-field="${field}"]`, unit.racks[field.slice(5)]!);
        await page.click('[data-act="take-length"]');
        await tech.settled();
        if (await page.locator('[data-act="take-kit"]').count()) break;
    }
    ok((await page.locator('h1').innerText()) === 'Kit left-upper', 'and once they agree the kit is named');
    await page.click('.units');
    await tech.settled();
    const text = await page.locator('main').innerText();
    ok(text.includes('47.382'), '1203.5 mm is 47.382 in (1203.5 / 25.4 = 47.38189)', text);
    await phone.close();
}

await withPages(async (kit) => {
    await wholeJob(kit);
    await ramp(kit);
    await twoPhones(kit);
    await photos(kit);
    await link(kit);
    await puttingRight(kit);
    await disagreeing(kit);
    await holding(kit);
}, true);
