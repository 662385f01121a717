// paint: the time to first useful paint of every page of the Desk and of the Bench on a store that is there already, and what each weighs: Debian's
// Chromium on this machine, server and browser beside each other. No test: one line of JSON with what it measured (test/bench/paint.py
// prints it). usage: paint PAGES PROGRAM ROOT STORE SHOP [ROUNDS]
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beginServing } from '../serve.mjs';
import { end } from '../tap.mjs';
import { caller } from './call';
import { enter, Served } from './desk_kit';
import { beginDraft, WALKED } from './desk_pages';
import { DESK, opened, PHONE, Phone } from './drive';
import { firstUseful, weigh, Weight } from './weigh';

const [, program, , store, shop] = process.argv.slice(2) as [string, string, string, string, string], rounds = Number(process.argv[7] ?? 7);
interface Told { page: string; weight: Weight; cold_ms: number[]; warm_ms: number[]; slow_ms: number[] }
/** A phone in a yard: its processor, and a network of 1.6 Mbit/s with 150 ms there and back (the throughput and the delay are our choice, and said). */
const SLOW = { rate: 4, network: { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 } };

const call = caller(program);

/** Without any cache; with what a browser keeps; and as a phone in a yard, without any cache. */
async function measure(phone: Phone, title: string, url: string, wanted: string): Promise<Told> {
    const { page } = phone, wire = await phone.context.newCDPSession(page), told: Told = { page: title, weight: await weigh(page, url, wanted), cold_ms: [], warm_ms: [], slow_ms: [] };
    await wire.send('Network.enable');
    await firstUseful(page, url, wanted);
    for (let i = 0; i < rounds; i++) told.warm_ms.push(await firstUseful(page, url, wanted));
    await wire.send('Network.setCacheDisabled', { cacheDisabled: true });
    await wire.send('Network.setBypassServiceWorker', { bypass: true });
    for (let i = 0; i < rounds; i++) told.cold_ms.push(await firstUseful(page, url, wanted));
    await wire.send('Emulation.setCPUThrottlingRate', { rate: SLOW.rate });
    await wire.send('Network.emulateNetworkConditions', SLOW.network);
    for (let i = 0; i < rounds; i++) told.slow_ms.push(await firstUseful(page, url, wanted));
    await wire.detach(); // and with it whatever it slowed
    return told;
}

const own = await beginServing(program, store, mkdtempSync(join(tmpdir(), 'mendwright-paint-'))), all: Told[] = [];
for (const [name, role] of [['paint-owner', 'owner'], ['paint-tech', 'technician']] as const) call('people', 'add', name, '--role', role, ...(role === 'technician' ? ['--shop', shop] : []), '--store', store);
const s: Served = { url: own.url, store, call, overruled: '', rulings: call('rule', '--store', store, '--trial').filter((r) => r.claim !== undefined), link: (name) => 'enter/' + call('people', 'link', name, '--store', store)[0].link, stop: own.stop };
const desk = await enter(s, 'paint-owner', { size: DESK });
await beginDraft(desk.page);
for (const w of WALKED) all.push(await measure(desk, `Desk, ${w.title}`, `${s.url}desk/#/${w.hash(s)}`, w.wanted));
await desk.close();
const bench = await enter(s, 'paint-tech', { size: PHONE });
await bench.page.waitForSelector('[data-act="open"]');
all.push(await measure(bench, 'Bench, jobs', `${s.url}bench/`, '[data-act="open"]'));
all.push(await measure(bench, 'Bench, opening a job', `${s.url}bench/#/open`, '[data-field="vin"]'));
await bench.close();
console.log(JSON.stringify({ rounds, slow: { processor: SLOW.rate, megabit: 1.6, delay_ms: 150 }, claims: s.rulings.length, pages: all }));
await own.stop();
end();
await Promise.all(opened.map((p) => p.close().catch(() => undefined)));
process.exit();
