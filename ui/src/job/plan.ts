// plan: which task comes next. Pure: a bulletin and a replayed job give the list of tasks, in order, each done or open.
// Where measuring, cutting, timing and truing happen is read off the bulletin: a step whose id begins with "measure", "cut" or
// "time" is that step, as the command line looks for it; truing is the step with the word "true" in its id, else the first whose
// readings an adjuster reaches.
import type { Bulletin, Point, ProofPhoto, Station, Step } from '../bulletin/types';
import { isReached } from '../bulletin/adapt';
import type { Item, Job, StationState } from './replay';

export type TaskKind = 'label' | 'prepare' | 'step' | 'kit' | 'finish';
export interface Task { key: string; kind: TaskKind; step: Step | null; station: string | null; done: boolean }

export function stateOf(job: Job, station: string | null): StationState | null {
    return station === null ? job.unit : job.stations.find((s) => s.id === station) ?? null;
}

export const verdictOf = (job: Job, station: string): string | null => {
    const v = stateOf(job, station)?.scope?.payload['verdict'];
    return typeof v === 'string' ? v : null;
};

/** Stations that get work: in scope, or all of them when the bulletin sweeps in the whole unit. */
export function workStations(b: Bulletin, job: Job): Station[] {
    const isIn = (s: Station) => verdictOf(job, s.id) === 'in';
    const isAny = b.scope.stations.some(isIn);
    return b.scope.stations.filter((s) => isIn(s) || (isAny && b.scope.mixed === 'whole-unit'));
}

const begins = (step: Step, word: string): boolean => step.id === word || step.id.startsWith(word + '-');

export interface Places { kit: string | null; cut: string | null; timing: string | null; truing: string | null }

/** The step after which the kit is chosen, and the steps in which racks are cut and timed and the whole is trued. */
export function placesOf(b: Bulletin): Places {
    const hasRacks = b.kits.some((k) => k.racks.length > 0);
    const perStation = b.steps.filter((s) => s.per === 'station');
    const cut = hasRacks ? perStation.find((s) => begins(s, 'cut')) ?? perStation.find((s) => s.hazards.includes('cutting')) ?? null : null;
    const before = cut === null ? null : b.steps[b.steps.indexOf(cut) - 1] ?? null;
    const kit = b.kits.length === 0 ? null : perStation.find((s) => begins(s, 'measure')) ?? before ?? perStation[0] ?? null;
    const timing = b.timing === null ? null : perStation.find((s) => begins(s, 'time')) ?? [...perStation].reverse()[0] ?? null;
    const truing = b.adjusters.length === 0 ? null : b.steps.find((s) => s.id.split('-').includes('true')) ?? b.steps.find((s) => s.readings.some((p) => isReached(b, p))) ?? null;
    return { kit: kit?.id ?? null, cut: cut?.id ?? null, timing: timing?.id ?? null, truing: truing?.id ?? null };
}

const holdOf = (job: Job, step: string, station: string | null): Item | null => stateOf(job, station)?.holds.find((h) => h.key === step) ?? null;
export const isHeld = (job: Job, step: string, station: string | null): boolean => holdOf(job, step, station) !== null;

/** Steps in the order of the file; those of one station that follow each other are done together, station by station. */
function stepTasks(b: Bulletin, job: Job, stations: Station[]): Task[] {
    const tasks: Task[] = [], places = placesOf(b);
    const add = (step: Step, station: string | null) => {
        const tail = station === null ? '' : '/' + station;
        tasks.push({ key: `step/${step.id}${tail}`, kind: 'step', step, station, done: isHeld(job, step.id, station) });
        if (station !== null && step.id === places.kit)
            tasks.push({ key: `kit/${station}`, kind: 'kit', step, station, done: stateOf(job, station)?.kit !== null && stateOf(job, station) !== null });
    };
    for (let i = 0; i < b.steps.length;) {
        if (b.steps[i]!.per === 'unit') { add(b.steps[i++]!, null); continue; }
        let end = i;
        while (end < b.steps.length && b.steps[end]!.per === 'station') end++;
        for (const s of stations) for (let k = i; k < end; k++) add(b.steps[k]!, s.id);
        i = end;
    }
    // What the bulletin does not hold for is passed once a later step is confirmed (another phone may not have confirmed it).
    const last = tasks.map((k) => k.kind === 'step' && k.done).lastIndexOf(true);
    return tasks.map((k, i) => (k.kind === 'step' && k.step!.hold === 'none' && i < last ? { ...k, done: true } : k));
}

/** acks: what was read or laid ready on this phone ("prepare", "caution/..."); no part of the proof. */
export function tasksOf(b: Bulletin, job: Job, acks: ReadonlySet<string>): Task[] {
    const labels: Task[] = b.scope.stations.map((s) => ({ key: `label/${s.id}`, kind: 'label', step: null, station: s.id, done: verdictOf(job, s.id) !== null }));
    const isJudged = labels.every((t) => t.done), stations = workStations(b, job);
    const finish: Task = { key: 'finish', kind: 'finish', step: null, station: null, done: job.finished };
    if (!isJudged) return labels;
    if (stations.length === 0) return [...labels, finish];
    return [...labels, { key: 'prepare', kind: 'prepare', step: null, station: null, done: acks.has('prepare') }, ...stepTasks(b, job, stations), finish];
}

