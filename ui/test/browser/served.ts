// served: the program's own server over a store of its own, for the tests that need one behind the pages.
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { caller } from './call';
import type { Kit } from './kit';
import { beginServing } from '../serve.mjs';

export interface Served { folder: string; url: string; store: string; call(...words: string[]): any; link(name: string): string; stop(): Promise<number> }

/** A store with the first example's bulletin and these technicians (name: shop). */
export async function served(kit: Pick<Kit, 'program' | 'root'>, people: Record<string, string> = { ines: 'fern-mobile-2' }): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-served-')), store = join(folder, 'store');
    const lines = caller(kit.program), call = (...words: string[]): any => lines(...words).pop() ?? null;
    call('store', 'init', '--store', store);
    call('store', 'keep', 'bulletin', join(kit.root, 'examples/OV-26-03.yaml'), '--store', store);
    for (const [name, shop] of Object.entries(people)) call('people', 'add', name, '--role', 'technician', '--shop', shop, '--store', store);
    const own = await beginServing(kit.program, store, folder);
    return {
        url: own.url, store, folder, call,
        link: (name) => '/enter/' + (call('people', 'link', name, '--store', store) as { link: string }).link,
        stop: own.stop,
    };
}
