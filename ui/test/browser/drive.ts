// drive: Debian's Chromium by way of playwright-core, and a technician who does a whole job by looking at the screen: what is asked
// there is done, whatever the order. Readings come from an invented unit that answers to what is moved on it.
import { existsSync, mkdtempSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { BrowserContext, chromium, Page } from 'playwright-core';
import { Random } from '../tap.mjs';

export const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find((p) => existsSync(p)) ?? null;
const ARGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync',
    '--disable-dev-shm-usage', '--force-color-profile=srgb'];

/** How long a test waits for a state before it says that it does not come. Long, for a machine that others use too may stand still for many
 * seconds; nothing is judged by it. */
export const PATIENCE_MS = 60000;

/** Where browsers keep their things during a test: in memory where there is room, for a write that must reach the disk takes long on a
 * machine that others use too. */
export const SCRATCH = ['/dev/shm', tmpdir()].find((p) => { try { return statfsSync(p).bavail * statfsSync(p).bsize > 1e9; } catch { return false; } }) ?? tmpdir();

export interface Phone { context: BrowserContext; page: Page; folder: string; close(): Promise<void>; kill(): Promise<void> }
/** Every browser that a test opened, so that none outlives it. */
export const opened: Phone[] = [];
export const PHONE = { width: 390, height: 844 }, DESK = { width: 1280, height: 900 };

export async function start(url: string, options: { folder?: string; size?: { width: number; height: number }; dark?: boolean; calm?: boolean; language?: string; bare?: boolean; offline?: boolean; args?: string[]; permissions?: string[] } = {}): Promise<Phone> {
    const folder = options.folder ?? mkdtempSync(join(SCRATCH, 'bench-')), size = options.size ?? PHONE;
    const context = await chromium.launchPersistentContext(folder, {
        executablePath: CHROMIUM!, headless: true, args: [...ARGS, ...(options.args ?? [])], ...(options.permissions === undefined ? {} : { permissions: options.permissions }), viewport: size, locale: options.language ?? 'en-GB', colorScheme: options.dark ? 'dark' : 'light', acceptDownloads: true,
        reducedMotion: options.calm ? 'reduce' : 'no-preference', hasTouch: size.width < 600, serviceWorkers: 'allow',
    });
    context.setDefaultTimeout(PATIENCE_MS);
    const page = context.pages()[0] ?? await context.newPage();
    page.on('pageerror', (e) => console.log(`# page error: ${e.message}`));
    if (options.offline) await context.setOffline(true);
    await page.goto(url);
    if (!options.bare) await page.waitForSelector('main'); // bare: a page of another kind
    const close = async () => { await context.close(); if (options.folder === undefined) rmSync(folder, { recursive: true, force: true }); };
    // As when the battery dies: every process of this browser ends at once, nothing is said to the page.
    const kill = async () => {
        const session = await context.browser()?.newBrowserCDPSession().catch(() => undefined);
        void session;
        const { execFileSync } = await import('node:child_process');
        const pids = execFileSync('sh', ['-c', `grep -lF -- "${folder}" /proc/[0-9]*/cmdline 2>/dev/null | sed 's#/proc/\\([0-9]*\\)/.*#\\1#'`], { encoding: 'utf8' }).trim().split('\n').map(Number).filter((p) => p > 0 && p !== process.pid);
        for (const pid of pids) try { process.kill(pid, 'SIGKILL'); } catch { /* gone already */ }
        await context.close().catch(() => undefined);
        rmSync(join(folder, 'SingletonLock'), { force: true });
        rmSync(join(folder, 'SingletonCookie'), { force: true });
        rmSync(join(folder, 'SingletonSocket'), { force: true });
    };
    const phone = { context, page, folder, close, kill };
    opened.push(phone);
    return phone;
}

