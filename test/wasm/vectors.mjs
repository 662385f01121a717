// vectors: seeded calls for both sides, as lines for flat.mjs and native.c. Same seed, same lines, on every machine:
// only integer arithmetic and correctly rounded division make the numbers.
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { hexOf } from './flat.mjs';

export class Random {
    constructor(seed) { this.state = BigInt.asUintN(64, BigInt(seed) * 0x9e3779b97f4a7c15n + 1n); }
    // splitmix64 (Steele, Lea, Flood 2014; from memory): any stream would do, as long as both sides get the same lines
    bits() {
        this.state = BigInt.asUintN(64, this.state + 0x9e3779b97f4a7c15n);
        let z = this.state;
        z = BigInt.asUintN(64, (z ^ (z >> 30n)) * 0xbf58476d1ce4e5b9n);
        z = BigInt.asUintN(64, (z ^ (z >> 27n)) * 0x94d049bb133111ebn);
        return z ^ (z >> 31n);
    }
    int(low, high) { return low + Number(this.bits() % BigInt(high - low + 1)); }
    share() { return Number(this.bits() >> 11n) / 2 ** 53; }
    of(list) { return list[this.int(0, list.length - 1)]; }
    times(n, make) { return Array.from({ length: n }, (_, i) => make(i)); }
}

const s = (text) => 's:' + Buffer.from(text, 'utf8').toString('hex');
const p = (text) => 'p:' + Buffer.from(text, 'utf8').toString('hex');
const d = (x) => 'd:' + hexOf(x);
const L = (list) => 'L:' + list.join(',');
const D = (list) => 'D:' + list.map(hexOf).join(',');
const list = (texts) => texts.map((t) => t + '\0').join('');
const NONE_LOW = '-9223372036854775808', NONE_HIGH = '9223372036854775807';
const UNITS = 20;
const PATTERNS = ['%Y-%m-%d', '%Y-%j', '%G-W%V', '%G-W%V-%u', '{variant} %G-W%V', '%b %Y', '%d/%m/%y', 'DOM %m/%y'];

// Every cell of every table of facts, and of the bytes in it that a tired hand or a bad scan would change.
export function tableTexts(folder, random) {
    if (!existsSync(folder)) return [];
    const cells = readdirSync(folder).filter((f) => f.endsWith('.tsv')).sort()
        .flatMap((f) => readFileSync(`${folder}/${f}`, 'utf8').split('\n'))
        .filter((line) => line && !line.startsWith('#')).flatMap((line) => line.split('\t'))
        .filter((cell) => cell && cell.length <= 128);
    const spoiled = cells.map((cell) => {
        const at = random.int(0, cell.length - 1);
        return cell.slice(0, at) + random.of([...'0123456789 -/.\'"IOQSZX']) + cell.slice(at + random.int(0, 1));
    });
    return [...new Set([...cells, ...spoiled])];
}

const VIN_SIGNS = [...'0123456789ABCDEFGHJKLMNPRSTUVWXYZ'];
const vin = (r) => r.times(17, () => r.of(r.int(0, 60) ? VIN_SIGNS : [...'IOQ ioq-'])).join('');

function dateText(r) {
    const y = r.int(1968, 2069), two = (n) => String(n).padStart(2, '0');
    return r.of([() => `${y}-${two(r.int(0, 13))}-${two(r.int(0, 32))}`, () => `${y}-${String(r.int(0, 367)).padStart(3, '0')}`,
        () => `${y}-W${two(r.int(0, 54))}`, () => `A${r.int(1, 9)} ${y}-W${two(r.int(1, 53))}`,
        () => `${two(r.int(1, 31))}/${two(r.int(1, 12))}/${two(y % 100)}`, () => `Mar ${y}`])();
}

function amountText(r) {
    const unit = r.of(['mm', 'in', '"', 'cm', 'm', 'V', 'A', 's', 'N m', 'deg', 'ohm', '', ' ft', 'furlong']);
    return r.of([() => `${r.int(-9999, 9999)}.${r.int(0, 999999)}${unit}`, () => `${r.int(0, 40)} ${r.int(0, 64)}/${r.of([2, 3, 8, 16, 64, 0])}${unit}`,
        () => `${r.int(0, 9)}' ${r.int(0, 11)}-${r.int(1, 7)}/8"`, () => `${r.bits()}${unit}`])();
}

const TEXT_CALLS = [
    (t, r) => `mw_quantity_parse ${s(t)} i:${r.int(0, UNITS)} >L4`,
    (t) => `mw_unit_find ${s(t)}`,
    (t) => `mw_vin_check ${s(t)} >L7 >T18`,
    (t) => `mw_vin_repair ${s(t)} p: i:0 >L120 >T432`,
    (t) => `mw_label_read ${s(t)} ${s(list(PATTERNS))} i:${PATTERNS.length} >L3 >T25`,
];
export const textCalls = (texts, r) => texts.flatMap((t) => TEXT_CALLS.map((make) => make(t, r)));

