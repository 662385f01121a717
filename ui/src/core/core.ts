// core: the only door from TypeScript to the computing core (src/wasm/exports.h tells what each call means).
// Owns the module's memory during one call: rooms are taken, filled, read back, and all given up again.
// Amounts are bigint nano. Nothing here computes; a failure of the core becomes a CoreError with its number and place.

/** Units in the order of core/quantity.h; a test holds the list to the module. */
export const UNITS = ['nm', 'um', 'mm', 'cm', 'm', 'in', 'ft', 'mV', 'V', 'mA', 'A', 's', 'min', 'h', 'N m', 'lbf in', 'deg', 'mohm', 'ohm', '1'] as const;
export type Unit = (typeof UNITS)[number];
export const DIMS = ['length', 'voltage', 'current', 'time', 'torque', 'angle', 'resistance', 'count'] as const;
export type Dim = (typeof DIMS)[number];

export const NO_LOW = -(2n ** 63n);
export const NO_HIGH = 2n ** 63n - 1n;

/** Errors by the name they have in core/err.h. */
export const ERR = { OK: 0, EMPTY: 1, SYNTAX: 2, UNIT: 3, RANGE: 4, DOMAIN: 5, LIMIT: 6, SPACE: 7, AMBIGUOUS: 8, IMPOSSIBLE: 9, ORDER: 10 } as const;

export class CoreError extends Error {
    constructor(readonly code: number, readonly at: number, message: string) {
        super(message);
    }
}

export type Verdict = 'inside' | 'outside' | 'uncertain';
const VERDICTS: readonly Verdict[] = ['inside', 'outside', 'uncertain'];
const verdictOf = (x: bigint): Verdict => VERDICTS[Number(x)] ?? 'uncertain';

export interface Quantity { nano: bigint; dim: Dim; unit: Unit; isRounded: boolean }

export interface VinCheck {
    fault: 'none' | 'length' | 'character' | 'check';
    at: number; expected: string; found: string; years: number[]; vin: string;
}
export interface VinRepair { vin: string; kind: 'misread' | 'swap' | 'known'; at: number; was: string; now: string }

export interface Label { first: number; last: number; pattern: number; variant: string }

export const SCOPE_REASONS = ['built-inside', 'built-before', 'built-after', 'built-between', 'variant-clear', 'vin-clear', 'label-missing',
    'label-ambiguous', 'label-straddles', 'variant-missing', 'variant-differs', 'variant-misread', 'vin-missing', 'vin-faulty'] as const;
export type ScopeReason = (typeof SCOPE_REASONS)[number];
export type ScopeVerdict = 'out' | 'in' | 'unknown' | 'mixed';
const SCOPE_VERDICTS: readonly ScopeVerdict[] = ['out', 'in', 'unknown', 'mixed'];

export interface ScopeCall {
    vin: string; vinRule: number;
    variants: string[]; codes: { text: string; variant: number }[]; prefixes: string[];
    windows: { variant: number; first: number; last: number }[];
    sights: { state: 'unread' | 'read' | 'ambiguous'; label?: Label; given: string }[];
}
export interface ScopeStation {
    verdict: ScopeVerdict; reason: ScopeReason; window: number; variant: number;
    hasDays: boolean; first: number; last: number; why: string; settle: string;
}
export interface ScopeAnswer { unit: ScopeVerdict; hasVinWarning: boolean; stations: ScopeStation[] }

export const CUT_STATUS = ['no-cut', 'cut', 'too-short', 'no-waste-side', 'ready-made-differs', 'relieved-both-ends', 'below-least', 'above-greatest'] as const;
export const CUT_WARNINGS = ['large-offcut', 'sliver', 'near-least', 'near-greatest'] as const;
export type CutWarning = (typeof CUT_WARNINGS)[number];
export interface Piece {
    stock: bigint; isReady: boolean; relief: 0 | 1 | 2; kerf: bigint; least: bigint; greatest: bigint; offcutMax: bigint;
    blade: 0 | 1; module: bigint; firstTooth: bigint | null; sliver: bigint; fit: bigint;
}
export interface CutU { tape: number; blade: number; stock: number }
export interface CutPlan {
    status: (typeof CUT_STATUS)[number]; needed: bigint; stock: bigint; mark: bigint; kerf: bigint; offcut: bigint;
    warnings: CutWarning[]; markU: number; toothFraction: number; partTooth: number; text: string;
}

