// adapt: from a bulletin's words to the core's numbers: scope, kits and cutting, timing, truing. The twin of src/bulletin/adapt.c
// and adapt_truing.c; a test walks random jobs through both. Decides nothing itself.
import {
    Core, CoreError, CutPlan, CutU, ERR, KitAnswer, KitRow, Label, NO_HIGH, NO_LOW, Piece, ScopeAnswer, TimingAnswer, TruingAnswer, Conform, Dim,
    Quantity, Verdict, ModeEffect,
} from '../core/core';
import { DIM_OF } from '../core/amounts';
import type { Adjuster, Amount, Bulletin, Kit, Point, Rack, Station } from './types';

const nano = (a: Amount | null): bigint => (a === null ? 0n : BigInt(a.nano));
const ANY = -1;

// ---- scope ----

export type Sight = { state: 'unread' } | { state: 'read'; label: Label } | { state: 'ambiguous' };

/** A label's text by the bulletin's patterns; throws CoreError when it fits none or names no day. */
export function readLabel(core: Core, b: Bulletin, text: string): Sight {
    try {
        return { state: 'read', label: core.labelRead(text, b.scope.labels) };
    } catch (e) {
        if (e instanceof CoreError && e.code === ERR.AMBIGUOUS) return { state: 'ambiguous' };
        throw e;
    }
}

export function judgeScope(core: Core, b: Bulletin, vin: string, sights: Sight[], given: string[] = []): ScopeAnswer {
    const rules = { none: 0, advisory: 1, required: 2 } as const;
    const codes: { text: string; variant: number }[] = [], windows: { variant: number; first: number; last: number }[] = [];
    b.scope.variants.forEach((v, i) => {
        // Without codes the label says no variant: its windows hold for every label.
        const variant = v.codes.length > 0 ? i : -1;
        v.windows.forEach((w) => windows.push({ variant, first: w.from.first, last: w.to.last }));
        v.codes.forEach((text) => codes.push({ text, variant: i }));
    });
    return core.scope({
        vin, vinRule: rules[b.scope.vin.check], variants: b.scope.variants.map((v) => v.id), codes, prefixes: b.scope.vin.prefixes, windows,
        sights: b.scope.stations.map((_, i) => {
            const s = sights[i] ?? { state: 'unread' };
            return { state: s.state, ...(s.state === 'read' ? { label: s.label } : {}), given: given[i] ?? '' };
        }),
    });
}

/** Whether the station gets work: in itself, or swept in by a bulletin that does whole units. */
export function getsWork(b: Bulletin, answer: ScopeAnswer, station: number): boolean {
    const isAnyIn = answer.unit === 'in' || answer.unit === 'mixed';
    return answer.stations[station]?.verdict === 'in' || (isAnyIn && b.scope.mixed === 'whole-unit');
}

// ---- kit and cut ----

/** The standard uncertainty of a reading with this instrument, nano; 0 when it is not known. */
export function instrumentU(core: Core, b: Bulletin, id: string): number {
    const i = b.instruments.find((x) => x.id === id);
    return i === undefined ? 0 : core.combine(nano(i.resolution), Number(nano(i.calibration_u)), Number(nano(i.repeat_u)));
}

/** Blade to line: within half a millimetre either way, all of it equally likely (ADAPT_BLADE_HALF_NM of the program). */
const BLADE_HALF_NM = 500000;

export function cutU(core: Core, b: Bulletin): CutU {
    return { tape: b.cut === null ? 0 : instrumentU(core, b, b.cut.instrument), blade: BLADE_HALF_NM / Math.sqrt(3), stock: 0 };
}

/** CUT_COVERAGE of the program, for a bulletin that says no factor. */
const CUT_COVERAGE = 2;

function pieceOf(b: Bulletin, r: Rack): Piece {
    return {
        stock: nano(r.stock), isReady: r.supply === 'ready', relief: r.relief === 'both' ? 2 : r.relief === 'none' ? 0 : 1, kerf: nano(b.cut?.kerf ?? null),
        least: nano(r.least), greatest: nano(r.greatest), offcutMax: nano(b.cut?.largest_offcut ?? null), blade: b.cut?.blade === 'centre' ? 1 : 0,
        module: nano(r.module), firstTooth: r.first_tooth === null ? null : nano(r.first_tooth), sliver: nano(b.cut?.sliver ?? null), fit: nano(r.fit),
    };
}

/** Every rack id in the kits, once, in the order of the bulletin. */
export function rackIds(b: Bulletin): string[] {
    return [...new Set(b.kits.flatMap((k) => k.racks.map((r) => r.id)))];
}