export const nextTask = (tasks: Task[]): Task | null => tasks.find((t) => !t.done) ?? null;

/** What must be there before this task opens: the first earlier one that holds, of the whole unit or of the same station (of every
 * station for what is about the whole unit). null: nothing, it is open. Steps without a hold keep nothing waiting. */
export function waitsFor(tasks: Task[], task: Task): Task | null {
    if (task.done || task.kind === 'finish' || task.kind === 'label') return null;
    const holds = (k: Task) => k.kind !== 'step' || k.step!.hold !== 'none';
    const before = tasks.slice(0, tasks.findIndex((k) => k.key === task.key));
    return before.find((k) => !k.done && holds(k) && (k.station === null || task.station === null || k.station === task.station)) ?? null;
}

// ---- readings ----

export interface Taken { nano: bigint; event: string; place: number }

const LENGTH_UNITS = new Set(['nm', 'um', 'mm', 'cm', 'm', 'in', 'ft']);
/** Points whose readings belong to this task: of the step, and of the station when it has one. */
export function pointsOf(b: Bulletin, step: Step, station: string | null): Point[] {
    return step.readings.map((id) => b.points.find((p) => p.id === id)!).filter((p) => p !== undefined && (station === null || p.station === '' || p.station === station));
}

/** Steps whose readings count for truing: the truing step, and those before it that list a point which an adjuster reaches. */
export function truingSteps(b: Bulletin, truing: Step): Set<string> {
    const before = b.steps.slice(0, b.steps.indexOf(truing)).filter((s) => s.readings.some((p) => isReached(b, p)));
    return new Set([truing.id, ...before.map((s) => s.id)]);
}

/** Points that are trued together: those that an adjuster reaches, and whatever else the step reads. */
export function truingPoints(b: Bulletin, step: Step): Point[] {
    const own = pointsOf(b, step, null);
    return [...own, ...b.points.filter((p) => isReached(b, p.id) && !own.includes(p))];
}

export const isLength = (p: Point): boolean => LENGTH_UNITS.has(p.nominal.unit);

/** Where in the order of work the last adjuster was moved; -1: never. */
export function lastMove(job: Job): number {
    let at = -1;
    job.order.forEach((o, i) => { if (o.event.type === 'moved' && o.event.payload['target'] === 'adjuster') at = i; });
    return at;
}

/** The latest reading of each point taken at these steps (others share their points with an earlier look at the unit), after `since`.
 * toNano: the core's reading of a number with its unit. */
export function readingsAt(job: Job, steps: ReadonlySet<string>, since: number, toNano: (value: number, unit: string) => bigint): Map<string, Taken> {
    const found = new Map<string, Taken>();
    job.order.forEach((o, place) => {
        const p = o.event.payload;
        if (place <= since || o.event.type !== 'reading_taken' || (p['step'] !== undefined && !steps.has(String(p['step'])))) return;
        const nano = 'value_nm' in p ? BigInt(p['value_nm'] as number) : toNano(p['value'] as number, p['unit'] as string);
        found.set(String(p['point']), { nano, event: o.event.id, place });
    });
    return found;
}

// ---- proof ----

export interface Wanted { kind: 'photo' | 'reading'; id: string; station: string | null; has: boolean; step: Step | null; photo: ProofPhoto | null; point: Point | null }

export const photoOf = (job: Job, photo: string, station: string | null): Item | null => stateOf(job, station)?.photos.find((p) => p.key === photo) ?? null;

/** Everything the maker wants of this unit, and what is there. */
export function wanted(b: Bulletin, job: Job): Wanted[] {
    const stations = workStations(b, job), list: Wanted[] = [];
    if (stations.length === 0) return list;
    for (const photo of b.proof.photos) {
        const step = b.steps.find((s) => s.photos.includes(photo.id)) ?? null;
        for (const station of photo.per === 'unit' ? [null] : stations.map((s) => s.id))
            list.push({ kind: 'photo', id: photo.id, station, has: photoOf(job, photo.id, station) !== null, step, photo, point: null });
    }
    for (const id of b.proof.readings) {
        const point = b.points.find((p) => p.id === id);
        if (point === undefined || (point.station !== '' && !stations.some((s) => s.id === point.station) && b.scope.mixed === 'per-station' && !isReached(b, id))) continue;
        const has = [job.unit, ...job.stations].some((s) => s.readings.some((r) => r.key === id));
        list.push({ kind: 'reading', id, station: point.station === '' ? null : point.station, has, step: b.steps.find((s) => s.readings.includes(id)) ?? null, photo: null, point });
    }
    return list;
}
