// practice: the door to the unit that people learn on (src/core/practice.h, mw_practice). A game is a seed, its faults and the list of operations so
// far; every call plants the unit anew and goes through them all, so undo is a shorter list and a saved game is the list. Nothing here computes
// but sums of what the core gave. Loaded with the practice pages, not with the first load.
import type { Core, TruingAdjuster } from './core';

/** In the order of PRACTICE_FAULT_TABLE; a test holds these lists to the C source. */
export const FAULTS = ['teeth', 'cut', 'key', 'packing', 'toe', 'offset', 'yaw', 'lean', 'twist', 'width', 'taper', 'opening', 'wear', 'supply', 'lead', 'drag',
    'hook', 'scale', 'habit', 'parallax'] as const;
export type FaultKind = (typeof FAULTS)[number];
export const OPS = ['run', 'read-gap', 'read-end', 'count-teeth', 'read-volts', 'read-amps', 'read-time', 'check-tape', 'change-tape', 'support', 'isolate', 'jump',
    'pack', 'toe', 'renew-rack', 'renew-key', 'ease', 'renew-lead', 'charge', 'finish'] as const;
export type OpName = (typeof OPS)[number];
/** Seconds once, and for each step; a run also takes its own time. */
export const SECONDS: Readonly<Record<OpName, readonly [number, number]>> = {
    'run': [30, 0], 'read-gap': [30, 0], 'read-end': [45, 0], 'count-teeth': [60, 0], 'read-volts': [60, 0], 'read-amps': [60, 0], 'read-time': [10, 0], 'check-tape': [60, 0],
    'change-tape': [60, 0], 'support': [300, 0], 'isolate': [120, 0], 'jump': [720, 120], 'pack': [600, 30], 'toe': [900, 45], 'renew-rack': [2700, 0], 'renew-key': [3600, 0],
    'ease': [900, 0], 'renew-lead': [1800, 0], 'charge': [2400, 0], 'finish': [0, 0],
};
export const REFUSALS = ['fine', 'not-here', 'no-power', 'run-first', 'no-range', 'as-it-is', 'over'] as const;
export type Refusal = (typeof REFUSALS)[number];
export const CAUTIONS = ['unsupported', 'live', 'on-stands', 'not-run', 'not-read'] as const;
export type CautionName = (typeof CAUTIONS)[number];
export const ENDS = ['arrived', 'stalled', 'tripped', 'bound', 'late'] as const;
export const SIDES = ['fore', 'aft'] as const, PLACES = ['lower', 'upper'] as const;
export const SEE = { gaps: 1, ends: 2, meter: 4, apart: 8, scrape: 16 } as const;
export const PACK_MOST = 6, TOE_MOST = 4, JUMP_MOST = 3, TRAVEL_NM = 960000000, GAP_AT_NM: readonly number[] = [150000000, 960000000];
/** practice_perfect's limits, which are the demo bulletin's; a test holds them to its file. */
export const LIMITS = {
    gap: { nominal: 58000000n, low: 56000000n, high: 61000000n }, end: 1200000n, volts: { low: 11800000000n, high: 14800000000n }, ampsOut: 22000000000n, ampsIn: 24000000000n,
    time: { low: 24000000000n, high: 34000000000n },
} as const;
/** Bits of Score.inside. */
export const INSIDE = { gaps: 0xff, fore: 0x100, aft: 0x200, volts: 0x400, amps: 0x800, time: 0x1000, keys: 0x2000 } as const;

export interface Fault { fault: FaultKind; side: 0 | 1; place: 0 | 1; amount: number }
/** op, side (0 fore), place (0 lower), amount; as the record of a result has them. */
export type Op = readonly [op: number, side: number, place: number, amount: number];
/** spread null: the faults are planted; else a unit is drawn by seed and faults are none of ours. */
export interface Unit { seed: number; spread: number | null; faults: readonly Fault[] }

export interface Rack { gap: bigint; depth: bigint; teeth: number; off: bigint; packing: number }
export interface Scene {
    extension: number; sees: number; end: (typeof ENDS)[number]; isSupported: boolean; isIsolated: boolean; isFinished: boolean; yaw: number; lean: number;
    /** fore lower, fore upper, aft lower, aft upper */ racks: Rack[]; toe: [number, number]; at: [number, number];
    volts: [number, number]; amps: [number, number]; twist: [number, number]; feed: number; time: number; apart: number; energy: number;
}
export interface Score {
    isInside: boolean; inside: number; cautions: number; nCautions: number; moves: number; readings: number; runs: number; seconds: number; worstGap: bigint;
    /** fore upper in, out, fore lower in, out, the same for aft */ gaps: bigint[];
}
export interface Result { refusal: Refusal; cautions: CautionName[]; nano: bigint; seconds: number }
export interface Played { scene: Scene; score: Score; results: Result[] }
export interface Sample { time: number; at: [number, number]; amps: [number, number]; volts: [number, number] }
export interface Trace { samples: Sample[]; end: (typeof ENDS)[number] }