/** What the station fixes, and attributes with one value only. */
export function fixedValues(b: Bulletin, station: Station): Record<string, string> {
    const fixed: Record<string, string> = {};
    for (const a of b.scope.attributes) {
        const value = station.with[a.id] ?? (a.values.length === 1 ? a.values[0] : undefined);
        if (value !== undefined) fixed[a.id] = value;
    }
    return fixed;
}

export interface RackCut { rack: string; source: Rack | null; plan: CutPlan | null }
export interface CutAnswer {
    kit: Kit | null; answer: KitAnswer; racks: RackCut[]; remeasure: { a: string; b: string; apart: bigint } | null; u: CutU;
}

/** Which kit a station takes and where its racks are cut. lengths: rack id and measured length, in the order given. */
export function chooseCut(core: Core, b: Bulletin, stationId: string, values: Record<string, string>, lengths: [string, bigint][], show: 'mm' | 'in'): CutAnswer {
    const ids = rackIds(b), u = cutU(core, b);
    const station = b.scope.stations.findIndex((s) => s.id === stationId);
    const all = { ...fixedValues(b, b.scope.stations[station]!), ...values };
    const value = (attribute: string, v: string | undefined) => {
        const a = b.scope.attributes.find((x) => x.id === attribute);
        return v === undefined || a === undefined ? ANY : a.values.indexOf(v);
    };
    const kits: KitRow[] = b.kits.map((k) => ({
        values: b.scope.attributes.map((a) => value(a.id, k.for[a.id])),
        pieces: k.racks.map((r) => ({ rack: ids.indexOf(r.id), piece: pieceOf(b, r) })),
    }));
    const need = {
        station, values: b.scope.attributes.map((a) => value(a.id, all[a.id])),
        racks: lengths.map(([id, needed]) => ({ rack: ids.indexOf(id), needed })),
    };
    const answer = core.kitChoose(kits, b.scope.attributes.length, need, u);
    const kit = answer.chosen >= 0 ? b.kits[answer.chosen] ?? null : null;
    const racks = lengths.map(([id, needed]) => {
        const source = kit?.racks.find((r) => r.id === id) ?? null;
        return { rack: id, source, plan: source === null ? null : core.cutPlan(pieceOf(b, source), needed, u, show) };
    });
    const pair = core.cutRemeasure(lengths.map(([, l]) => l), u.tape, b.cut?.remeasure_factor ?? CUT_COVERAGE);
    const remeasure = pair === null ? null : { a: lengths[pair.a]![0], b: lengths[pair.b]![0], apart: pair.apart };
    return { kit, answer, racks, remeasure, u };
}

/** Whether measurements of one rack disagree beyond what the tape explains. */
export function disagree(core: Core, b: Bulletin, lengths: bigint[]): boolean {
    return core.cutRemeasure(lengths, cutU(core, b).tape, b.cut?.remeasure_factor ?? CUT_COVERAGE) !== null;
}

// ---- timing ----

export interface TimingCall { racks: string[]; answer: TimingAnswer; low: bigint; high: bigint }

export function timedRacks(b: Bulletin, station: string): string[] {
    return b.timing?.stations.find((s) => s.station === station)?.racks ?? [];
}

/** ADVISE_PLAN_RISK of core/advise.h: what plans aim at, for all readings together; `mendwright true BULLETIN` takes the same. */
const PLAN_RISK = 0.01;
const riskOf = (b: Bulletin): number => (b.decision.guard === 'risk' ? b.decision.risk : 0);

/** Ends of every rack of the station, in the order of timedRacks. */
export function judgeTiming(core: Core, b: Bulletin, station: string, ends: bigint[]): TimingCall {
    const t = b.timing!, racks = timedRacks(b, station), u = instrumentU(core, b, t.instrument);
    const limit = nano(t.limit), differences = [];
    for (let i = 0; i < racks.length; i++)
        for (let j = 0; j < i; j++) differences.push({ a: i, b: j, nominal: 0n, low: -limit, high: limit });
    const answer = core.timing(ends.map((end) => ({ end, min: -t.largest_jump, max: t.largest_jump, setupS: t.setup_s, stepS: t.per_jump_s, u })),
        differences, nano(t.module), riskOf(b));
    return { racks, answer, low: -limit, high: limit };
}

// ---- truing ----

export const lowOf = (p: Point): bigint => (p.low === null ? NO_LOW : nano(p.low));
export const highOf = (p: Point): bigint => (p.high === null ? NO_HIGH : nano(p.high));
export const dimOf = (p: Point): Dim => DIM_OF[p.nominal.unit];
const effectOn = (a: Adjuster, point: string): bigint => nano(a.effects[point] ?? null);
export const isReached = (b: Bulletin, point: string): boolean => b.adjusters.some((a) => effectOn(a, point) !== 0n);