/** Invented photos, sharp and light, each with other shapes; drawn by the browser itself. kind: how the picture is spoilt. */
export async function picture(page: Page, seed: number, kind: 'good' | 'dark' | 'blurred' = 'good'): Promise<Buffer> {
    const base64 = await page.evaluate(([n, how]) => {
        const c = document.createElement('canvas');
        c.width = 1600;
        c.height = 1200;
        const g = c.getContext('2d')!;
        let s = Number(n) * 7919 + 13;
        const r = () => { s = (s * 1103515245 + 12345) % 2147483648; return s / 2147483648; };
        g.fillStyle = '#b8b4a8';
        g.fillRect(0, 0, 1600, 1200);
        for (let i = 0; i < 60; i++) {
            const v = Math.floor(r() * 255);
            g.fillStyle = `rgb(${v},${Math.floor(r() * 255)},${v})`;
            g.fillRect(r() * 1600, r() * 1200, 40 + r() * 380, 40 + r() * 300);
        }
        for (let i = 0; i < 900; i++) { g.fillStyle = i % 2 ? '#111' : '#eee'; g.fillRect(r() * 1600, r() * 1200, 14, 3); }
        if (how === 'dark') { g.fillStyle = 'rgba(0,0,0,0.93)'; g.fillRect(0, 0, 1600, 1200); }
        if (how === 'blurred') { const t = document.createElement('canvas'); t.width = 24; t.height = 18; t.getContext('2d')!.drawImage(c, 0, 0, 24, 18); g.imageSmoothingQuality = 'high'; g.drawImage(t, 0, 0, 1600, 1200); }
        return c.toDataURL('image/jpeg', 0.9).split(',')[1]!;
    }, [seed, kind] as const);
    return Buffer.from(base64, 'base64');
}

export interface Unit {
    labels: Record<string, string>; with: Record<string, string>; racks: Record<string, string>; ends: Record<string, number>; pitch: number;
    /** in mm, or in inches where isInches */ gaps: Record<string, number>; isInches?: boolean; effects: Record<string, Record<string, number>>; others: Record<string, string>;
}

/** Both columns in, the aft one leaning: the unit of the demonstration, invented. Lengths in mm. */
export function unitOf(bulletin: { adjusters: { id: string; effects: Record<string, { nano: number }> }[] }): Unit {
    return {
        labels: { fore: 'WD40 2024-W13', aft: 'WD40 2024-W32' }, with: { relief: 'upper' }, racks: { inboard: '1203.5', outboard: '1204' }, ends: { inboard: 41.25, outboard: 34.9 }, pitch: 6.283,
        gaps: { 'fore-upper-in': 61.6, 'fore-upper-out': 61.9, 'fore-lower-in': 58.9, 'fore-lower-out': 59.2, 'aft-upper-in': 58.3, 'aft-upper-out': 58.1, 'aft-lower-in': 55.4, 'aft-lower-out': 55.6 },
        effects: Object.fromEntries(bulletin.adjusters.map((a) => [a.id, Object.fromEntries(Object.entries(a.effects).map(([p, e]) => [p, e.nano / 1e6]))])),
        others: { 'fore-fixing-torque': '24', 'aft-fixing-torque': '23.5', 'supply-load': '13.1', 'current-out': '15.2', 'current-in': '17', 'travel-time': '28.6', cycles: '5', leaks: '0' },
    };
}

/** The ramp of the second example, invented: both hinges in, the ramp hanging to one side; all in inches. */
export function rampOf(bulletin: { adjusters: { id: string; effects: Record<string, { nano: number }> }[] }): Unit {
    return {
        labels: { left: 'LR48 070/2025', right: 'LR48 071/2025' }, with: { pin: 'standard' }, racks: {}, ends: {}, pitch: 0, isInches: true,
        gaps: { 'left-hinge': 2.59375, 'left-free': 2.71875, 'right-hinge': 2.40625, 'right-free': 2.28125, 'left-hinge-down': 2.59375, 'right-hinge-down': 2.40625, latch: 0.125 },
        effects: Object.fromEntries(bulletin.adjusters.map((a) => [a.id, Object.fromEntries(Object.entries(a.effects).map(([p, e]) => [p, e.nano / 25.4e6]))])),
        others: { 'supply-off': '0.02', 'left-pin': '0.749', 'right-pin': '0.75', 'left-cap': '240', 'right-cap': '238', 'left-play': '0.004', 'right-play': '0.006', cycles: '5' },
    };
}

export class Technician {
    photos = 0;
    /** No pointer anywhere: focus, then Enter or the space bar; only the system's own dialogue for a picture is done otherwise. */
    byKeyboard = false;
    constructor(readonly phone: Phone, readonly unit: Unit, readonly random: Random | null = null) {}
    get page(): Page { return this.phone.page; }

