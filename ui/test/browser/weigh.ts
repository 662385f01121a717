// weigh: what a page costs until it is of use: bytes that come over the wire (as they are packed there), and the time until what it is for stands
// on the screen.
import type { Page } from 'playwright-core';
import { PATIENCE_MS } from './drive';

export interface Weight { /** Of the pages themselves: HTML, scripts, styles, the core. */ pages: number; /** Of the answers of the interface. */ data: number; files: number }

/** Everything that comes until `wanted` is there and the network is quiet, from an empty cache. */
export async function weigh(page: Page, url: string, wanted: string): Promise<Weight> {
    const wire = await page.context().newCDPSession(page), paths = new Map<string, string>(), sum: Weight = { pages: 0, data: 0, files: 0 };
    await wire.send('Network.enable');
    await wire.send('Network.setCacheDisabled', { cacheDisabled: true });
    await wire.send('Network.setBypassServiceWorker', { bypass: true });
    wire.on('Network.responseReceived', (e) => paths.set(e.requestId, new URL(e.response.url).pathname));
    wire.on('Network.loadingFinished', (e) => {
        const isData = paths.get(e.requestId)?.startsWith('/api/') ?? false;
        sum[isData ? 'data' : 'pages'] += e.encodedDataLength;
        sum.files++;
    });
    await page.goto('about:blank');
    await page.goto(url);
    await page.waitForSelector(wanted, { timeout: 60000 });
    await page.waitForLoadState('load');
    await page.evaluate(() => new Promise((done) => requestIdleCallback(done)));
    await wire.detach();
    return sum;
}

/** From the begin of the navigation until the frame after `wanted` came, in ms; a page's first useful paint. */
export async function firstUseful(page: Page, url: string, wanted: string): Promise<number> {
    await page.goto('about:blank');
    await page.goto(url, { waitUntil: 'commit' });
    return page.evaluate(([selector, patience]) => new Promise<number>((done, fail) => {
        setTimeout(() => fail(new Error(`${selector} does not come`)), patience);
        // After the frame that has it was drawn: a task after its animation callback.
        const drawn = () => requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = () => done(performance.now()); c.port2.postMessage(0); });
        // What stands in a shadow tree (the editor's text) is found by the last part of the selector in the tree of an element.
        const last = selector.split(' ').pop()!, inShadow = (): Element | null => { for (const e of document.querySelectorAll('*')) { const found = e.shadowRoot?.querySelector(last); if (found) return found; } return null; };
        const is = () => { const e = document.querySelector(selector) ?? inShadow(); return e !== null && e.getClientRects().length > 0; };
        const look = () => (is() ? drawn() : requestAnimationFrame(look)); // each frame: nothing tells of changes in a shadow tree
        look();
    }), [wanted, PATIENCE_MS] as const);
}
