// The practice pages' binding and account: names and seconds against the C source, whole games against the natively compiled core, limits against the
// demo's bulletin, and the account of games by hand. usage: practice.test MODULE.wasm WASM_NATIVE PROGRAM ROOT SETS.json [GAMES] [SEED]
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { end, ok, same, seeded } from '../tap.mjs';
import { exported } from '../serve.mjs';
import { Core, CoreError } from '../../src/core/core';
import * as practice from '../../src/core/practice';
import { opOf, play, trace, Unit, Op } from '../../src/core/practice';
import { drawnUnit, setsOf } from '../../src/practice/game';
import { PITCH, RADIUS, rackPath, turned } from '../../src/practice/gear';
import { CATALOGUES, translate } from '../../src/practice/text';
import { en } from '../../src/practice/text_en';
import { bestPlan, readingsOf, latest, uOf, whatTold } from '../../src/practice/account';

const [module, native, program, root, setsFile, games = '60', seed = '1'] = process.argv.slice(2) as [string, string, string, string, string, string?, string?];
const core = await Core.load(readFileSync(module)), header = readFileSync(join(root, 'src/core/practice.h'), 'utf8');

// ---- names, numbers and seconds, read out of the header ----

const table = (name: string): { id: string; rest: string }[] => {
    const from = header.indexOf(`#define ${name}(X)`), text = header.slice(from, header.indexOf('\n\n', from));
    return [...text.matchAll(/X\(PRACTICE_\w+,[\s\\]*(\d+),[\s\\]*"([a-z-]+)"([^)]*)\)/g)].map((m) => ({ id: m[2]!, rest: m[3]! }));
};
const ids = (name: string) => table(name).map((r) => r.id);
same(ids('PRACTICE_FAULT_TABLE'), [...practice.FAULTS], 'faults are those of practice.h, in its order');
same(ids('PRACTICE_OP_TABLE'), [...practice.OPS], 'operations are');
same(ids('PRACTICE_REFUSAL_TABLE'), [...practice.REFUSALS], 'refusals are');
same(ids('PRACTICE_CAUTION_TABLE'), [...practice.CAUTIONS], 'cautions are');
same(table('PRACTICE_OP_TABLE').map((r) => r.rest.match(/\d+/g)!.map(Number)), practice.OPS.map((id) => [...practice.SECONDS[id]]), 'seconds are');
const number = (name: string) => Number(new RegExp(`${name} = (\\d+)`).exec(header)![1]);
same([number('PRACTICE_PACK_MOST'), number('PRACTICE_TOE_MOST'), number('PRACTICE_JUMP_MOST')], [practice.PACK_MOST, practice.TOE_MOST, practice.JUMP_MOST], 'and how far a part can be moved');
same(['GAPS', 'ENDS', 'METER', 'APART', 'SCRAPE'].map((n) => number(`PRACTICE_SEE_${n}`)), Object.values(practice.SEE), 'and what the bits of sight mean');

// ---- limits and instruments, by the demo's bulletin ----

const bulletin = JSON.parse(exported(program, join(root, 'examples/OV-26-03.yaml')));
const gap = bulletin.points.find((p: any) => p.id === 'fore-upper-in'), L = practice.LIMITS;
same([gap.nominal.nano, gap.low?.nano ?? gap.nominal.nano - gap.minus.nano, gap.high?.nano ?? gap.nominal.nano + gap.plus.nano].map(Number), [L.gap.nominal, L.gap.low, L.gap.high].map(Number), 'limits of a gap are the bulletin\u2019s');
// JCGM 100:2008, 4.3.7 and 5.1.2: resolution 0.1/sqrt 12, calibration 0.05, repeat 0.15 mm, by hand 0.16073 mm.
ok(Math.abs(uOf(core, 'gauge') - 160728) < 10, 'the gap gauge\u2019s uncertainty is 0.1607 mm (by hand)', uOf(core, 'gauge'));

// ---- whole games against the native core ----

