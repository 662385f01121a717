// account: what a game comes to, worked out by replaying it: the notebook of readings, the time line, the best plan, and for each planted fault which
// reading would have told it and which of the learner's did. Pure; computes by asking the core and comparing.
import type { Conform, Core } from '../core/core';
import { ADJUSTERS, adjusters, Fault, GAP_AT_NM, INSIDE, isChange, isReading, LIMITS, Op, opName, OpName, opOf, Played, play, Result, Unit, JUMP_MOST, TRAVEL_NM } from '../core/practice';

// ---- instruments ----

export type Instrument = 'gauge' | 'steel' | 'depth' | 'meter' | 'eye';
/** core/tape.h: mark, calibration, repeat, nm. */
const TAPES = { gauge: [100000n, 50000, 150000], steel: [1000000n, 300000, 400000], depth: [50000n, 20000, 40000] } as const;
const METER_U = 1e8 / Math.sqrt(12); // shown to a tenth (JCGM 100:2008, 4.3.7)

export function uOf(core: Core, with_: Instrument): number {
    return with_ === 'eye' ? 0 : with_ === 'meter' ? METER_U : core.combine(TAPES[with_][0], TAPES[with_][1], TAPES[with_][2]);
}

/** Whoever reads badly begins with the steel tape (practice_plant.c). */
export function tapeAt(unit: Unit, ops: readonly Op[], results: readonly Result[], before: number): 'gauge' | 'steel' {
    const isSteel = unit.spread === null && unit.faults.some((f) => ['hook', 'scale', 'habit', 'parallax'].includes(f.fault));
    return isSteel && !ops.slice(0, before).some((op, i) => opName(op) === 'change-tape' && results[i]!.refusal === 'fine') ? 'steel' : 'gauge';
}

// ---- the notebook ----

export interface Reading {
    key: string; i: number; name: OpName; side: number; place: number; /** of a gap: 0 in, 1 out; of amperes: 0 in, 1 out; else 0 */ travel: number;
    nano: bigint; u: number; with: Instrument; isStale: boolean; /** since the beginning, s, when it was taken */ atS: number;
}

const withOf = (name: OpName, tape: 'gauge' | 'steel'): Instrument => (name === 'read-gap' || name === 'check-tape' ? tape : name === 'read-end' ? 'depth' : name === 'count-teeth' ? 'eye' : 'meter');

/** Every reading in the order it was taken. */
export function readingsOf(core: Core, unit: Unit, ops: readonly Op[], results: readonly Result[]): Reading[] {
    const list: Reading[] = [];
    let to = 0, was = 0, seconds = 0, lastChange = -1;
    ops.forEach((op, i) => {
        const name = opName(op), r = results[i]!;
        if (r.refusal !== 'fine') return;
        seconds += r.seconds;
        if (name === 'run') { was = to; to = op[3]; }
        if (isChange(name)) lastChange = i;
        if (!isReading(name)) return;
        const isPlaced = name === 'read-gap' || name === 'read-end' || name === 'count-teeth', side = isPlaced || name === 'read-volts' ? op[1] : 0, place = isPlaced ? op[2] : 0;
        const travel = name === 'read-gap' ? (to === GAP_AT_NM[1] ? 1 : 0) : name === 'read-amps' || name === 'read-time' || name === 'read-volts' ? (to > was ? 1 : 0) : 0;
        const with_ = withOf(name, tapeAt(unit, ops, results, i));
        list.push({ key: `${name}/${side}/${place}/${travel}`, i, name, side, place, travel, nano: r.nano, u: uOf(core, with_), with: with_, isStale: false, atS: seconds });
    });
    return list.map((x) => ({ ...x, isStale: x.name !== 'check-tape' && x.i < lastChange }));
}

/** The last of each place. */
export function latest(list: readonly Reading[]): Map<string, Reading> {
    return new Map(list.map((r) => [r.key, r]));
}

