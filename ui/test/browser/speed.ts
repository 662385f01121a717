// speed: how long the truing answer takes on the phone page, in Chromium with its processor slowed to a quarter; and from the last
// reading taken to the verdict on the screen. No test: one line of JSON with what it measured (test/bench/phone.py prints it).
// usage: speed PAGES PROGRAM ROOT [ROUNDS]
import { withPages, VIN } from './kit';
import { start, Technician } from './drive';

const rounds = Number(process.argv[5] ?? 9),
    /** Median, 95th percentile (nearest rank) and worst, in ms. */
    told = (list: number[]) => { const l = [...list].sort((a, b) => a - b); return { median: l[l.length >> 1]!, p95: l[Math.ceil(0.95 * l.length) - 1]!, worst: l[l.length - 1]! }; };
await withPages(async (kit) => {
    const phone = await start(kit.url, { calm: true }), tech = new Technician(phone, kit.unit()), page = phone.page;
    await tech.openJob(VIN);
    while ((await page.locator('[data-act="moved"]').count()) === 0) await tech.one();
    const session = await phone.context.newCDPSession(page);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
    const solved: number[] = [], whole: number[] = [];
    for (let i = 0; i < rounds; i++) {
        await page.reload();
        await page.waitForSelector('[data-act="moved"]');
        solved.push(await page.evaluate(() => performance.getEntriesByName('truing').at(-1)!.duration));
        await page.locator('details', { has: page.locator('[data-point]') }).last().locator('summary').click();
        await page.locator('[data-read]').first().click();
        const field = page.locator('main input[data-field]').first();
        await field.fill((61.6 + (i % 40) / 10).toFixed(1));
        whole.push(await page.evaluate(() => new Promise<number>((done) => {
            const start = performance.now(), look = new MutationObserver(() => { if (document.querySelector('[data-act="moved"]') !== null) { look.disconnect(); requestAnimationFrame(() => done(performance.now() - start)); } });
            look.observe(document.body, { childList: true, subtree: true });
            (document.querySelector('[data-act="take"]') as HTMLElement).click();
        })));
    }
    console.log(JSON.stringify({ rounds, answer_ms: told(solved), shown_ms: told(whole) }));
    await phone.close();
});