const r = seeded(Number(seed)), most = [3, 3e6, 3e6, 6, 4, 3e6, 5e6, 5e6, 2e6, 5e6, 5e6, 5e6, 4e6, 4000, 200000, 500, 3e6, 5000, 100, 2e8];
const doubleOf = (hex: string) => { const v = new DataView(new ArrayBuffer(8)); v.setBigUint64(0, BigInt('0x' + hex)); return v.getFloat64(0); };
const hexOf = (x: number) => { const v = new DataView(new ArrayBuffer(8)); v.setFloat64(0, x); return v.getBigUint64(0).toString(16).padStart(16, '0'); };
function askNative(line: string): { code: number; longs: bigint[]; reals: number[] } {
    const out = spawnSync(native, { input: line + '\n', encoding: 'utf8' }).stdout.trim().split(' ');
    return { code: Number(out[0]), longs: (out.find((t) => t.startsWith('L')) ?? 'L').slice(1).split(',').filter((t) => t !== '').map(BigInt), reals: (out.find((t) => t.startsWith('D')) ?? 'D').slice(1).split(',').filter((t) => t !== '').map(doubleOf) };
}
const wrong: string[] = [];
let done = 0;
for (let g = 0; g < Number(games); g++) {
    const spread = r.of([null, null, null, 0, 100, 300]), faults = spread !== null ? [] : Array.from({ length: r.int(0, 5) }, () => { const k = r.int(0, 19); return { fault: practice.FAULTS[k]!, side: r.int(0, 1), place: r.int(0, 1), amount: r.int(0, 30) === 0 ? 2e9 : k === 18 ? r.int(0, 100) : k === 12 || k === 14 || k === 15 ? r.int(0, most[k]!) : r.int(-most[k]!, most[k]!) }; });
    const ops = Array.from({ length: r.int(0, 25) }, (): Op => { const op = r.of([0, 0, 1, 1, 2, r.int(1, 18)]); return [op, r.int(0, 1), r.int(0, 1), op === 0 ? r.of([0, 150000000, 960000000, 500000000]) : r.int(-3, 3)]; });
    const unit = { seed: r.int(0, 1000), spread, faults } as unknown as Unit, line = `l:${unit.seed} i:${spread ?? -1} L:${faults.flatMap((f) => [practice.FAULTS.indexOf(f.fault), f.side, f.place, f.amount]).join()} i:${faults.length} L:${ops.flat().join()} i:${ops.length}`;
    const theirs = askNative(`mw_practice ${line} >L${47 + 4 * ops.length} >D12`);
    try {
        const p = play(core, unit, ops), s = p.scene, c = p.score, n = (b: boolean) => (b ? 1 : 0);
        const ours = [s.extension, s.sees, practice.ENDS.indexOf(s.end), n(s.isSupported), n(s.isIsolated), n(s.isFinished), s.yaw, s.lean, ...s.racks.map((k) => k.gap), ...s.racks.map((k) => k.depth), ...s.racks.map((k) => k.teeth),
            ...s.racks.map((k) => k.off), ...s.racks.map((k) => k.packing), ...s.toe, n(c.isInside), c.inside, c.cautions, c.nCautions, c.moves, c.readings, c.runs, c.seconds, c.worstGap, ...c.gaps,
            ...p.results.flatMap((x) => [practice.REFUSALS.indexOf(x.refusal), x.cautions.reduce((a, k) => a | (1 << practice.CAUTIONS.indexOf(k)), 0), x.nano, x.seconds])].map(BigInt);
        const reals = [...s.at, ...s.volts, ...s.amps, ...s.twist, s.feed, s.time, s.apart, s.energy];
        if (ours.join() !== theirs.longs.join() || reals.map(hexOf).join() !== theirs.reals.map(hexOf).join()) wrong.push(line);
        done++;
        if (g % 5 === 0 && !s.isFinished && !s.isIsolated && s.extension !== 960000000) {
            const t = trace(core, unit, ops, 960000000, 0.5, 60), u = askNative(`mw_practice_trace ${line} l:960000000 d:${hexOf(0.5)} i:60 >L2 >D420`);
            const flat = t.samples.flatMap((x) => [x.time, ...x.at, ...x.amps, ...x.volts]);
            if (flat.map(hexOf).join() !== u.reals.slice(0, flat.length).map(hexOf).join() || t.samples.length !== Number(u.longs[0]) || practice.ENDS.indexOf(t.end) !== Number(u.longs[1])) wrong.push('trace ' + line);
        }
    } catch (e) {
        if (!(e instanceof CoreError) || e.code !== theirs.code) wrong.push(`${line}: ${String(e)} against ${theirs.code}`);
    }
}
ok(wrong.length === 0, `${games} games by the binding and by the native core agree bit for bit (seed ${seed}; ${done} could be planted)`, wrong.slice(0, 3).join('\n'));
ok(done > Number(games) / 2 && done < Number(games), 'most of them could be, and some could not');