export const opNumber = (name: OpName): number => OPS.indexOf(name);
export const opOf = (name: OpName, side = 0, place = 0, amount = 0): Op => [opNumber(name), side, place, amount];
export const opName = (op: Op): OpName => OPS[op[0]]!;
/** What an operation takes, without the run's own time. */
export const secondsOf = (name: OpName, amount: number): number => SECONDS[name][0] + SECONDS[name][1] * Math.abs(amount);
/** Everything that changes the unit: readings before it are stale. */
export const isChange = (name: OpName): boolean => opNumber(name) >= opNumber('jump') && opNumber(name) <= opNumber('charge');
export const isReading = (name: OpName): boolean => opNumber(name) >= opNumber('read-gap') && opNumber(name) <= opNumber('check-tape');

const pairOf = (list: number[], at: number): [number, number] => [list[at]!, list[at + 1]!];

function given(core: Core, unit: Unit, ops: readonly Op[]): [bigint, number, number, number, number, number] {
    const faults = core.longs(unit.faults.flatMap((f) => [FAULTS.indexOf(f.fault), f.side, f.place, f.amount]));
    return [BigInt(unit.seed), unit.spread ?? -1, faults, unit.faults.length, core.longs(ops.flat()), ops.length];
}

/** Plays a whole game. CoreError: at is the index of the fault or operation that there is not. */
export function play(core: Core, unit: Unit, ops: readonly Op[]): Played {
    core.begin();
    const n = 47 + 4 * ops.length, ret = core.room(8 * n), real = core.room(96);
    core.must(ret, 'mw_practice', ...given(core, unit, ops), ret, real);
    const out = core.longsAt(ret, n), r = core.doublesAt(real, 12), num = (i: number) => Number(out[i]);
    return {
        scene: {
            extension: num(0), sees: num(1), end: ENDS[num(2)] ?? 'late', isSupported: out[3] !== 0n, isIsolated: out[4] !== 0n, isFinished: out[5] !== 0n, yaw: num(6), lean: num(7),
            racks: [0, 1, 2, 3].map((i) => ({ gap: out[8 + i]!, depth: out[12 + i]!, teeth: num(16 + i), off: out[20 + i]!, packing: num(24 + i) })), toe: [num(28), num(29)],
            at: pairOf(r, 0), volts: pairOf(r, 2), amps: pairOf(r, 4), twist: pairOf(r, 6), feed: r[8]!, time: r[9]!, apart: r[10]!, energy: r[11]!,
        },
        score: {
            isInside: out[30] !== 0n, inside: num(31), cautions: num(32), nCautions: num(33), moves: num(34), readings: num(35), runs: num(36), seconds: num(37), worstGap: out[38]!,
            gaps: out.slice(39, 47),
        },
        results: ops.map((_, i) => ({
            refusal: REFUSALS[num(47 + 4 * i)] ?? 'over', cautions: CAUTIONS.filter((_c, bit) => (num(48 + 4 * i) >> bit) & 1), nano: out[49 + 4 * i]!, seconds: num(50 + 4 * i),
        })),
    };
}

/** How a run to toNm would go, a sample each `every` seconds. CoreError where the run would be refused. */
export function trace(core: Core, unit: Unit, ops: readonly Op[], toNm: number, every: number, most = 2400): Trace {
    core.begin();
    const ret = core.room(16), real = core.room(8 * 7 * most);
    core.must(ret, 'mw_practice_trace', ...given(core, unit, ops), BigInt(toNm), every, most, ret, real);
    const [n, end] = core.longsAt(ret, 2).map(Number) as [number, number], rows = core.doublesAt(real, 7 * n);
    return {
        end: ENDS[end] ?? 'late',
        samples: Array.from({ length: n }, (_, i) => ({ time: rows[7 * i]!, at: pairOf(rows, 7 * i + 1), amps: pairOf(rows, 7 * i + 3), volts: pairOf(rows, 7 * i + 5) })),
    };
}

/** The six that truing may move: packing fore upper, fore lower, aft upper, aft lower, toe fore, aft; as operations of one step. */
export const ADJUSTERS: readonly (readonly [OpName, number, number])[] = [['pack', 0, 1], ['pack', 0, 0], ['pack', 1, 1], ['pack', 1, 0], ['toe', 0, 0], ['toe', 1, 0]];

/** What one step of each does to the eight gaps: by moving it on a sound unit. moved: steps so far, which limit what is left. */
export function adjusters(core: Core, moved: readonly number[]): TruingAdjuster[] {
    const sound: Unit = { seed: 0, spread: null, faults: [] }, before = play(core, sound, []).score.gaps;
    return ADJUSTERS.map(([name, side, place], a) => {
        const after = play(core, sound, [opOf(name, side, place, 1)]).score.gaps, most = name === 'toe' ? TOE_MOST : PACK_MOST, at = moved[a] ?? 0;
        return { min: Math.min(0, -most - at), max: Math.max(0, most - at), setupS: SECONDS[name][0], stepS: SECONDS[name][1], effects: after.map((g, i) => g - before[i]!) };
    });
}