export interface Limits { low: bigint; high: bigint; nominal: bigint }
/** null: a reading without limits of its own. */
export function limitsOf(r: Pick<Reading, 'name' | 'travel'>): Limits | null {
    const none = -(2n ** 63n);
    switch (r.name) {
        case 'read-gap': return LIMITS.gap;
        case 'read-volts': return r.travel === 1 ? { ...LIMITS.volts, nominal: 13200000000n } : null;
        case 'read-amps': return { low: none, high: r.travel === 1 ? LIMITS.ampsOut : LIMITS.ampsIn, nominal: r.travel === 1 ? 14000000000n : 16000000000n };
        case 'read-time': return r.travel === 1 ? { ...LIMITS.time, nominal: 29000000000n } : null;
        default: return null;
    }
}
export const RISK = 0.05; // of the demo's bulletin, a reading
export function judge(core: Core, r: Reading): Conform | null {
    const l = limitsOf(r);
    return l === null ? null : core.conform(r.nano, r.u, l.low, l.high, RISK);
}

// ---- the time line ----

export interface Line { i: number; op: Op; name: OpName; result: Result; fromS: number }
export function timeline(ops: readonly Op[], results: readonly Result[]): Line[] {
    let seconds = 0;
    return ops.map((op, i) => {
        const line = { i, op, name: opName(op), result: results[i]!, fromS: seconds };
        seconds += results[i]!.seconds;
        return line;
    });
}

// ---- the best plan ----

/** What puts one fault right; null: truing does, or nothing needs to. */
export function remedyOf(f: Fault): Op | null {
    switch (f.fault) {
        case 'cut': case 'wear': return opOf('renew-rack', f.side, f.place);
        case 'key': return opOf('renew-key', f.side, f.place);
        case 'supply': return opOf('charge');
        case 'lead': return opOf('renew-lead', f.side);
        case 'drag': return opOf('ease', f.side, f.place);
        default: return null;
    }
}

export interface Best { ops: Op[]; moves: number; seconds: number; isInside: boolean }
const NOT_GAPS = INSIDE.fore | INSIDE.aft | INSIDE.volts | INSIDE.amps | INSIDE.time | INSIDE.keys;
const isEarly = (op: Op) => ['ease', 'renew-lead', 'charge'].includes(opName(op));

/** With those repairs, all on stands and off the battery, and read again at the end. */
function whole(repairs: readonly Op[], hasBadTape: boolean): Op[] {
    const early = repairs.filter(isEarly), late = repairs.filter((op) => !isEarly(op)), gaps = [0, 1].flatMap((side) => [1, 0].map((place) => opOf('read-gap', side, place)));
    return [
        ...(early.length === 0 ? [] : [opOf('isolate', 0, 0, 1), ...early, opOf('isolate', 0, 0, 0)]),
        opOf('run', 0, 0, TRAVEL_NM),
        ...(late.length === 0 ? [] : [opOf('support', 0, 0, 1), opOf('isolate', 0, 0, 1), ...late, opOf('isolate', 0, 0, 0), opOf('support', 0, 0, 0)]),
        ...(hasBadTape ? [opOf('change-tape')] : []),
        opOf('run', 0, 0, GAP_AT_NM[0]), ...gaps, opOf('run', 0, 0, GAP_AT_NM[1]), ...gaps, opOf('finish'),
    ];
}

/** Fewest moves, then fewest seconds, of: some of the repairs that the faults ask for, racks jumped back into step, and truing's first plan for the
 * true gaps that are then left. By the truth: whoever only has a gauge needs readings first, so the learner's account may be longer. */
export function bestPlan(core: Core, unit: Unit): Best | null {
    const found = new Map<string, Op>(), add = (op: Op) => found.set(op.join(), op), faults = unit.spread === null ? unit.faults : [];
    for (const f of faults) { const op = remedyOf(f); if (op !== null) add(op); }
    // Teeth as they stand once the room is out, for a rack may slip on its way.
    const early = [...found.values()].filter(isEarly), out = [...(early.length === 0 ? [] : [opOf('isolate', 0, 0, 1), ...early, opOf('isolate', 0, 0, 0)]), opOf('run', 0, 0, TRAVEL_NM)];
    play(core, unit, out).scene.racks.forEach((rack, i) => { if (rack.teeth !== 0 && Math.abs(rack.teeth) <= JUMP_MOST) add(opOf('jump', i >> 1, i & 1, -rack.teeth)); });
    const repairs = [...found.values()].slice(0, 6), hasBadTape = tapeAt(unit, [], [], 0) === 'steel', moves = adjusters(core, [0, 0, 0, 0, 0, 0]);
    let best: Best | null = null;
    for (let mask = 0; mask < 1 << repairs.length; mask++) {
        const some = repairs.filter((_, k) => (mask >> k) & 1), left = play(core, unit, whole(some, hasBadTape)).score;
        if ((left.inside & NOT_GAPS) !== NOT_GAPS) continue;
        const points = left.gaps.map((reading) => ({ ...LIMITS.gap, reading, u: 1 })), plan = core.truing(points, moves, 0, 1).plans[0];
        const packed = plan === undefined ? [] : plan.steps.flatMap((n, a) => (n === 0 ? [] : [opOf(...ADJUSTERS[a]!, n)]));
        const ops = whole([...some, ...packed], hasBadTape), score = play(core, unit, ops).score;
        if (!score.isInside && best?.isInside !== undefined) continue;
        if (best === null || (score.isInside && !best.isInside) || score.moves < best.moves || (score.moves === best.moves && score.seconds < best.seconds))
            best = { ops, moves: score.moves, seconds: score.seconds, isInside: score.isInside };
    }
    return best;
}

