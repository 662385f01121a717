// judge: what is held against every screen: axe's rules, and targets large enough for gloves.
import type { Page } from 'playwright-core';

/** axe's findings; source: its script. */
export async function violations(page: Page, source: string): Promise<string[]> {
    await page.evaluate(source);
    return page.evaluate(async () => {
        const result = await (window as any).axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
        return result.violations.map((v: any) => `${v.id}: ${v.nodes.slice(0, 3).map((n: any) => `${n.target} ${n.failureSummary.split('\n').slice(1, 3).join(' ')}`).join(' | ')}`);
    });
}

/** Targets of 48 px: buttons, links and fields that stand by themselves; links inside a sentence are free (WCAG 2.2, 2.5.8). */
export async function small(page: Page): Promise<string[]> {
    return page.evaluate(() => [...document.querySelectorAll('button, a, input, select, summary')].flatMap((e) => {
        const target = e.matches('input[type="checkbox"], input[type="file"], .entry input') ? e.closest('label') ?? e : e, box = target.getBoundingClientRect();
        const hidden = box.width === 0 || e.closest('details:not([open]) > :not(summary)') !== null || getComputedStyle(e).visibility === 'hidden';
        return hidden || (box.width >= 47.5 && box.height >= 47.5) ? [] : [`${e.tagName} "${(e.textContent ?? '').slice(0, 20)}" ${Math.round(box.width)} x ${Math.round(box.height)}`];
    }));
}
