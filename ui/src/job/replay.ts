// replay: what a list of events comes to. The twin of src/proof/job.c and job_write.c; the result has the members of
// `mendwright job --json`, and a test walks random jobs through both.
import { compareEvents, compareText, Event, EventType, Payload, TYPE_NAMES } from './events';

export type FindingKind = 'corrects-unknown' | 'corrects-later' | 'corrects-type' | 'corrects-twice' | 'id-conflict' | 'clock-back' | 'work-after';
export interface Finding { kind: FindingKind; event: string; other: string | null }

/** What holds, with every event of the same thing behind it. */
export interface Entry { payload: Payload; at_ms: number; event: string; technician: string }
export interface Item extends Entry { type: EventType; key: string; target: number; history: Entry[]; totalSteps: number }

export interface StationState {
    id: string | null; first_ms: number | null; last_ms: number | null;
    label: Item | null; scope: Item | null; racks: Item[]; kit: Item | null; cuts: Item[]; holds: Item[]; readings: Item[]; moves: Item[]; photos: Item[]; expenses: Item[];
    notes: Entry[]; others: Item[];
}
export interface Job {
    finished: boolean; first_ms: number | null; last_ms: number | null; finished_ms: number | null; events: number;
    corrected: { event: string; type: EventType; by: string; taken_back: boolean; was: Payload }[];
    stations: StationState[]; unit: StationState; findings: Finding[]; findings_in_all: number;
    /** Every event that stands, in order of place; for the pages' own questions ("which came after the last move"). */
    order: { event: Event; place_ms: number; root: number }[];
}

const FINDINGS_MAX = 200;

interface Slot { event: Event; place_ms: number; root: number; isVoid: boolean; isCorrection: boolean; voidedBy: number }

const KEY_FIELD: Partial<Record<EventType, string>> = {
    rack_measured: 'rack', cut: 'rack', hold_confirmed: 'step', reading_taken: 'point', moved: 'name', photo_taken: 'photo', expense_claimed: 'part',
};
const keyOf = (e: Event): string => { const name = KEY_FIELD[e.type]; return name === undefined ? '' : String(e.payload[name] ?? ''); };
const CHOICES: Partial<Record<EventType, [string, string[]]>> = { moved: ['target', ['adjuster', 'rack']], expense_claimed: ['what', ['travel', 'consumables', 'parts']] };
/** What tells apart things of one type and key, by its number in the table. */
const targetOf = (e: Event): number => { const c = CHOICES[e.type]; return c === undefined ? 0 : c[1].indexOf(String(e.payload[c[0]])); };

class Replay {
    readonly slots: Slot[] = [];
    readonly findings: Finding[] = [];
    nFindings = 0;
    private readonly at = new Map<string, number>();

    constructor(events: readonly Event[]) {
        this.sort(events);
        this.slots.forEach((s, i) => { if (s.event.corrects !== undefined) this.correct(i, s.event.corrects); });
        this.clocks();
    }

    find(kind: FindingKind, event: Event, other: Event | null): void {
        this.nFindings++;
        if (this.findings.length < FINDINGS_MAX) this.findings.push({ kind, event: event.id, other: other?.id ?? null });
    }

    /** Each event once; of several with one id the first by time stays. */
    private sort(events: readonly Event[]): void {
        const byId = [...events].sort((a, b) => compareText(a.id, b.id) || compareEvents(a, b));
        const kept: Event[] = [];
        byId.forEach((e, i) => {
            if (i > 0 && compareEvents(byId[i - 1]!, e) === 0) return;
            const before = kept[kept.length - 1];
            if (before !== undefined && before.id === e.id) this.find('id-conflict', e, before);
            else kept.push(e);
        });
        kept.sort(compareEvents).forEach((event, i) => {
            this.slots.push({ event, place_ms: event.at_ms, root: i, isVoid: false, isCorrection: false, voidedBy: -1 });
            this.at.set(event.id, i);
        });
    }

    private correct(i: number, name: string): void {
        const slot = this.slots[i]!, e = slot.event, found = this.at.get(name);
        if (found === undefined) return this.find('corrects-unknown', e, null);
        const target = this.slots[found]!;
        if (found >= i) return this.find('corrects-later', e, target.event);
        if (e.type !== target.event.type && e.type !== 'note') return this.find('corrects-type', e, target.event);
        if (target.isVoid) this.find('corrects-twice', e, target.event);
        else target.voidedBy = i;
        target.isVoid = true;
        slot.isCorrection = true;
        slot.root = target.root;
        slot.place_ms = target.place_ms;
    }

    private clocks(): void {
        const made = this.slots.map((s) => s.event)
            .sort((a, b) => compareText(a.technician, b.technician) || compareText(a.shop, b.shop) || compareText(a.id, b.id));
        made.forEach((e, i) => {
            const before = made[i - 1];
            if (before !== undefined && before.technician === e.technician && before.shop === e.shop && e.at_ms < before.at_ms) this.find('clock-back', e, before);
        });
    }

    standsBefore(a: number, b: number): boolean {
        const x = this.slots[a]!.root, y = this.slots[b]!.root;
        return x !== y ? x < y : a < b;
    }

    private last(type: EventType): number {
        let at = -1;
        this.slots.forEach((s, i) => { if (!s.isVoid && s.event.type === type && (at < 0 || this.standsBefore(at, i))) at = i; });
        return at;
    }

    /** When the job ended, null while it is open. */
    end(): number | null {
        const opened = this.last('opened'), finished = this.last('finished');
        if (finished < 0 || (opened >= 0 && !this.standsBefore(opened, finished))) return null;
        this.slots.forEach((s, i) => {
            const isWork = !s.isVoid && !s.isCorrection && !['note', 'finished', 'opened', 'expense_claimed'].includes(s.event.type);
            if (isWork && this.standsBefore(finished, i)) this.find('work-after', s.event, this.slots[finished]!.event);
        });
        return this.slots[finished]!.place_ms;
    }
}