    async signIn(): Promise<void> {
        await this.page.fill('[data-field="technician"]', 'ines');
        await this.page.fill('[data-field="shop"]', 'fern-mobile-2');
        await this.page.click('[data-act="save"]');
    }
    async openJob(vin: string, bulletin = 'OV-26-03'): Promise<void> {
        await this.page.click('[data-act="open"]');
        await this.page.waitForSelector('[data-field="technician"], [data-field="vin"]'); // the click is answered before the screen is drawn
        if (await this.page.locator('[data-field="technician"]').count()) await this.signIn();
        await this.page.waitForSelector('[data-field="vin"]');
        await this.page.fill('[data-field="vin"]', vin);
        const option = this.page.locator('option', { hasText: bulletin });
        await option.waitFor({ state: 'attached' });
        await this.page.selectOption('select', (await option.getAttribute('value'))!);
        await this.page.click('[data-act="open-job"]');
        await this.page.waitForSelector('[data-field="label"]');
    }

    private async has(selector: string): Promise<boolean> { return (await this.page.locator(selector).count()) > 0; }
    private async push(selector: string, key = 'Enter'): Promise<void> {
        const target = this.page.locator(selector).first();
        if (!this.byKeyboard) return target.click();
        await target.focus();
        await this.page.keyboard.press(key);
    }
    private press(act: string): Promise<void> { return this.push(`[data-act="${act}"]`); }
    private async type(field: string, value: string): Promise<void> {
        if (!this.byKeyboard) return this.page.fill(`[data-field="${field}"]`, value);
        await this.page.locator(`[data-field="${field}"]`).focus();
        await this.page.keyboard.press('Control+A');
        await this.page.keyboard.type(value);
    }

    /** What the unit shows at a point now, as a person types it. */
    reading(point: string): string {
        const gap = this.unit.gaps[point];
        if (gap === undefined) return this.unit.others[point] ?? '0';
        const n = Math.round(gap * 64);
        return this.unit.isInches ? `${Math.floor(n / 64)} ${n % 64}/64` : gap.toFixed(1);
    }
    private move(adjuster: string, steps: number): void {
        for (const [point, effect] of Object.entries(this.unit.effects[adjuster] ?? {})) if (this.unit.gaps[point] !== undefined) this.unit.gaps[point]! += effect * steps;
    }

    async photo(kind: 'good' | 'dark' | 'blurred' = 'good'): Promise<void> {
        const buffer = await picture(this.page, ++this.photos, kind);
        await this.page.locator('.foot input[type="file"]').first().setInputFiles({ name: 'IMG_0001.jpg', mimeType: 'image/jpeg', buffer });
        await this.page.waitForSelector('[data-advice], [role="alert"]');
    }

    /** Until every write is done and what follows from it is on the screen. */
    async settled(): Promise<void> {
        await this.page.waitForFunction(() => (document.documentElement.dataset['writes'] ?? '0') === '0');
        await this.page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
        await this.page.waitForFunction(() => (document.documentElement.dataset['writes'] ?? '0') === '0');
    }

    private async keep(act: string): Promise<void> {
        await this.press(act);
        await this.page.waitForFunction(() => document.querySelector('[data-advice]') === null);
    }