// ---- what would have told it ----

export interface Sight { name: OpName; side: number; place: number; travel: number; /** what the fault adds to it */ change: bigint; /** from the beginning, s */ seconds: number }
export interface Told { fault: Fault; /** cheapest first */ sights: Sight[]; /** the learner's first reading that told it: index of the operation; null: none did */ first: number | null; firstS: number }

/** Whether a reading tells the fault: it differs by more than two standard uncertainties from that of the same unit without it, and stands outside its
 * limits where it has some. A count or a block says it by itself. */
function tells(r: { name: OpName; travel: number; u: number }, with_: bigint, without: bigint): boolean {
    const change = with_ > without ? with_ - without : without - with_, limits = limitsOf(r);
    if (change === 0n || Number(change) <= 2 * r.u) return false;
    return limits === null || with_ < limits.low || with_ > limits.high;
}

/** Every sight there is, each with the fewest operations before it. */
function inspections(): Op[][] {
    const out = opOf('run', 0, 0, GAP_AT_NM[1]), near = opOf('run', 0, 0, GAP_AT_NM[0]), places = [0, 1].flatMap((side) => [1, 0].map((place) => [side, place] as const));
    return [
        [opOf('check-tape')],
        ...places.map(([s, p]) => [near, opOf('read-gap', s, p)]), ...places.map(([s, p]) => [out, opOf('read-gap', s, p)]),
        ...places.map(([s, p]) => [out, opOf('read-end', s, p)]), ...places.map(([s, p]) => [out, opOf('isolate', 0, 0, 1), opOf('count-teeth', s, p)]),
        [out, opOf('read-time')], [out, opOf('read-volts', 0)], [out, opOf('read-volts', 1)], [out, opOf('read-amps')], [out, opOf('run', 0, 0, 0), opOf('read-amps')],
    ];
}

export function whatTold(core: Core, unit: Unit, ops: readonly Op[], played: Played): Told[] {
    if (unit.spread !== null) return [];
    return unit.faults.map((fault, k) => {
        const without: Unit = { ...unit, faults: unit.faults.filter((_, j) => j !== k) }, sights: Sight[] = [];
        for (const list of inspections()) {
            const a = play(core, unit, list), b = play(core, without, list), r = readingsOf(core, unit, list, a.results)[0], last = list.length - 1;
            if (r === undefined || b.results[last]!.refusal !== 'fine' || !tells(r, r.nano, b.results[last]!.nano)) continue;
            sights.push({ name: r.name, side: r.side, place: r.place, travel: r.travel, change: r.nano - b.results[last]!.nano, seconds: a.score.seconds });
        }
        sights.sort((a, b) => a.seconds - b.seconds);
        const other = play(core, without, ops), own = readingsOf(core, unit, ops, played.results).find((r) => other.results[r.i]!.refusal === 'fine' && tells(r, r.nano, other.results[r.i]!.nano));
        return { fault, sights, first: own?.i ?? null, firstS: own?.atS ?? 0 };
    });
}

// ---- cautions ----

export interface Skipped { i: number; name: OpName; cautions: Result['cautions']; atS: number }
export const skippedOf = (lines: readonly Line[]): Skipped[] => lines.flatMap((l) => (l.result.cautions.length === 0 ? [] : [{ i: l.i, name: l.name, cautions: l.result.cautions, atS: l.fromS }]));
