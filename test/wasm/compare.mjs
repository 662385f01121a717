// The core natively and as WebAssembly: the same calls, compared bit for bit. TAP, one line a group of calls.
// usage: compare.mjs MODULE.wasm NATIVE TABLES [SEED]      replay one call: echo 'LINE' | NATIVE
import { spawnSync } from 'node:child_process';
import { Flat } from './flat.mjs';
import { Random, SEEDED, tableTexts, textCalls } from './vectors.mjs';

const [path, native, tables, seed = '1'] = process.argv.slice(2);
const flat = new Flat(path);
let count = 0, failed = 0;

function compare(title, lines) {
    count++;
    const run = spawnSync(native, { input: lines.join('\n') + '\n', encoding: 'utf8', maxBuffer: 2 ** 30 });
    const theirs = run.status === 0 ? run.stdout.trimEnd().split('\n') : [];
    const ours = lines.map((line) => flat.answer(line));
    const at = ours.findIndex((answer, i) => answer !== theirs[i]);
    const good = run.status === 0 && theirs.length === ours.length && at < 0;
    const accepted = ours.filter((answer) => answer.startsWith('0')).length;
    console.log(`${good ? '' : 'not '}ok ${count} - ${title}: ${lines.length} calls agree bit for bit (${accepted} gave 0)`);
    if (good) return;
    failed++;
    if (run.status !== 0) console.log(`# native side ended with ${run.status ?? run.signal}: ${run.stderr.slice(0, 2000).replaceAll('\n', '\n# ')}`);
    else console.log(`# call:   ${lines[at]}\n# wasm:   ${ours[at]}\n# native: ${theirs[at]}`);
}

console.log(`# seed ${seed}`);
const random = new Random(seed);
const texts = tableTexts(tables, random);
if (texts.length) compare('cells of the tables of facts, as they are and spoiled', textCalls(texts, random));
for (const [title, n, make] of SEEDED) compare(title, random.times(n, () => make(random)));
console.log(`1..${count}`);
process.exit(failed ? 1 : 0);