function truing(r) {
    const n = r.int(1, 12), m = r.int(0, 8), plans = r.int(1, 4), mm = 1000000;
    const points = r.times(n, () => {
        const nominal = r.int(20, 80) * mm, low = nominal - r.int(1, 30) * mm / 10, high = nominal + r.int(1, 30) * mm / 10;
        return [nominal, r.int(0, 15) ? low : NONE_LOW, r.int(0, 15) ? high : NONE_HIGH, nominal + r.int(-60, 60) * mm / 10];
    });
    const adjusters = r.times(m, () => [-r.int(0, 4), r.int(0, 4), r.int(0, 20) * 60, r.int(0, 10) * 30]);
    const effect = r.times(n * m, () => (r.int(0, 2) ? r.int(-10, 10) * mm / 10 : 0));
    const room = 8 + 3 * n + plans * (3 + m + n);
    const risk = r.of([0, 0, 0.05, 0.01]), aim = r.of([null, null, 0, 0.01, 0.2, 0.7]);
    return `${aim === null ? 'mw_truing' : 'mw_advise'} ${L(points.flat())} ${D(r.times(n, () => r.int(0, 5) * 50000))} i:${n} ${L(adjusters.flat())} i:${m} ` +
        `${L(effect)} ${d(risk)}${aim === null ? '' : ` ${d(aim)}`} i:${plans} l:0 >L${room} >D${room}`;
}

// The shape of the trade's larger problems: 8 to 12 points, 4 to 14 adjusters of up to 5 steps either way.
export function largeTruing(r) {
    const n = r.int(8, 12), m = r.int(4, 14), mm = 1000000;
    const points = r.times(n, () => { const c = r.int(40, 70) * mm; return [c, c - 2 * mm, c + 3 * mm, c + r.int(-80, 80) * mm / 10]; });
    const adjusters = r.times(m, () => { const k = r.int(1, 5); return [-k, k, r.int(1, 20) * 60, r.int(1, 10) * 30]; });
    const effect = r.times(n * m, () => (r.int(0, 2) ? 0 : r.int(-10, 10) * mm / 10));
    const room = 8 + 3 * n + 3 * (3 + m + n);
    return `mw_truing ${L(points.flat())} ${D(r.times(n, () => 300000))} i:${n} ${L(adjusters.flat())} i:${m} ` +
        `${L(effect)} ${d(0)} i:3 l:0 >L${room} >D${room}`;
}

function timing(r) {
    const n = r.int(2, 6), pitch = 6283185;
    const racks = r.times(n, () => [r.int(0, 4) * pitch + r.int(-900000, 900000), -r.int(0, 5), r.int(0, 5), 600, 60]);
    const pairs = r.times(n - 1, (i) => [i, i + 1, 0, -1500000, 1500000]);
    return `mw_timing ${L(racks.flat())} ${D(r.times(n, () => r.int(0, 4) * 50000))} i:${n} ${L(pairs.flat())} i:${n - 1} ` +
        `l:${r.of([2000000, 2000000, 2540000, 0])} ${d(r.of([0, 0.05]))} >L${5 + n + 6 * (n - 1)} >D${3 * (n - 1)}`;
}

function modes(r) {
    const k = r.int(0, 4), n = 1 << k, spoil = r.int(0, 9) === 0;
    const points = r.times(n, (i) => [...r.times(k, (f) => (i >> f & 1 ? 1 : -1)), r.int(-5000000, 5000000)]);
    if (spoil && k) points[0][0] = r.int(-2, 2);
    return `mw_modes ${L(points.flat())} ${D(r.times(n, () => r.int(0, 400000)))} i:${n} i:${k} >L${4 * n} >D${n}`;
}

const cutPiece = (r) => [r.int(-1, 3000) * 1000000, r.int(0, 1), r.int(0, 2), r.int(0, 4000000), r.of([0, 200000000]), r.of([0, 2000000000]),
    r.of([0, 100000000]), r.int(0, 1), r.of([0, 2000000, 2540000]), r.int(0, 1), r.int(0, 9000000), r.of([0, 1500000]),
    r.of([0, 0, 500000, 3000000, 300000000])];

function cut(r) {
    return `mw_cut_plan ${L(cutPiece(r))} l:${r.int(0, 2600000000)} ${D([r.int(0, 600000), r.int(0, 300000), r.int(0, 300000)])} ` +
        `i:${r.of([2, 5])} >L7 >D3 >T320`;
}