export const KIT_REASONS = ['chosen', 'other-station', 'attribute-differs', 'no-piece', 'piece-unfit', 'more-cuts', 'more-offcut', 'later-in-bulletin', 'attribute-open'] as const;
export type KitReason = (typeof KIT_REASONS)[number];
export interface KitRow { values: number[]; pieces: { rack: number; piece: Piece }[] }
export interface KitNeed { station: number; values: number[]; racks: { rack: number; needed: bigint }[] }
export interface KitFinding { reason: KitReason; attribute: number; rack: number; fits: boolean; nCuts: number; offcut: bigint }
export interface KitAnswer { chosen: number; open: bigint; kits: KitFinding[] }

export interface Conform { simple: Verdict; guarded: Verdict; guard: bigint; low: bigint; high: bigint; margin: bigint; p: number }

export interface TruingPoint { nominal: bigint; low: bigint; high: bigint; reading: bigint; u: number }
export interface TruingAdjuster { min: number; max: number; setupS: number; stepS: number; effects: bigint[] }
export interface TruingPlan {
    costS: number; worstViolation: bigint; leastMargin: bigint; steps: number[]; predicted: bigint[]; p: number[];
}
export interface TruingAnswer {
    verdict: Verdict; worstViolation: bigint; isProved: boolean; nodes: number;
    points: { verdict: Verdict; low: bigint; high: bigint; p: number }[];
    plans: TruingPlan[];
}

export const TIMING_MEANINGS = ['in-step', 'uncertain', 'jumped', 'beyond-range', 'small-residue', 'odd-residue', 'half-pitch', 'conflict', 'too-coarse'] as const;
export type TimingMeaning = (typeof TIMING_MEANINGS)[number];
export type TimingVerdict = 'in step' | 'out of step' | 'cannot' | 'uncertain';
const TIMING_VERDICTS: readonly TimingVerdict[] = ['in step', 'out of step', 'cannot', 'uncertain'];
export interface TimingRack { end: bigint; min: number; max: number; setupS: number; stepS: number; u: number }
export interface TimingDifference { a: number; b: number; nominal: bigint; low: bigint; high: bigint }
export interface TimingFinding {
    meaning: TimingMeaning; verdict: Verdict; before: bigint; after: bigint; teeth: number; isWhole: boolean;
    u: number; residue: number; residueU: number;
}
export interface TimingAnswer {
    verdict: TimingVerdict; worst: number; pitch: bigint; isProved: boolean; moves: number[]; differences: TimingFinding[];
}

export interface ModeEffect { set: number; value: bigint; u: number; isSignificant: boolean }

export interface PhotoLook {
    hashes: bigint[]; isFlat: boolean; mean: number; dark: number; bright: number; sharpness: number; contrast: number;
}

interface Exports {
    memory: WebAssembly.Memory;
    mw_alloc(size: number): number;
    mw_reset(): void;
    [name: string]: unknown;
}

const encoder = new TextEncoder();
const decoder = new TextDecoder();
const TEXT_ROOM = 512;

export class Core {
    private constructor(private readonly x: Exports) {}

    static async load(bytes: BufferSource): Promise<Core> {
        const { instance } = await WebAssembly.instantiate(bytes, {});
        return new Core(instance.exports as unknown as Exports);
    }

    // ---- memory: one call at a time; open for core/practice.ts, which is loaded later ----

    begin(): void { this.x.mw_reset(); }

    room(bytes: number): number {
        const at = this.x.mw_alloc(Math.max(bytes, 1));
        if (at === 0) throw new CoreError(12, -1, 'memory ran out');
        new Uint8Array(this.x.memory.buffer, at, bytes).fill(0);
        return at;
    }

    private bytes(data: Uint8Array): number {
        const at = this.room(data.length + 1);
        new Uint8Array(this.x.memory.buffer, at, data.length).set(data);
        return at;
    }

    private text(text: string): [at: number, size: number] {
        const data = encoder.encode(text);
        return [this.bytes(data), data.length];
    }

    /** A list of texts, each closed by NUL. */
    private texts(list: readonly string[]): [at: number, size: number] {
        return this.text(list.map((t) => t + '\0').join(''));
    }