export interface TruingProblem {
    points: Point[]; adjusters: Adjuster[]; readings: bigint[]; u: number[]; answer: TruingAnswer; effects: { names: string[]; effect: ModeEffect }[];
}
export interface TruingWhole {
    verdict: Verdict; problems: TruingProblem[]; judged: { point: Point; reading: bigint; u: number; answer: Conform }[]; missing: Point[]; unread: Point[];
}

/** Patterns in the deviations, where the points carry every combination of two-level factors once (modes.h); else none. */
function effectsOf(core: Core, points: Point[], readings: bigint[], u: number[]): TruingProblem['effects'] {
    const names = [...new Set(points.flatMap((p) => Object.keys(p.factors)))];
    if (names.length === 0 || points.length !== 2 ** names.length) return [];
    const rows = points.map((p, i) => ({ levels: names.map((n) => p.factors[n] ?? 0), deviation: readings[i]! - nano(p.nominal), u: u[i]! }));
    try {
        return core.modes(rows, names.length).map((effect) => ({ names: names.filter((_, f) => (effect.set >> f) & 1), effect }));
    } catch (e) {
        if (e instanceof CoreError) return []; // some combination is missing or there twice: nothing to say
        throw e;
    }
}

function solve(core: Core, b: Bulletin, points: Point[], dim: Dim, read: Map<string, bigint>, nPlans: number): TruingProblem {
    const adjusters = b.adjusters.filter((a) => points.some((p) => effectOn(a, p.id) !== 0n) && Object.keys(a.effects).every((id) => {
        const p = b.points.find((x) => x.id === id);
        return p === undefined || dimOf(p) === dim;
    }));
    const readings = points.map((p) => read.get(p.id)!), u = points.map((p) => instrumentU(core, b, p.instrument));
    const answer = core.truing(
        points.map((p, i) => ({ nominal: nano(p.nominal), low: lowOf(p), high: highOf(p), reading: readings[i]!, u: u[i]! })),
        adjusters.map((a) => ({ min: a.min, max: a.max, setupS: a.setup_s, stepS: a.per_step_s, effects: points.map((p) => effectOn(a, p.id)) })),
        riskOf(b), nPlans, PLAN_RISK);
    return { points, adjusters, readings, u, answer, effects: effectsOf(core, points, readings, u) };
}

export function judgePoint(core: Core, b: Bulletin, point: Point, reading: bigint): Conform {
    return core.conform(reading, instrumentU(core, b, point.instrument), lowOf(point), highOf(point), b.decision.risk);
}

/** Everything that readings say: what is trued together, what is judged alone, what is missing. read: point id and reading. */
export function judgeReadings(core: Core, b: Bulletin, read: Map<string, bigint>, nPlans = 3): TruingWhole {
    const reached = new Map<Dim, number>(), given = new Map<Dim, number>();
    const add = (m: Map<Dim, number>, d: Dim) => m.set(d, (m.get(d) ?? 0) + 1);
    for (const p of b.points.filter((x) => isReached(b, x.id))) {
        add(reached, dimOf(p));
        if (read.has(p.id)) add(given, dimOf(p));
    }
    const whole: TruingWhole = { verdict: 'inside', problems: [], judged: [], missing: [], unread: [] };
    const trued = new Map<Dim, Point[]>();
    for (const p of b.points) {
        const dim = dimOf(p), is = isReached(b, p.id), reading = read.get(p.id);
        if (reading === undefined) (is && (given.get(dim) ?? 0) > 0 ? whole.missing : whole.unread).push(p);
        else if (is && given.get(dim) === reached.get(dim)) trued.set(dim, [...(trued.get(dim) ?? []), p]);
        else whole.judged.push({ point: p, reading, u: instrumentU(core, b, p.instrument), answer: judgePoint(core, b, p, reading) });
    }
    for (const [dim, points] of trued) whole.problems.push(solve(core, b, points, dim, read, nPlans));
    const worsen = (v: Verdict) => { if (v === 'outside' || whole.verdict === 'inside') whole.verdict = v; };
    whole.problems.forEach((p) => worsen(p.answer.verdict));
    for (const p of b.points) {
        const judged = whole.judged.find((j) => j.point === p);
        if (judged !== undefined) worsen(judged.answer.guarded);
        else if (whole.missing.includes(p)) worsen('uncertain');
    }
    return whole;
}

/** A number typed for a point: a bare one takes the unit shown. Throws CoreError; ERR.UNIT when it is another kind of amount. */
export function readAmount(core: Core, text: string, unit: Quantity['unit']): bigint {
    const q = core.parse(text, unit);
    if (q.dim !== DIM_OF[unit]) throw new CoreError(ERR.UNIT, 0, core.errText(ERR.UNIT));
    return q.nano;
}
