// served: the program's own server over a store of its own, for the tests that need one behind the pages.
import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Kit } from './kit';

export interface Served { folder: string; url: string; store: string; call(...words: string[]): any; link(name: string): string; stop(): Promise<number> }

/** A store with the first example's bulletin and these technicians (name: shop). */
export async function served(kit: Kit, people: Record<string, string> = { ines: 'fern-mobile-2' }): Promise<Served> {
    const folder = mkdtempSync(join(tmpdir(), 'mendwright-served-')), store = join(folder, 'store');
    const call = (...words: string[]) => {
        const done = spawnSync(kit.program, [...words, '--json'], { encoding: 'utf8' });
        if (![0, 1, 4].includes(done.status ?? -1)) throw new Error(`${words.join(' ')}: ${done.status} ${done.stderr}`);
        return done.stdout.trim() === '' ? null : done.stdout.trim().split('\n').map((line) => JSON.parse(line)).pop();
    };
    call('store', 'init', '--store', store);
    call('store', 'keep', 'bulletin', join(kit.root, 'examples/OV-26-03.yaml'), '--store', store);
    for (const [name, shop] of Object.entries(people)) call('people', 'add', name, '--role', 'technician', '--shop', shop, '--store', store);
    const child = spawn(kit.program, ['serve', '--store', store, '--listen', '127.0.0.1:0', '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
    const told = await new Promise<string>((take) => child.stdout!.once('data', (d: Buffer) => take(String(d))));
    return {
        url: (JSON.parse(told) as { url: string }).url, store, folder, call,
        link: (name) => '/enter/' + (call('people', 'link', name, '--store', store) as { link: string }).link,
        stop: () => new Promise((take) => { child.once('exit', (code) => { rmSync(folder, { recursive: true, force: true }); take(code ?? -1); }); child.kill('SIGTERM'); }),
    };
}