    longs(list: readonly (bigint | number | boolean)[]): number {
        const at = this.room(8 * list.length);
        new BigInt64Array(this.x.memory.buffer, at, list.length).set(list.map((v) => BigInt(v)));
        return at;
    }

    private doubles(list: readonly number[]): number {
        const at = this.room(8 * list.length);
        new Float64Array(this.x.memory.buffer, at, list.length).set(list);
        return at;
    }

    private uints(list: readonly number[]): number {
        const at = this.room(4 * list.length);
        new Uint32Array(this.x.memory.buffer, at, list.length).set(list);
        return at;
    }

    longsAt(at: number, n: number): bigint[] { return [...new BigInt64Array(this.x.memory.buffer, at, n)]; }
    doublesAt(at: number, n: number): number[] { return [...new Float64Array(this.x.memory.buffer, at, n)]; }

    private textAt(at: number, room = TEXT_ROOM): string {
        const bytes = new Uint8Array(this.x.memory.buffer, at, room);
        const end = bytes.indexOf(0);
        return decoder.decode(bytes.slice(0, end < 0 ? room : end));
    }

    private call(name: string, ...args: (number | bigint)[]): number {
        return (this.x[name] as (...a: (number | bigint)[]) => number)(...args);
    }

    /** Calls a function that fails by number; `ret` is where it then puts the place. */
    must(ret: number, name: string, ...args: (number | bigint)[]): void {
        const code = this.call(name, ...args);
        if (code === 0) return;
        const at = Number(new BigInt64Array(this.x.memory.buffer, ret, 1)[0]);
        throw new CoreError(code, at, this.errText(code));
    }

    errText(code: number): string {
        const buf = this.room(TEXT_ROOM);
        this.call('mw_err_text', code, buf, TEXT_ROOM);
        return this.textAt(buf);
    }

    // ---- amounts and dates ----

    unitNumber(name: string): number {
        this.begin();
        return this.call('mw_unit_find', ...this.text(name));
    }

    parse(text: string, bare: Unit | null): Quantity {
        this.begin();
        const ret = this.room(32), [at, n] = this.text(text);
        this.must(ret, 'mw_quantity_parse', at, n, bare === null ? UNITS.length : UNITS.indexOf(bare), ret);
        const [nano, dim, unit, isRounded] = this.longsAt(ret, 4);
        return { nano: nano!, dim: DIMS[Number(dim)]!, unit: UNITS[Number(unit)]!, isRounded: isRounded !== 0n };
    }

    fromDouble(value: number, unit: Unit): bigint {
        this.begin();
        const ret = this.room(8);
        this.must(ret, 'mw_quantity_from_double', value, UNITS.indexOf(unit), ret);
        return this.longsAt(ret, 1)[0]!;
    }

    /** decimals null: as many as needed, and no unit. */
    show(nano: bigint, unit: Unit, decimals: number | null): { text: string; isRounded: boolean } {
        this.begin();
        const buf = this.room(64), ret = this.room(16);
        this.must(ret, 'mw_quantity_show', nano, UNITS.indexOf(unit), decimals ?? -1, buf, ret);
        return { text: this.textAt(buf, 64), isRounded: this.longsAt(ret, 2)[1] !== 0n };
    }

    /** Inches as a mixed fraction with that denominator at most. */
    fraction(nm: bigint, denominator: number): { text: string; isRounded: boolean } {
        this.begin();
        const buf = this.room(64), ret = this.room(16);
        this.must(ret, 'mw_length_fraction', nm, denominator, buf, ret);
        return { text: this.textAt(buf, 64), isRounded: this.longsAt(ret, 2)[1] !== 0n };
    }

    dateShow(day: number): string {
        this.begin();
        const buf = this.room(16), ret = this.room(24);
        this.must(ret, 'mw_date_show', day, buf, ret);
        return this.textAt(buf, 11);
    }

    ulidNext(last: string, timeMs: number, random: Uint8Array): string {
        this.begin();
        const ret = this.room(8), name = this.room(27), [at, n] = this.text(last);
        this.must(ret, 'mw_ulid_next', at, n, BigInt(timeMs), this.bytes(random), ret, name);
        return this.textAt(name, 27);
    }

    // ---- the unit and its labels ----

