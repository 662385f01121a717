// game: what an exercise, a game and a result are, and how a set's file is read. Every file is hostile: what is not as doc/practice.schema.json says is
// left out, whole. Pure.
import { FAULTS, Fault, FaultKind, INSIDE, Op, OPS, opName, Played, Unit } from '../core/practice';

export type Text = Readonly<Record<string, string>>;
export interface Choice { id: string; text: Text; right: boolean }
export interface Question { id: string; text: Text; choices: Choice[] }
export interface Exercise {
    id: string; level: 'easy' | 'medium' | 'hard'; title: Text; told: Text; /** null: an exam that has not begun */ unit: Unit | null; goal: string[]; goalBits: number;
    limits: { minutes: number; moves: number } | null; hints: Text[]; questions: Question[];
}
export interface ExerciseSet { set: string; sha256: string; title: Text; about: Text; language: string; isInvented: boolean; isExam: boolean; exercises: Exercise[] }

export type Mode = 'practice' | 'exam';
export interface GameRecord {
    key: string; set: string; sha256: string; exercise: string; mode: Mode; unit: Unit; ops: Op[]; hints: number; answers: Record<string, string>; began: string; ended: string | null;
}
/** As POST /api/v1/practice/results takes it, with what this phone knows of its way. */
export interface ResultRecord { id: string; state: 'kept' | 'waiting' | 'sent' | 'refused'; detail: string; result: Result; inside: boolean; title: Text }
export interface Result {
    set: string; set_sha256: string; exercise: string; mode: Mode; seed: number; ops: Op[]; hints_used: number; answers: Record<string, string>; began: string; ended: string;
}

export const FREE = 'free';
/** free/SEED-SPREAD: a unit drawn by seed; null when it is no such name. */
export function drawnUnit(name: string): Unit | null {
    const found = /^(\d{1,9})-(\d{1,3})$/.exec(name);
    return found === null || Number(found[2]) > 300 ? null : { seed: Number(found[1]), spread: Number(found[2]), faults: [] };
}

// ---- reading a set ----

type Raw = Record<string, unknown>;
const isObject = (x: unknown): x is Raw => typeof x === 'object' && x !== null && !Array.isArray(x);
const listOf = (x: unknown): unknown[] => (Array.isArray(x) ? x : []);
const textOf = (x: unknown): Text => (isObject(x) ? Object.fromEntries(Object.entries(x).filter((e): e is [string, string] => typeof e[1] === 'string')) : {});
const idOf = (x: unknown): string | null => (typeof x === 'string' && /^[a-z0-9]+(-[a-z0-9]+)*$/.test(x) && x.length <= 48 ? x : null);
const whole = (x: unknown, low: number, high: number): number | null => (typeof x === 'number' && Number.isInteger(x) && x >= low && x <= high ? x : null);

function faultOf(x: unknown): Fault | null {
    if (!isObject(x) || !FAULTS.includes(x['fault'] as FaultKind)) return null;
    const amount = whole(x['amount'], -1e9, 1e9);
    return amount === null ? null : { fault: x['fault'] as FaultKind, side: x['side'] === 'aft' ? 1 : 0, place: x['place'] === 'upper' ? 1 : 0, amount };
}

const GOAL_BITS: Readonly<Record<string, number>> = { gaps: INSIDE.gaps, ends: INSIDE.fore | INSIDE.aft, volts: INSIDE.volts, amps: INSIDE.amps, seconds: INSIDE.time, keys: INSIDE.keys };
const ALL = Object.values(GOAL_BITS).reduce((a, b) => a | b, 0);