const entryOf = (s: Slot): Entry => ({ payload: s.event.payload, at_ms: s.place_ms, event: s.event.id, technician: s.event.technician });

function times(slots: readonly Slot[]): [number | null, number | null] {
    const all = slots.filter((s) => s.event.type !== 'note' && s.event.type !== 'expense_claimed').map((s) => s.place_ms);
    return all.length === 0 ? [null, null] : [Math.min(...all), Math.max(...all)];
}

function itemsOf(slots: readonly Slot[]): Item[] {
    const sorted = [...slots].sort((a, b) => TYPE_NAMES.indexOf(a.event.type) - TYPE_NAMES.indexOf(b.event.type) ||
        compareText(keyOf(a.event), keyOf(b.event)) || targetOf(a.event) - targetOf(b.event));
    const items: Item[] = [];
    for (const s of sorted) { // slots come in the order of their places: the sort is stable
        const key = keyOf(s.event), target = targetOf(s.event), before = items[items.length - 1];
        const item = before !== undefined && before.type === s.event.type && before.key === key && before.target === target ? before
            : { type: s.event.type, key, target, history: [] as Entry[], totalSteps: 0, ...entryOf(s) };
        if (item !== before) items.push(item);
        Object.assign(item, entryOf(s));
        item.history.push(entryOf(s));
        if (s.event.type === 'moved') item.totalSteps += Number(s.event.payload['steps']);
    }
    return items;
}

const KNOWN: readonly EventType[] = ['label_read', 'scope_found', 'rack_measured', 'kit_chosen', 'cut', 'hold_confirmed', 'reading_taken', 'moved', 'photo_taken', 'expense_claimed', 'note'];

function stationOf(id: string | null, slots: readonly Slot[]): StationState {
    const items = itemsOf(slots), [first_ms, last_ms] = times(slots);
    const all = (type: EventType) => items.filter((i) => i.type === type);
    return {
        id, first_ms, last_ms, label: all('label_read')[0] ?? null, scope: all('scope_found')[0] ?? null, racks: all('rack_measured'),
        kit: all('kit_chosen')[0] ?? null, cuts: all('cut'), holds: all('hold_confirmed'), readings: all('reading_taken'), moves: all('moved'),
        photos: all('photo_taken'), expenses: all('expense_claimed'), notes: all('note').flatMap((i) => i.history), others: items.filter((i) => !KNOWN.includes(i.type)),
    };
}

export function replay(events: readonly Event[]): Job {
    const r = new Replay(events), finished_ms = r.end();
    const standing = r.slots.map((slot, i) => ({ slot, i })).filter((x) => !x.slot.isVoid)
        .sort((a, b) => a.slot.root - b.slot.root || a.i - b.i).map((x) => x.slot);
    const [first_ms, last_ms] = times(standing);
    const roots = new Map<string | undefined, number>(); // of each station's first work
    for (const s of standing) if (!roots.has(s.event.station)) roots.set(s.event.station, s.root);
    const names = [...roots.keys()].sort((a, b) => roots.get(a)! - roots.get(b)! || compareText(a, b));
    const of = (name: string | undefined) => standing.filter((s) => s.event.station === name);
    return {
        finished: finished_ms !== null, first_ms, last_ms, finished_ms, events: r.slots.length,
        corrected: r.slots.filter((s) => s.isVoid).map((s) => {
            const by = r.slots[s.voidedBy]!.event;
            return { event: s.event.id, type: s.event.type, by: by.id, taken_back: by.type !== s.event.type, was: s.event.payload };
        }),
        stations: names.filter((n) => n !== undefined).map((n) => stationOf(n, of(n))), unit: stationOf(null, of(undefined)),
        findings: r.findings, findings_in_all: r.nFindings, order: standing.map((s) => ({ event: s.event, place_ms: s.place_ms, root: s.root })),
    };
}

// ---- as `mendwright job --json` writes it, for comparing and for the curious ----

function entryJson(e: Entry): Record<string, unknown> {
    return { ...e.payload, at_ms: e.at_ms, event: e.event, technician: e.technician };
}
function itemJson(i: Item): Record<string, unknown> {
    return { ...entryJson(i), ...(i.type === 'moved' ? { total_steps: i.totalSteps } : {}), history: i.history.map(entryJson) };
}
function stationJson(s: StationState): Record<string, unknown> {
    const one = (i: Item | null) => (i === null ? null : itemJson(i));
    const whole = { holds: s.holds.map(itemJson), readings: s.readings.map(itemJson), photos: s.photos.map(itemJson), expenses: s.expenses.map(itemJson), notes: s.notes.map(entryJson) };
    if (s.id === null) return { first_ms: s.first_ms, last_ms: s.last_ms, ...whole };
    return {
        id: s.id, first_ms: s.first_ms, last_ms: s.last_ms, label: one(s.label), scope: one(s.scope), racks: s.racks.map(itemJson), kit: one(s.kit),
        cuts: s.cuts.map(itemJson), moves: s.moves.map(itemJson), ...whole,
    };
}
export function jobJson(job: Job): Record<string, unknown> {
    return {
        finished: job.finished, first_ms: job.first_ms, last_ms: job.last_ms, finished_ms: job.finished_ms, events: job.events, corrected: job.corrected,
        stations: job.stations.map(stationJson), unit: stationJson(job.unit), findings: job.findings, findings_in_all: job.findings_in_all,
    };
}