    vinCheck(text: string): VinCheck {
        this.begin();
        const ret = this.room(56), vin = this.room(18), [at, n] = this.text(text);
        const fault = this.call('mw_vin_check', at, n, ret, vin);
        const row = this.longsAt(ret, 7).map(Number);
        const letter = (code: number) => (code > 0 ? String.fromCharCode(code) : '');
        return {
            fault: (['none', 'length', 'character', 'check'] as const)[fault] ?? 'length', at: row[1]!, expected: letter(row[2]!), found: letter(row[3]!),
            years: row.slice(5, 5 + Math.min(row[4]!, 2)), vin: this.textAt(vin, 18),
        };
    }

    vinRepair(text: string): VinRepair[] {
        this.begin();
        const ret = this.room(24 * 40), vins = this.room(24 * 18), [at, n] = this.text(text);
        const count = this.call('mw_vin_repair', at, n, this.room(1), 0, ret, vins);
        const rows = this.longsAt(ret, 24 * 5).map(Number);
        return Array.from({ length: count }, (_, i) => ({
            vin: this.textAt(vins + 18 * i, 18), kind: (['misread', 'swap', 'known'] as const)[rows[5 * i]!] ?? 'misread', at: rows[5 * i + 1]!,
            was: String.fromCharCode(rows[5 * i + 2]!), now: String.fromCharCode(rows[5 * i + 3]!),
        }));
    }

    labelRead(text: string, patterns: readonly string[]): Label {
        this.begin();
        const ret = this.room(24), variant = this.room(32), [at, n] = this.text(text), [list, size] = this.texts(patterns);
        this.must(ret, 'mw_label_read', at, n, list, size, patterns.length, ret, variant);
        const [first, last, pattern] = this.longsAt(ret, 3).map(Number);
        return { first: first!, last: last!, pattern: pattern!, variant: this.textAt(variant, 25) };
    }

    scope(c: ScopeCall): ScopeAnswer {
        this.begin();
        const n = c.sights.length, row = 512;
        const [vin, vinSize] = this.text(c.vin);
        const [variants, variantsSize] = this.texts(c.variants);
        const [codes, codesSize] = this.texts(c.codes.map((x) => x.text));
        const [prefixes, prefixesSize] = this.texts(c.prefixes);
        const [sightVariants, sightsSize] = this.texts(c.sights.flatMap((s) => [s.label?.variant ?? '', s.given]));
        const counts = this.uints([n, c.variants.length, c.codes.length, c.windows.length, c.prefixes.length, vinSize]);
        const sizes = this.uints([variantsSize, codesSize, prefixesSize, sightsSize, row]);
        const states = { unread: 0, read: 1, ambiguous: 2 } as const;
        const ret = this.room(8 * (2 + 7 * n)), texts = this.room(2 * n * row);
        this.must(ret, 'mw_scope', counts, sizes, vin, c.vinRule, variants, codes, this.longs(c.codes.map((x) => x.variant)), prefixes,
            this.longs(c.windows.flatMap((w) => [w.variant, -1, w.first, w.last])),
            this.longs(c.sights.flatMap((s) => [states[s.state], s.label?.first ?? 0, s.label?.last ?? 0, s.label?.pattern ?? 0])),
            sightVariants, ret, texts);
        const out = this.longsAt(ret, 2 + 7 * n).map(Number);
        return {
            unit: SCOPE_VERDICTS[out[0]!]!, hasVinWarning: out[1] !== 0,
            stations: c.sights.map((_, i) => {
                const f = out.slice(2 + 7 * i, 9 + 7 * i);
                return {
                    verdict: SCOPE_VERDICTS[f[0]!]!, reason: SCOPE_REASONS[f[1]!]!, window: f[2]!, variant: f[3]!, hasDays: f[4] !== 0, first: f[5]!,
                    last: f[6]!, why: this.textAt(texts + 2 * i * row, row), settle: this.textAt(texts + (2 * i + 1) * row, row),
                };
            }),
        };
    }

    // ---- cutting ----

    private pieceRow(p: Piece): (bigint | number | boolean)[] {
        return [p.stock, p.isReady, p.relief, p.kerf, p.least, p.greatest, p.offcutMax, p.blade, p.module, p.firstTooth !== null,
            p.firstTooth ?? 0n, p.sliver, p.fit];
    }