function kit(r) {
    const kits = r.int(1, 8), attributes = r.int(0, 3), racks = r.int(0, 3);
    const rows = r.times(kits, () => [r.int(1, 3), r.int(0, racks), 0, ...r.times(attributes, () => r.int(-1, 1))]);
    const pieces = rows.flatMap((row) => r.times(row[1], (i) => [i, ...cutPiece(r)]));
    const need = [r.int(0, 1), racks, ...r.times(attributes, () => r.int(-1, 1)), ...r.times(racks, (i) => [i, r.int(300, 2200) * 1000000]).flat()];
    return `mw_kit_choose ${L(rows.flat())} i:${kits} i:${attributes} ${L(pieces.flat())} ${L(need)} ${D([300000, 200000, 100000])} >L${2 + 6 * kits}`;
}

function scope(r) {
    const names = ['A1', 'A2', 'B7'], codes = ['A1', 'A2', 'A2X', 'B*'], of = [0, 1, 1, 2];
    const stations = r.int(1, 3), first = 19760;
    const windows = r.times(r.int(1, 4), () => { const a = first + r.int(0, 90); return [r.int(-1, 2), r.int(-1, stations - 1), a, a + r.int(-2, 60)]; });
    const sights = r.times(stations, () => { const a = first + r.int(-20, 150); return [r.int(0, 2), a, a + r.of([0, 6]), 0]; });
    const seen = r.times(2 * stations, () => r.of(['', 'A1', 'A2X', 'B12', 'C']));
    const number = r.of(['', vin(r), '1M8GDM9AXKP042788']);
    const prefixes = r.of([[], ['1M8', 'ZZ']]);
    const texts = [list(names), list(codes), list(prefixes), list(seen)];
    return `mw_scope U:${[stations, 3, 4, windows.length, prefixes.length, number.length]} U:${[...texts.map((t) => t.length), 320]} ` +
        `${p(number)} i:${r.int(0, 2)} ${p(texts[0])} ${p(texts[1])} ${L(of)} ${p(texts[2])} ${L(windows.flat())} ${L(sights.flat())} ` +
        `${p(texts[3])} >L${2 + 7 * stations} >T${2 * stations * 320}`;
}

// Noise, steps, slopes in one direction (where rounding would decide a hash, were it let), one grey, one bright pixel.
function photo(r) {
    const [w, h] = [r.int(1, 70), r.int(1, 50)], [a, b, c] = [r.int(0, 9), r.int(0, 9), r.int(0, 255)];
    const at = r.of([() => r.int(0, 255), (x) => a * x + c, (x, y) => b * y + c, (x, y) => a * x + b * y, () => c,
        (x, y) => (x > w / 2) === (y > h / 3) ? c : 255 - c, (x, y) => x === 1 && y === 1 ? 255 : 0]);
    const grey = Buffer.from(Array.from({ length: w * h }, (_, i) => at(i % w, Math.floor(i / w)) & 255));
    return `mw_photo p:${grey.toString('hex')} i:${r.int(0, 40) ? w : 0} i:${r.int(0, 40) ? h : 70000} >L5 >D5`;
}

const amount = (r) => BigInt.asIntN(64, r.bits()) >> BigInt(r.int(0, 62));
const real = (r) => r.of([() => (r.share() - 0.5) * 2 ** r.int(-30, 60), () => r.int(-100000, 100000) / 1000, () => 0, () => NaN, () => Infinity])();

// name of a group, how many, one call
// Two hashes a few bits apart, some with the mirror's in the other's place.
function alike(r) {
    const word = () => BigInt.asIntN(64, (BigInt(r.int(0, 2 ** 31)) << 33n) ^ (BigInt(r.int(0, 2 ** 31)) << 10n) ^ BigInt(r.int(0, 1024)));
    const near = (x) => BigInt.asIntN(64, r.times(r.int(0, 14), () => 1n << BigInt(r.int(0, 63))).reduce((y, bit) => y ^ bit, x));
    const a = r.times(4, word), b = r.of([0, 1]) ? a.map(near) : [a[1], a[0], a[3], a[2]].map(near);
    return `mw_photo_alike ${L(a)} ${L(b)}`;
}

function ulid(r) {
    const last = r.of(['', '01KQRX8RBG8S0WFS0KM56A3YMX', '01kqrx8rbg8s0wfs0km56a3ymx', '01KQRX8RBGZZZZZZZZZZZZZZZZ', '81KQRX8RBG8S0WFS0KM56A3YMX', 'IL']);
    const random = r.times(10, () => r.int(0, 256)).map((x) => (x & 255).toString(16).padStart(2, '0')).join('');
    return `mw_ulid_next ${s(last)} l:${r.of([1777878720879, 1777878720880, 1777878720881, -1, 0, 281474976710655, 281474976710656])} p:${random} >L1 >T27`;
}