    /** What this screen is, for telling screens apart. */
    async where(): Promise<string> {
        const hash = decodeURIComponent(new URL(this.page.url()).hash).replace(/^#\/(j\/[^/]+\/)?/, ''), act = await this.page.evaluate(() => document.querySelector('.foot [data-act]')?.getAttribute('data-act') ?? null);
        return `${hash} ${act ?? ''}`;
    }

    /** Does what the screen asks. false: the job is finished. */
    async one(): Promise<boolean> {
        const page = this.page;
        await page.waitForSelector('.foot', { state: 'attached' });
        const before = await page.evaluate(() => location.hash + document.querySelector('main')!.innerHTML.length + document.querySelector('.foot')!.innerHTML);
        const station = decodeURIComponent(new URL(page.url()).hash).split('/').pop()!;
        if (await this.has('[data-act="bag"]')) return false;
        if (await this.has('[data-field="label"]')) { await this.type('label', this.unit.labels[station] ?? ''); await this.press('record'); }
        else if (await this.has('[data-act="finish"]')) { await this.type('minutes', '385'); await this.press('finish'); await page.waitForSelector('[data-act="bag"]'); return false; }
        else if (await this.has('[data-field^="rack-"]')) await this.lengths();
        else if (await this.has('[data-act="take-kit"]')) { await this.tell(); await this.press('take-kit'); }
        else if (await this.has('[data-field^="end-"]')) await this.ends();
        else if (await this.has('[data-act="jumped"]')) { this.unit.ends['outboard']! += this.unit.pitch * Number(await page.evaluate(() => (document.querySelector('.drawing .d-act-text')!.textContent ?? '').replace('\u2212', '-'))); await this.press('jumped'); }
        else if (await this.has('[data-act="moved"]')) await this.moves();
        else if (await this.has('[data-act="take"]')) await this.readings();
        else if (await this.has('[data-act="keep"]')) await this.keep('keep');
        else if (await this.has('.foot input[type="file"]')) { await this.photo(); await this.keep((await this.has('[data-act="keep"]')) ? 'keep' : 'keep-anyway'); }
        else await this.rest();
        await page.waitForFunction((b) => location.hash + document.querySelector('main')!.innerHTML.length + document.querySelector('.foot')!.innerHTML !== b, before);
        await this.settled();
        return true;
    }

    /** What is asked of the old parts. */
    private async tell(): Promise<void> {
        for (const value of Object.values(this.unit.with)) if (await this.has(`[data-value="${value}"][aria-pressed="false"]`)) await this.push(`[data-value="${value}"]`);
    }
    private async lengths(): Promise<void> {
        await this.tell();
        const field = (await this.page.locator('[data-field^="rack-"]').getAttribute('data-field'))!;
        await this.type(field, this.unit.racks[field.slice(5)]!);
        await this.press('take-length');
    }
    private async ends(): Promise<void> {
        const field = (await this.page.locator('[data-field^="end-"]').getAttribute('data-field'))!;
        await this.type(field, this.unit.ends[field.slice(4)]!.toFixed(2));
        await this.press('take-end');
    }
    private async readings(): Promise<void> {
        const field = (await this.page.locator('main input[data-field]').getAttribute('data-field'))!;
        await this.type(field, this.reading(field));
        await this.press('take');
    }
    private async moves(): Promise<void> {
        const list = await this.page.locator('[data-plan]').first().locator('[data-move]').evaluateAll((l) => l.map((e) => [e.getAttribute('data-move')!, Number(e.getAttribute('data-steps'))] as const));
        for (const [adjuster, steps] of list) this.move(adjuster, steps);
        await this.press('moved');
    }
    /** Ticks what is open, each box by its place: asked for as "the first that is open", it would be gone as soon as an earlier press shows. */
    async tick(): Promise<void> {
        const boxes = 'main input[type="checkbox"]', open = () => this.page.evaluate((s) => [...document.querySelectorAll<HTMLInputElement>(s)].findIndex((e) => !e.checked), boxes);
        for (let at = await open(); at >= 0; at = await open()) {
            await this.push(`${boxes} >> nth=${at}`, 'Space');
            await this.settled();
        }
    }

    /** Boxes to tick, parts to judge, then on. */
    private async rest(): Promise<void> {
        if (await this.has('[data-act="have-all"]')) { await this.press('have-all'); await this.settled(); }
        await this.tick();
        const good = this.page.locator('main .choices');
        for (let i = 0; i < await good.count(); i++) await this.push(`main .choices >> nth=${i} >> button >> nth=0`);
        await this.push('.foot .act:not([aria-disabled])');
    }

    /** The whole job from where it stands; look is called on every screen before anything is done on it. */
    async work(look: (where: string) => Promise<void> = async () => undefined, most = 400): Promise<number> {
        for (let n = 0; n < most; n++) {
            await look(await this.where());
            if (!(await this.one())) return n + 1;
        }
        throw new Error(`not finished after ${most} screens: ${await this.where()}`);
    }
}

/** A folder that is gone when the test's process ends. */
export function temporaryFolder(prefix: string, base = tmpdir()): string {
    const path = mkdtempSync(join(base, prefix));
    if (folders.push(path) === 1) process.once('exit', () => folders.forEach((f) => rmSync(f, { recursive: true, force: true })));
    return path;
}
const folders: string[] = [];
/** Until what the page finds out is true. waitForFunction takes a promise for a yes, so what must be awaited is asked again from here. */
export async function until(page: Page, is: () => Promise<boolean>): Promise<void> {
    const end = Date.now() + PATIENCE_MS;
    while (!(await page.evaluate(is))) {
        if (Date.now() > end) throw new Error(`not within ${PATIENCE_MS / 1000} s: ${String(is).slice(0, 200)}`);
        await page.waitForTimeout(50);
    }
}

export function temporary(name: string, content: Buffer | string): string {
    const path = join(temporaryFolder('pages-'), name);
    writeFileSync(path, content);
    return path;
}
