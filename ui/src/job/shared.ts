// shared: what is worth saying of a job that several people work on: where two of them measured the same and did not find the same. Pure.
// The rule is the replay's and is not changed here: of several entries of one thing, the later one holds.
import type { Entry, Item, Job } from './replay';

export interface Dispute { type: Item['type']; key: string; station: string | null; earlier: Entry; later: Entry }

/** What an entry says, for comparing: a reading's value, a length, a kit, what a label says. */
function said({ payload: p }: Entry): string {
    return JSON.stringify([p['value_nm'], p['value'], p['unit'], p['length_nm'], p['kit'], p['text'], p['verdict']]);
}

/** Things that two people measured or judged with different results, nothing having been moved in between: the last such pair of each. Readings of
 * different steps (the first look at a unit, the last) are different things. */
export function disputes(job: Job): Dispute[] {
    const places = new Map(job.order.map((o, i) => [o.event.id, i])), moves = job.order.flatMap((o, i) => (o.event.type === 'moved' ? [i] : []));
    const isMoved = (a: Entry, b: Entry) => moves.some((m) => m > places.get(a.event)! && m < places.get(b.event)!);
    const found: Dispute[] = [];
    for (const s of [job.unit, ...job.stations]) {
        for (const item of [...s.racks, ...s.readings, ...[s.label, s.scope, s.kit].filter((x) => x !== null)]) {
            for (const step of new Set(item.history.map((h) => h.payload['step']))) {
                const list = item.history.filter((h) => h.payload['step'] === step), later = list[list.length - 1]!;
                const earlier = [...list].reverse().find((h) => h.technician !== later.technician);
                if (earlier !== undefined && said(earlier) !== said(later) && !isMoved(earlier, later)) found.push({ type: item.type, key: item.key, station: s.id, earlier, later });
            }
        }
    }
    return found;
}
