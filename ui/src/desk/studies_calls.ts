// studies_calls: the calls about studies, and the forms of their answers (src/serve/files/openapi.json).
import { Session, Trouble, bulletin as bulletinOf, call, writing } from './api';

export interface Option { name: string; type: 'number' | 'whole' | 'day' | 'word' | 'amount' | 'choice' | 'flag'; least?: number; most?: number; usual?: string; choices?: string[] }
export interface Kind { kind: string; columns: string | null; options: Option[] }
export type Values = Readonly<Record<string, string>>;
export interface Last { sentence: string; tone: string; person: string; at_ms: number; options: Values }
export interface KeptHead { id: string; study: string; bulletin: string | null; sentence: string; tone: string; command: string; options: Values; sha256: string; person: string; at_ms: number; note: string }
export interface Listed { kinds: Kind[]; last: Readonly<Record<string, Last>>; kept: KeptHead[] }
export type Piece = { kind: 'verdict'; tone: string; text: string } | { kind: 'text'; text: string } | { kind: 'table'; align: string; head: string[]; rows: string[][] };
export interface Note { kind: 'assumed' | 'checked' | 'caveat'; text: string }
export interface Answered {
    study: string; bulletin: string | null; options: Values; rows: string | null; command: string; code: 0 | 1 | 4; sentence: string; tone: string; said: Piece[];
    answer: { assumptions?: Note[]; cannot?: string }; answer_sha256: string; svg: string | null; no_picture: string | null; png: string | null;
}
export interface Task { task: string; state: 'waiting' | 'running' | 'done' | 'failed' | 'stopped'; what: string; done: number; all: number; answer?: Answered; fault?: { line: number; path: string; message: string } }

const json = async <T>(answer: Promise<Response>): Promise<T> => (await (await answer).json()) as T;
const fresh: RequestInit = { cache: 'no-store' };
export const list = (): Promise<Listed> => json(call('studies', fresh));
export const ask = async (who: Session, kind: string, options: Values, rows: string | null): Promise<string> =>
    (await json<{ task: string }>(call(`studies/${encodeURIComponent(kind)}`, { method: 'POST', ...writing(who, null, rows === null ? { options } : { options, rows }) }))).task;
export const task = (name: string): Promise<Task> => json(call(`tasks/${encodeURIComponent(name)}`, fresh));
export const stop = async (who: Session, name: string): Promise<void> => void (await call(`tasks/${encodeURIComponent(name)}`, { method: 'DELETE', ...writing(who, null) }).catch(() => undefined));
export const keep = async (who: Session, of: string, note: string): Promise<string> => (await json<{ kept: string }>(call('kept-studies', { method: 'POST', ...writing(who, null, note === '' ? { task: of } : { task: of, note }) }))).kept;
export const kept = async (id: string): Promise<Answered> => (await json<{ run: Answered }>(call(`kept-studies/${encodeURIComponent(id)}`, fresh))).run;
export const drop = async (who: Session, id: string): Promise<void> => void (await call(`kept-studies/${encodeURIComponent(id)}`, { method: 'DELETE', ...writing(who, null) }));

/** What a bulletin and a variant may be called: every bulletin that is kept, and the variants of the one that is meant. */
export interface Known { bulletins: string[]; variants: string[]; isInvented: boolean }
export async function known(bulletin: string): Promise<Known> {
    const all = (await json<{ bulletins: { id: string; revision: number }[] }>(call('bulletins'))).bulletins, ids = [...new Set(all.map((b) => b.id))], meant = bulletin !== '' ? bulletin : ids.length === 1 ? ids[0]! : '';
    const newest = all.filter((b) => b.id === meant).sort((a, b) => b.revision - a.revision)[0], of = newest === undefined ? null : await bulletinOf({ bulletin: newest.id, revision: newest.revision });
    return { bulletins: ids, variants: of?.scope?.variants?.map((v) => v.id) ?? [], isInvented: of?.bulletin.invented === true };
}

/** One study from its beginning to its end; `step` is told how far it is, `isGone` whether nobody waits any more (it is then cancelled). */
export async function answered(who: Session, kind: string, options: Values, rows: string | null, step: (t: Task) => void, isGone: () => boolean): Promise<Task> {
    let now: Task = { task: await ask(who, kind, options, rows), state: 'waiting', what: '', done: 0, all: 0 };
    for (let wait = 40; now.state === 'waiting' || now.state === 'running'; wait = Math.min(400, wait * 1.5)) {
        step(now);
        await new Promise((go) => setTimeout(go, wait));
        if (isGone()) { await stop(who, now.task); throw new Trouble(0, ''); }
        now = await task(now.task);
    }
    return now;
}