// ---- texts ----

const fillers = (text: string) => [...new Set([...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1]!))].sort().join();
for (const [language, list] of Object.entries(CATALOGUES)) {
    const keys = Object.keys(en) as (keyof typeof en)[];
    same(Object.keys(list).sort(), [...keys].sort(), `${language} has every one of the ${keys.length} practice texts and no other`);
    const odd = keys.filter((k) => fillers(list[k]) !== fillers(en[k]) || list[k].trim() !== list[k] || list[k] === '');
    ok(odd.length === 0, `${language} fills in the same in each, and none is empty`, odd.join(', '));
    if (language !== 'en') ok(keys.filter((k) => list[k] === en[k]).length < 20, `${language} is no copy of English`, keys.filter((k) => list[k] === en[k]).join(', '));
}
const families = { o: practice.OPS, a: practice.OPS.filter((o) => o !== 'finish'), r: practice.REFUSALS.filter((o) => o !== 'fine'), c: practice.CAUTIONS, end: practice.ENDS.filter((o) => o !== 'arrived') };
same(Object.entries(families).flatMap(([head, ids]) => ids.filter((id) => !(`${head}-${id}` in en)).map((id) => `${head}-${id}`)), [], 'every operation, refusal, caution and end of a run has its words');
same(practice.FAULTS.filter((f) => !(`f-${f}` in en) && !(`f-${f}-more` in en && `f-${f}-less` in en)), [], 'and every fault');
same([translate('en', 'jump-out', { n: 1 }), translate('en', 'jump-out', { n: 2 }), translate('fr', 'jump-in', { n: 1 })], ['1 tooth out', '2 teeth out', '1 dent vers le dedans'], 'one is one');

// ---- sets ----

same(setsOf([{ set: 'a', sha256: 'x', exercises: [{ id: 'e', level: 'easy', faults: [{ fault: 'nonsense', amount: 1 }] }] }, 7, null, 'x', { set: '../b' }]), [], 'a set that is not as the schema says is left out whole');
const one = setsOf({ set: 'a', sha256: 'x', exercises: [{ id: 'e', level: 'easy', seed: 3, faults: [{ fault: 'cut', side: 'aft', place: 'upper', amount: -3 }, { fault: 'supply', amount: 5 }], limits: { minutes: 5, moves: 0 } }] })[0]!;
same(one.exercises[0]!.unit, { seed: 3, spread: null, faults: [{ fault: 'cut', side: 1, place: 1, amount: -3 }, { fault: 'supply', side: 0, place: 0, amount: 5 }] }, 'a set is read');
same([drawnUnit('17-100')?.spread, drawnUnit('17-301'), drawnUnit('x'), drawnUnit('-1-5')], [100, null, null, null], 'so is the name of a drawn unit');

// ---- gears ----

// Involute of a circle, by its defining property: at radius r the flank's normal is tangent to the base circle; here only that a tooth is half a pitch wide on
// the pitch circle less the drawn backlash, and that racks end where they should.
ok(Math.abs(turned(RADIUS) - 180 / Math.PI) < 1e-12 && Math.abs(PITCH - 2 * Math.PI) < 1e-12, 'a rack that moves by the pitch radius turns the pinion by a radian (module 2, by hand)');
const ys = [...rackPath(1, -10, 10, 5).matchAll(/-?[\d.]+ (-?[\d.]+)/g)].map((m) => Number(m[1]));
same([Math.min(...ys), Math.max(...ys)], [-10, 10], 'a drawn rack ends where it is told');

