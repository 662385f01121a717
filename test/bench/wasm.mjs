// The same truing problems natively and in WebAssembly, timed side by side.
// usage: wasm.mjs MODULE.wasm NATIVE [PROBLEMS ROUNDS]     prints JSON: nanoseconds for all problems, best round of each
import { spawnSync } from 'node:child_process';
import { Flat } from '../wasm/flat.mjs';
import { Random, largeTruing } from '../wasm/vectors.mjs';

const [path, native, problems = '200', rounds = '7'] = process.argv.slice(2);
const random = new Random(2);
const lines = random.times(Number(problems), () => largeTruing(random));

const flat = new Flat(path);
const calls = lines.map((line) => flat.prepare(line));

function nativeBest() {
    const run = spawnSync(native, ['--time', rounds], { input: lines.join('\n') + '\n', encoding: 'utf8' });
    if (run.status !== 0) throw new Error(`the native side ended with ${run.status ?? run.signal}: ${run.stderr}`);
    return Number(run.stdout);
}

function wasmBest() {
    let best = Infinity;
    for (let round = 0; round < Number(rounds); round++) {
        const start = process.hrtime.bigint();
        for (const call of calls) {
            if (flat.call(call) !== 0) throw new Error(`${call.name} refused a problem`);
        }
        best = Math.min(best, Number(process.hrtime.bigint() - start));
    }
    return best;
}

// In turns, so that whatever else the machine does falls on both.
let native_ns = Infinity, wasm_ns = Infinity;
for (let turn = 0; turn < 4; turn++) {
    native_ns = Math.min(native_ns, nativeBest());
    wasm_ns = Math.min(wasm_ns, wasmBest());
}
console.log(JSON.stringify({ problems: lines.length, native_ns, wasm_ns, node: process.version }));
