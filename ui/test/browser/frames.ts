// frames: how many frames a second the practice pages show while the room runs, in Chromium with its processor slowed to a quarter: a whole run out at its
// true speed. No test: one line of JSON with what it measured (test/bench/phone.py prints it).   usage: frames PAGES PROGRAM ROOT [phone|projector]
import { withPages } from './kit';
import { PHONE, start } from './drive';

const size = process.argv[5] === 'projector' ? { width: 1280, height: 720 } : PHONE;
await withPages(async (kit) => {
    const phone = await start(`${kit.url}#/practice/first-steps/one-tooth`, { size }), page = phone.page;
    await page.click('[data-act="begin"]');
    await page.waitForSelector('.play');
    const session = await phone.context.newCDPSession(page);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
    await page.evaluate(() => {
        const gaps: number[] = [];
        let was = 0;
        const step = (now: number) => { if (document.querySelector('.play')?.getAttribute('data-running') === 'true') { if (was > 0) gaps.push(now - was); was = now; } else was = 0; requestAnimationFrame(step); };
        requestAnimationFrame(step);
        (window as any).gaps = gaps;
    });
    await page.click('[data-stop="960"]');
    await page.waitForSelector('.play[data-running="true"]');
    await page.waitForSelector('.play[data-ops="1"][data-running="false"]', { timeout: 120000 });
    const gaps = (await page.evaluate(() => (window as any).gaps as number[])).sort((a, b) => a - b), sum = gaps.reduce((a, b) => a + b, 0), at = (p: number) => gaps[Math.min(gaps.length - 1, Math.ceil(p * gaps.length) - 1)]!;
    console.log(JSON.stringify({ screen: `${size.width} x ${size.height}`, seconds: sum / 1000, frames: gaps.length, per_second: (1000 * gaps.length) / sum, median_ms: at(0.5), p95_ms: at(0.95), worst_ms: at(1) }));
    await phone.close();
});