// A unit with faults, or drawn, and what somebody in no particular order does to it.
function practice(r) {
    const spread = r.of([-1, -1, -1, 0, 100, 300, 301]);
    const most = [3, 3e6, 3e6, 6, 4, 3e6, 5e6, 5e6, 2e6, 5e6, 5e6, 5e6, 4e6, 4000, 200000, 500, 3e6, 5000, 100, 2e8];
    const faults = r.times(r.int(0, 5), () => { const kind = r.int(0, 20); return [kind, r.int(0, 1), r.int(0, 1), r.int(-most[kind % 20], most[kind % 20])]; });
    const ops = r.times(r.int(0, 25), () => {
        const op = r.of([0, 0, 0, 1, 1, 2, r.int(0, 18), r.int(0, 18), r.int(0, 20)]);
        return [op, r.int(0, 1), r.int(0, 1), op === 0 ? r.of([0, 150000000, 960000000, 500000000, 960000001]) : r.int(-3, 3)];
    });
    const game = `l:${r.int(0, 1000)} i:${spread} ${L(faults.flat())} i:${faults.length} ${L(ops.flat())} i:${ops.length}`;
    return r.int(0, 4) ? `mw_practice ${game} >L${47 + 4 * ops.length} >D12`
        : `mw_practice_trace ${game} l:${r.of([0, 960000000, 400000000, 970000000])} ${d(r.of([0.5, 1, 0, NaN]))} i:60 >L2 >D420`;
}

export const SEEDED = [
    ['amounts read', 2000, (r) => TEXT_CALLS[0](amountText(r), r)],
    ['amounts from doubles', 2000, (r) => `mw_quantity_from_double ${d(real(r))} i:${r.int(-1, UNITS)} >L1`],
    ['amounts shown', 2000, (r) => `mw_quantity_show l:${amount(r)} i:${r.int(-1, UNITS)} i:${r.int(-2, 10)} >T64 >L2`],
    ['inches as fractions', 2000, (r) => `mw_length_fraction l:${amount(r)} i:${r.of([1, 2, 4, 8, 16, 32, 64, 10, 0])} >T64 >L2`],
    ['dates', 1000, (r) => `mw_date_show i:${r.int(-26000, 85000)} >T11 >L3`],
    ['labels', 2000, (r) => TEXT_CALLS[4](dateText(r), r)],
    ['VINs', 2000, (r) => TEXT_CALLS[2](vin(r), r)],
    ['VIN repairs', 500, (r) => { const known = r.times(5, () => vin(r)); return `mw_vin_repair ${s(r.of([vin(r), known[0].replace('1', '7')]))} ${p(list(known))} i:${r.of([0, 5])} >L120 >T432`; }],
    ['conformity', 5000, (r) => `mw_conform l:${r.int(-8000000, 8000000)} ${d(r.of([0, 300000, r.share() * 3e6]))} l:${r.of([-5000000, NONE_LOW])} l:${r.of([5000000, 4000000, -6000000, NONE_HIGH])} ${d(r.of([0.05, 0.5, 0.6, r.share() / 2]))} >L6 >D1`],
    ['combined uncertainty', 500, (r) => `mw_conform_combine l:${r.int(0, 2000000)} ${d(r.share() * 1e6)} ${d(r.share() * 1e6)} >D1`],
    ['campaign risks', 100, (r) => `mw_conform_risks ${d(r.share() * 4)} ${d(0.5 + r.share())} ${d(0.1 + r.share() / 2)} ${d(0)} ${d(3 + r.share())} ${d(r.share() / 2 - 0.1)} >D3`],
    ['modes', 1000, modes],
    ['meanings of modes', 64, (r) => `mw_modes_meaning ${s(list(['side', 'height', 'travel']))} i:3 i:${r.int(0, 8)} >T200 i:200 >L1`],
    ['truing', 300, truing],
    ['timing', 300, timing],
    ['scope', 500, scope],
    ['cut plans', 1500, cut],
    ['racks to measure again', 500, (r) => `mw_cut_remeasure ${L(r.times(4, () => 800000000 + r.int(0, 3000000)))} ${L(r.times(4, () => r.int(-1, 1)))} i:4 ${d(r.int(0, 500000))} ${d(2)} >L3`],
    ['kits', 500, kit],
    ['rack spans', 500, (r) => `mw_gear_span l:${r.of([2000000, 2540000, 0, r.int(1, 100000000)])} l:${r.int(-1000001, 1000001)} >L1`],
    ['conductors', 500, (r) => `mw_wire_least i:${r.int(-1, 4)} ${D([r.int(0, 60), r.of([12, 24]), r.int(-20, 90)])} l:${r.int(0, 20000) * 1000000} ${d(r.int(1, 30) / 10)} >D4 >T24`],
    ['photos', 600, photo],
    ['photos compared', 600, alike],
    ['names of events', 600, ulid],
    ['units to practise on', 300, practice],
    ['words for errors', 40, (r) => `mw_err_text i:${r.int(-2, 30)} >T80 i:${r.of([80, 5])}`],
];
