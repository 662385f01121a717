// flat: calls the WebAssembly core by the lines that native.c describes, and prints answers in the same way.
import { readFileSync } from 'node:fs';

const bits = new DataView(new ArrayBuffer(8));
export const hexOf = (x) => { bits.setFloat64(0, x); return bits.getBigUint64(0).toString(16).padStart(16, '0'); };
const doubleOf = (hex) => { bits.setBigUint64(0, BigInt('0x' + hex)); return bits.getFloat64(0); };
const shown = (x) => (Number.isNaN(x) ? 'nan' : hexOf(x));

export class Flat {
    constructor(path) {
        const module = new WebAssembly.Module(readFileSync(path));
        this.core = new WebAssembly.Instance(module, {}).exports;
    }

    room(bytes) {
        const at = this.core.mw_alloc(bytes);
        if (at === 0) throw new Error('no room left');
        new Uint8Array(this.core.memory.buffer, at, bytes).fill(0);
        return at;
    }

    // One argument: what to pass on, and the room of an answer.
    read(token) {
        const kind = token[0] === '>' ? token[1] : token[0];
        const rest = token.slice(2);
        if (token[0] === '>') {
            const n = Number(rest);
            const at = this.room(kind === 'T' ? n : 8 * n);
            return { pass: [at], answer: { kind, at, n } };
        }
        if (kind === 'i') return { pass: [Number(rest)] };
        if (kind === 'l') return { pass: [BigInt(rest)] };
        if (kind === 'd') return { pass: [doubleOf(rest)] };
        if (kind === 's' || kind === 'p') {
            const bytes = Buffer.from(rest, 'hex');
            const at = this.room(bytes.length + 1);
            const memory = new Uint8Array(this.core.memory.buffer, at, bytes.length + 1);
            memory.set(bytes);
            memory[bytes.length] = 0xff;
            return { pass: kind === 's' ? [at, bytes.length] : [at] };
        }
        const items = rest === '' ? [] : rest.split(',');
        const at = this.room(8 * items.length + 8);
        const memory = new DataView(this.core.memory.buffer, at);
        items.forEach((item, i) => {
            if (kind === 'L') memory.setBigInt64(8 * i, BigInt(item), true);
            else if (kind === 'U') memory.setUint32(4 * i, Number(item), true);
            else memory.setFloat64(8 * i, doubleOf(item), true);
        });
        return { pass: [at] };
    }

    prepare(line) {
        const [name, ...tokens] = line.split(' ');
        const read = tokens.map((token) => this.read(token));
        return { name, pass: read.flatMap((r) => r.pass), answers: read.flatMap((r) => r.answer ?? []) };
    }

    call({ name, pass, answers }) {
        if (name !== 'mw_conform_combine') return this.core[name](...pass);
        const value = this.core[name](...pass.slice(0, 3)); // the only one that returns a double
        new DataView(this.core.memory.buffer).setFloat64(answers[0].at, value, true);
        return 0;
    }

    show({ kind, at, n }) {
        const buffer = this.core.memory.buffer;
        if (kind === 'T') return 'T' + Buffer.from(buffer, at, n).toString('hex').replace(/(00)+$/, '');
        if (kind === 'L') return 'L' + new BigInt64Array(buffer, at, n).join(',');
        return 'D' + Array.from(new Float64Array(buffer, at, n), shown).join(',');
    }

    answer(line) {
        this.core.mw_reset();
        const call = this.prepare(line);
        const result = this.call(call);
        return [result, ...call.answers.map((a) => this.show(a))].join(' ');
    }
}
