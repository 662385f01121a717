// kit: what the browser tests share: the call, skipping with a said reason, and the unit that is worked on.
import { join } from 'node:path';
import { end, ok, skip } from '../tap.mjs';
import { exported, serve, serveOwn } from '../serve.mjs';
import type { Page } from 'playwright-core';
import { CHROMIUM, opened, Phone, rampOf, Unit, unitOf } from './drive';

export const VIN = 'ZZZFM24T5R0001234';
export interface Kit { url: string; program: string; root: string; pages: string; state: { pages: string; requests: number; paths: string[]; lost?: number }; unit: () => Unit; ramp: () => Unit }

/** What a browser shows when a test ends early, in words: who reads of it may never see that run again. */
async function standing(phone: Phone): Promise<string> {
    const one = async (page: Page) => `${page.url()}\n${(await page.evaluate(() => document.body.innerText)).slice(0, 1500)}`;
    return (await Promise.all(phone.page.context().pages().map((p) => one(p).catch((e: unknown) => `${p.url()}: ${e}`)))).join('\n');
}

/** Runs a test with a server of the built pages; arguments: PAGES PROGRAM ROOT. own: behind the program's own server, in the tests' build the
 * sanitised one, which must have nothing to say at its end. */
export async function withPages(test: (kit: Kit) => Promise<void>, own = false): Promise<void> {
    const [pages, program, root] = process.argv.slice(2) as [string, string, string];
    if (CHROMIUM === null) return skip('Debian\u2019s Chromium is not installed (tools/deps test)');
    const files = ['OV-26-03', 'FR-26-11'].map((id) => join(root, 'examples', `${id}.yaml`)), [bulletin, second] = files.map((f) => JSON.parse(exported(program, f)) as Parameters<typeof unitOf>[0]) as [Parameters<typeof unitOf>[0], Parameters<typeof unitOf>[0]];
    const server = await (own ? serveOwn : serve)(pages, program, files);
    try {
        await test({ url: server.url, program, root, pages, state: server.state, unit: () => unitOf(bulletin), ramp: () => rampOf(second) });
    } catch (e) {
        ok(false, 'the test came to its end', `${(await Promise.all(opened.map(standing))).join('\n')}\n${e instanceof Error ? e.stack : e}`); // the reason last: of a long log the end is kept
    } finally {
        const ended = await server.close() as { code: number; said: string } | undefined;
        if (own) ok(ended?.code === 0 && ended.said === '', 'the server that served the pages ends with 0 and has nothing to say', `${ended?.code} ${ended?.said.slice(0, 3000)}`);
    }
    end();
    await Promise.all(opened.map((p) => p.close().catch(() => undefined)));
    process.exit();
}
