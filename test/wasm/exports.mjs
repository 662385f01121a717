// The module's outside: it exports exactly the reviewed names, imports nothing, is small, and hands out memory as told.
// usage: exports.mjs MODULE.wasm exports.txt SRC_ROOT        TAP
import { readFileSync } from 'node:fs';

const [path, names, root] = process.argv.slice(2);
let count = 0, failed = 0;
const ok = (good, text, note) => {
    console.log(`${good ? '' : 'not '}ok ${++count} - ${text}`);
    if (!good) { failed++; if (note) console.log(`#   ${note}`); }
};

const bytes = readFileSync(path);
const module = new WebAssembly.Module(bytes);
const listed = readFileSync(names, 'utf8').split('\n').filter((l) => /^[a-z]/.test(l)).sort();
const declared = [...readFileSync(`${root}/wasm/exports.h`, 'utf8').matchAll(/^[a-z0-9_]+ \*?(mw_[a-z_]+)\(/gm)]
    .map((m) => m[1]).sort();
const exported = WebAssembly.Module.exports(module);
const functions = exported.filter((e) => e.kind === 'function').map((e) => e.name).sort();
const others = exported.filter((e) => e.kind !== 'function').map((e) => `${e.kind} ${e.name}`);
const imports = WebAssembly.Module.imports(module);

ok(functions.join() === listed.join(), `the module exports exactly the ${listed.length} names of exports.txt`, functions.join());
ok(declared.join() === listed.join(), 'exports.h declares exactly those', declared.join());
ok(others.join() === 'memory memory', 'beside them only the memory', others.join());
ok(imports.length === 0, 'it imports nothing', imports.map((i) => `${i.module}.${i.name}`).join());
ok(bytes.length < 150 * 1024, `it is smaller than 150 KiB: ${bytes.length} bytes`);

const core = new WebAssembly.Instance(module, {}).exports;
const first = core.mw_alloc(3), second = core.mw_alloc(5);
ok(first % 16 === 0 && second % 16 === 0 && second >= first + 3, 'mw_alloc hands out aligned blocks one after the other');
core.mw_reset();
ok(core.mw_alloc(3) === first, 'mw_reset makes them free again');
const before = core.memory.buffer.byteLength;
const large = core.mw_alloc(8 << 20);
ok(large !== 0 && core.memory.buffer.byteLength > before, 'mw_alloc grows the memory when it must');
new Uint8Array(core.memory.buffer, large, 8 << 20).fill(1);
ok(core.mw_alloc(0xfffffff0) === 0, 'mw_alloc gives NULL for what cannot be');
const again = core.mw_alloc(16);
ok(again >= large + (8 << 20), 'and goes on as if it had not been asked');

// A ready-made piece of 1000 mm where 999 mm are needed, with and without a fit of 1.5 mm: cut.h, by hand.
const readyMade = (fit_nm) => {
    core.mw_reset();
    const piece = new BigInt64Array(core.memory.buffer, core.mw_alloc(8 * 13), 13);
    piece.set([1000000000, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, fit_nm].map(BigInt));
    const u = new Float64Array(core.memory.buffer, core.mw_alloc(24), 3).fill(0);
    const ret = new BigInt64Array(core.memory.buffer, core.mw_alloc(8 * 7), 7);
    const real = core.mw_alloc(24), text = core.mw_alloc(320);
    const err = core.mw_cut_plan(piece.byteOffset, 999000000n, u.byteOffset, 2, ret.byteOffset, real, text);
    return err === 0 ? Number(ret[0]) : -err;
};
ok(readyMade(1500000) === 0, 'a ready-made piece within its fit is used as it is (status 0, cut.h)', readyMade(1500000));
ok(readyMade(0) === 4, 'and refused without the fit (status 4, cut.h)', readyMade(0));

// A perfect unit run out: 58 mm at every corner, inside, room at its stop (core/practice.h); then timed as a page would draw it.
core.mw_reset();
const longs = (list) => { const at = core.mw_alloc(8 * list.length); new BigInt64Array(core.memory.buffer, at, list.length).set(list.map(BigInt)); return at; };
const runOut = longs([0, 0, 0, 960000000]), told = core.mw_alloc(8 * 51), toldReal = core.mw_alloc(8 * 12);
const practised = core.mw_practice(1n, -1, 0, 0, runOut, 1, told, toldReal);
const scene = new BigInt64Array(core.memory.buffer, told, 51);
ok(practised === 0 && scene[30] === 1n && scene.slice(39, 47).every((gap) => gap === 58000000n) && scene[0] === 960000000n && scene[47] === 0n,
    'a perfect unit to practise on is inside with 58 mm all round (by hand)', scene.join());

console.log(`1..${count}`);
process.exit(failed ? 1 : 0);