// ---- the account, by hand ----

const OUT = opOf('run', 0, 0, 960000000), NEAR = opOf('run', 0, 0, 150000000);
const tooth: Unit = { seed: 17, spread: null, faults: [{ fault: 'teeth', side: 0, place: 1, amount: 1 }] };
const best = bestPlan(core, tooth)!;
ok(best.isInside && best.moves === 1 && best.ops.some((op) => op.join() === opOf('jump', 0, 1, -1).join()), 'the best plan for one rack a tooth ahead is to jump it back, one move', JSON.stringify(best));
ok(play(core, tooth, best.ops).score.nCautions === 0, 'and it skips no caution');
const mine = [NEAR, opOf('read-gap', 0, 1), OUT, opOf('isolate', 0, 0, 1), opOf('count-teeth', 0, 1)], played = play(core, tooth, mine), told = whatTold(core, tooth, mine, played)[0]!;
ok(told.sights.some((s) => s.name === 'count-teeth' && s.side === 0 && s.place === 1 && s.change === 1n) && told.sights.every((s) => s.name !== 'count-teeth' || (s.side === 0 && s.place === 1)), 'its count tells it, no other count does');
same(told.first, 4, 'and the learner\u2019s first reading that tells it is the count');
ok(told.sights.every((s, i) => i === 0 || s.seconds >= told.sights[i - 1]!.seconds) && told.sights.some((s) => s.name === 'read-end'), 'sights stand in the order of their minutes, the rack end among them');
const wide: Unit = { seed: 3, spread: null, faults: [{ fault: 'width', side: 0, place: 0, amount: 8000000 }] }, packs = bestPlan(core, wide)!;
// 58 + 4 = 62 each side, 1 too many: at least one step of 0.6 mm x 5/6 at each of four fixings leaves 61.4; two steps at each, 60.8.
ok(packs.isInside && packs.moves === 4, 'an opening 8 mm too wide takes packing at all four fixings', JSON.stringify(packs.ops));
const hook: Unit = { seed: 5, spread: null, faults: [{ fault: 'hook', side: 0, place: 0, amount: 3000000 }] }, block = whatTold(core, hook, [opOf('check-tape')], play(core, hook, [opOf('check-tape')]))[0]!;
ok(block.first === 0 && block.sights[0]!.name === 'check-tape', 'a tape whose hook is off is told by the block first');
const noted = [NEAR, opOf('read-gap', 0, 1), opOf('read-gap', 0, 1), opOf('pack', 0, 1, 1), opOf('read-gap', 1, 1)], p2 = play(core, wide, noted), list = readingsOf(core, wide, noted, p2.results);
same(list.map((x) => x.isStale), [true, true, false], 'a reading is stale after a change');
same(latest(list).size, 2, 'and the last of a place counts');
// Every exercise that comes with the program, by the limits that its author set and the verb `practice check` proved: the best plan keeps them.
const all = setsOf(JSON.parse(readFileSync(setsFile, 'utf8'))).flatMap((s) => s.exercises).filter((e) => e.unit !== null), missed: string[] = [];
for (const e of all) {
    const plan = bestPlan(core, e.unit!), isGood = plan !== null && plan.isInside && plan.moves <= e.limits!.moves && plan.seconds <= 60 * e.limits!.minutes && play(core, e.unit!, plan.ops).score.nCautions === 0;
    if (isGood === e.goal.includes('cannot')) missed.push(`${e.id} ${plan?.moves} of ${e.limits?.moves} moves, ${plan?.seconds} s, inside ${plan?.isInside}`);
}
ok(missed.length === 0, `for each of the ${all.length} exercises the best plan is inside and within its limits, but for those that cannot be brought in`, missed.join('\n'));
const untold = all.filter((e) => !e.goal.includes('cannot')).flatMap((e) => whatTold(core, e.unit!, [], play(core, e.unit!, [])).filter((t) => t.sights.length === 0).map((t) => `${e.id}: ${t.fault.fault}`));
console.log(`# faults that no single reading tells: ${untold.join(', ') || 'none'}`);
end();