    cutPlan(piece: Piece, needed: bigint, u: CutU, show: 'mm' | 'in'): CutPlan {
        this.begin();
        const ret = this.room(56), real = this.room(24), text = this.room(TEXT_ROOM);
        this.must(ret, 'mw_cut_plan', this.longs(this.pieceRow(piece)), needed, this.doubles([u.tape, u.blade, u.stock]), UNITS.indexOf(show), ret, real, text);
        const [status, need, stock, mark, kerf, offcut, warnings] = this.longsAt(ret, 7);
        const [markU, toothFraction, partTooth] = this.doublesAt(real, 3);
        return {
            status: CUT_STATUS[Number(status)]!, needed: need!, stock: stock!, mark: mark!, kerf: kerf!, offcut: offcut!,
            warnings: CUT_WARNINGS.filter((_, i) => (warnings! >> BigInt(i)) & 1n), markU: markU!, toothFraction: toothFraction!,
            partTooth: partTooth!, text: this.textAt(text),
        };
    }

    /** The two lengths of one rack or one unit that disagree most beyond what the tape explains; null when none do. */
    cutRemeasure(lengths: readonly bigint[], tapeU: number, factor: number): { a: number; b: number; apart: bigint } | null {
        this.begin();
        const ret = this.room(24);
        const found = this.call('mw_cut_remeasure', this.longs(lengths), this.longs(lengths.map(() => 0)), lengths.length, tapeU, factor, ret);
        const [a, b, apart] = this.longsAt(ret, 3);
        return found === 1 ? { a: Number(a), b: Number(b), apart: apart! } : null;
    }

    kitChoose(kits: readonly KitRow[], nAttributes: number, need: KitNeed, u: CutU): KitAnswer {
        this.begin();
        const ret = this.room(8 * (2 + 6 * kits.length));
        this.must(ret, 'mw_kit_choose', this.longs(kits.flatMap((k) => [0xffffffff, k.pieces.length, 0, ...k.values])), kits.length, nAttributes,
            this.longs(kits.flatMap((k) => k.pieces.flatMap((p) => [p.rack, ...this.pieceRow(p.piece)]))),
            this.longs([need.station, need.racks.length, ...need.values, ...need.racks.flatMap((r) => [r.rack, r.needed])]),
            this.doubles([u.tape, u.blade, u.stock]), ret);
        const out = this.longsAt(ret, 2 + 6 * kits.length);
        return {
            chosen: Number(out[0]), open: out[1]!, kits: kits.map((_, i) => {
                const f = out.slice(2 + 6 * i, 8 + 6 * i);
                return { reason: KIT_REASONS[Number(f[0])]!, attribute: Number(f[1]), rack: Number(f[2]), fits: f[3] !== 0n, nCuts: Number(f[4]), offcut: f[5]! };
            }),
        };
    }

    gearSpan(module: bigint, nTeeth: number): bigint {
        this.begin();
        const ret = this.room(8);
        this.must(ret, 'mw_gear_span', module, BigInt(nTeeth), ret);
        return this.longsAt(ret, 1)[0]!;
    }

    // ---- readings and limits ----

    combine(resolution: bigint, calibrationU: number, repeatU: number): number {
        return this.call('mw_conform_combine', resolution, calibrationU, repeatU);
    }

    conform(reading: bigint, u: number, low: bigint, high: bigint, risk: number): Conform {
        this.begin();
        const ret = this.room(48), p = this.room(8);
        this.must(ret, 'mw_conform', reading, u, low, high, risk, ret, p);
        const [simple, guarded, guard, gLow, gHigh, margin] = this.longsAt(ret, 6);
        return { simple: verdictOf(simple!), guarded: verdictOf(guarded!), guard: guard!, low: gLow!, high: gHigh!, margin: margin!, p: this.doublesAt(p, 1)[0]! };
    }

    modes(points: readonly { levels: number[]; deviation: bigint; u: number }[], k: number): ModeEffect[] {
        this.begin();
        const n = points.length, ret = this.room(32 * n), u = this.room(8 * n);
        this.must(ret, 'mw_modes', this.longs(points.flatMap((p) => [...p.levels, p.deviation])), this.doubles(points.map((p) => p.u)), n, k, ret, u);
        const rows = this.longsAt(ret, 4 * n), us = this.doublesAt(u, n);
        return us.map((each, i) => ({ set: Number(rows[4 * i]), value: rows[4 * i + 2]!, u: each, isSignificant: rows[4 * i + 3] !== 0n }));
    }