function exerciseOf(x: unknown): Exercise | null {
    if (!isObject(x)) return null;
    const id = idOf(x['id']), level = x['level'], seed = whole(x['seed'], 0, 2147483647), faults = listOf(x['faults']).map(faultOf);
    if (id === null || (level !== 'easy' && level !== 'medium' && level !== 'hard') || faults.some((f) => f === null) || faults.length > 16) return null;
    const goal = listOf(x['goal']).filter((g): g is string => typeof g === 'string'), limits = isObject(x['limits']) ? x['limits'] : {}, minutes = whole(limits['minutes'], 1, 600), moves = whole(limits['moves'], 0, 60);
    const bits = goal.reduce((n, g) => n | (GOAL_BITS[g] ?? 0), 0);
    return {
        id, level, title: textOf(x['title']), told: textOf(x['told']), unit: seed === null ? null : { seed, spread: null, faults: faults as Fault[] },
        goal, goalBits: whole(x['goal_bits'], 0, 0x3fff) ?? (goal.length === 0 ? ALL : bits), limits: minutes === null || moves === null ? null : { minutes, moves },
        hints: listOf(x['hints']).map(textOf),
        questions: listOf(x['questions']).flatMap((q) => {
            const name = isObject(q) ? idOf(q['id']) : null;
            if (name === null || !isObject(q)) return [];
            const choices = listOf(q['choices']).flatMap((c) => { const cid = isObject(c) ? idOf(c['id']) : null; return cid === null || !isObject(c) ? [] : [{ id: cid, text: textOf(c['text']), right: c['right'] === true }]; });
            return choices.length < 2 ? [] : [{ id: name, text: textOf(q['text']), choices }];
        }),
    };
}

export function setOf(x: unknown): ExerciseSet | null {
    if (!isObject(x)) return null;
    const set = idOf(x['set']), sha256 = x['sha256'], exercises = listOf(x['exercises']).map(exerciseOf);
    if (set === null || set === FREE || typeof sha256 !== 'string' || exercises.length === 0 || exercises.some((e) => e === null)) return null;
    return { set, sha256, title: textOf(x['title']), about: textOf(x['about']), language: typeof x['language'] === 'string' ? x['language'] : 'en', isInvented: x['invented'] !== false, isExam: x['exam'] === true, exercises: exercises as Exercise[] };
}
export const setsOf = (x: unknown): ExerciseSet[] => (Array.isArray(x) ? x : [x]).flatMap((s) => setOf(s) ?? []);

export const textIn = (text: Text, language: string, own = 'en'): string => text[language] ?? text[own] ?? Object.values(text)[0] ?? '';

// ---- how a game stands ----

export const isFinished = (g: GameRecord): boolean => g.ops.some((op) => opName(op) === 'finish');

export function resultOf(g: GameRecord): Result {
    return { set: g.set, set_sha256: g.sha256, exercise: g.exercise, mode: g.mode, seed: g.unit.seed, ops: g.ops, hints_used: g.hints, answers: g.answers, began: g.began, ended: g.ended ?? new Date().toISOString() };
}

export interface Outcome { isGood: boolean; goals: { goal: string; isMet: boolean }[]; isInTime: boolean | null; isInMoves: boolean | null; nRight: number; nAsked: number }
/** What was asked for against what there is. */
export function outcomeOf(e: Exercise | null, g: GameRecord, p: Played): Outcome {
    const asked = e?.questions ?? [], nRight = asked.filter((q) => q.choices.some((c) => c.right && c.id === g.answers[q.id])).length;
    const names = e === null || e.goal.length === 0 ? Object.keys(GOAL_BITS) : e.goal;
    const goals = names.map((goal) => ({ goal, isMet: goal === 'careful' ? p.score.nCautions === 0 : goal === 'cannot' ? nRight === asked.length : (p.score.inside & (GOAL_BITS[goal] ?? 0)) === (GOAL_BITS[goal] ?? 0) }));
    const isInTime = e?.limits == null ? null : p.score.seconds <= 60 * e.limits.minutes, isInMoves = e?.limits == null ? null : p.score.moves <= e.limits.moves;
    return { isGood: goals.every((x) => x.isMet) && nRight === asked.length && isInTime !== false && isInMoves !== false, goals, isInTime, isInMoves, nRight, nAsked: asked.length };
}

export const isOp = (x: unknown): x is Op => Array.isArray(x) && x.length === 4 && x.every((n) => Number.isInteger(n)) && x[0] >= 0 && x[0] < OPS.length;