    // ---- truing and timing ----

    /** planRisk: aims at limits that keep all readings together inside (core/advise); 0: not. */
    truing(points: readonly TruingPoint[], adjusters: readonly TruingAdjuster[], risk: number, nPlans: number, planRisk = 0): TruingAnswer {
        this.begin();
        const n = points.length, m = adjusters.length;
        const size = this.call('mw_truing_size', n, m, nPlans);
        if (size === 0) throw new CoreError(ERR.LIMIT, -1, this.errText(ERR.LIMIT));
        const ret = this.room(8 * size), p = this.room(8 * (1 + nPlans) * n);
        this.must(ret, 'mw_advise', this.longs(points.flatMap((x) => [x.nominal, x.low, x.high, x.reading])), this.doubles(points.map((x) => x.u)), n,
            this.longs(adjusters.flatMap((a) => [a.min, a.max, a.setupS, a.stepS])), m, this.longs(adjusters.flatMap((a) => a.effects)), risk, planRisk, nPlans, 0n, ret, p);
        const out = this.longsAt(ret, size), ps = this.doublesAt(p, (1 + nPlans) * n);
        const width = 3 + m + n;
        return {
            verdict: verdictOf(out[0]!), worstViolation: out[1]!, isProved: out[3] !== 0n, nodes: Number(out[4]),
            points: points.map((_, i) => ({ verdict: verdictOf(out[8 + 3 * i]!), low: out[9 + 3 * i]!, high: out[10 + 3 * i]!, p: ps[i]! })),
            plans: Array.from({ length: Number(out[2]) }, (_, k) => {
                const row = out.slice(8 + 3 * n + width * k, 8 + 3 * n + width * (k + 1));
                return {
                    costS: Number(row[0]), worstViolation: row[1]!, leastMargin: row[2]!, steps: row.slice(3, 3 + m).map(Number), predicted: row.slice(3 + m),
                    p: ps.slice((1 + k) * n, (2 + k) * n),
                };
            }),
        };
    }

    timing(racks: readonly TimingRack[], differences: readonly TimingDifference[], module: bigint, risk: number): TimingAnswer {
        this.begin();
        const n = racks.length, d = differences.length;
        const ret = this.room(8 * (5 + n + 6 * d)), real = this.room(24 * d);
        this.must(ret, 'mw_timing', this.longs(racks.flatMap((r) => [r.end, r.min, r.max, r.setupS, r.stepS])), this.doubles(racks.map((r) => r.u)), n,
            this.longs(differences.flatMap((x) => [x.a, x.b, x.nominal, x.low, x.high])), d, module, risk, ret, real);
        const out = this.longsAt(ret, 5 + n + 6 * d), reals = this.doublesAt(real, 3 * d);
        return {
            verdict: TIMING_VERDICTS[Number(out[0])]!, worst: Number(out[1]), pitch: out[2]!, isProved: out[3] !== 0n, moves: out.slice(5, 5 + n).map(Number),
            differences: differences.map((_, i) => {
                const f = out.slice(5 + n + 6 * i, 11 + n + 6 * i);
                return {
                    meaning: TIMING_MEANINGS[Number(f[0])]!, verdict: verdictOf(f[1]!), before: f[2]!, after: f[3]!, teeth: Number(f[4]), isWhole: f[5] !== 0n,
                    u: reals[3 * i]!, residue: reals[3 * i + 1]!, residueU: reals[3 * i + 2]!,
                };
            }),
        };
    }

    // ---- photos ----

    photo(grey: Uint8Array, width: number, height: number): PhotoLook {
        this.begin();
        const ret = this.room(40), real = this.room(40);
        this.must(ret, 'mw_photo', this.bytes(grey), width, height, ret, real);
        const row = this.longsAt(ret, 5), [mean, dark, bright, sharpness, contrast] = this.doublesAt(real, 5);
        return { hashes: row.slice(0, 4), isFlat: row[4] !== 0n, mean: mean!, dark: dark!, bright: bright!, sharpness: sharpness!, contrast: contrast! };
    }

    photosAlike(a: readonly bigint[], b: readonly bigint[]): boolean {
        this.begin();
        return this.call('mw_photo_alike', this.longs(a), this.longs(b)) !== 0;
    }
}
