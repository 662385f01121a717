// api: the calls that the Desk makes of the server, and the forms of their answers (src/serve/files/openapi.json).
import type { Bulletin } from '../bulletin/types';
import { t } from './text';

export type Need = 'person' | 'payment' | 'shop' | 'ruling' | 'nothing';
export type Verdict = 'pay' | 'ask' | 'hold' | 'refuse';
export type Role = 'nobody' | 'technician' | 'clerk' | 'owner';
export interface Session { role: Role; name?: string; shop?: string | null; csrf?: string }
export interface Head {
    claim: string; vin: string; shop: string | null; technician: string | null; bulletin: string; revision: number | null; job: string | null; opened_ms: number | null; finished_ms: number | null; taken_ms: number;
    signature: string | null; is_invented: boolean; verdict: Verdict | null; amount_minor: number; currency: string | null; currency_digits: number | null; paid_minor: number; is_overruled: boolean;
    needs: Need; finding: string | null; n_findings: number;
}
/** In a list each says its tag too: what was looked at, for whoever then writes. */
export interface Row extends Head { etag: string }
export interface Finding { rule: string; level: 'note' | 'ask' | 'hold' | 'refuse'; station: string | null; message: string; cure: string | null; what: string | null; other: string | null; other_what: string | null }
export interface Award { station: string; verdict: string; amount_minor: number; what: string | null }
export interface Ruling { kind: 'ruled' | 'overruled' | 'paid' | 'taken-back' | 'noted'; verdict: Verdict | null; amount_minor: number; currency: string | null; revision: number | null; person: string | null; reason: string | null; at_ms: number; awards: Award[]; findings: Finding[] }
export interface StationAt { station: string; variant: string | null; label: string | null; built_first: string | null; built_last: string | null; scope: string | null; kit: string | null }
export interface Reading { station: string | null; point: string; phase: string | null; value_nano: number; unit: string; taken_ms: number | null;
    /** As the rules judge it; null where there is no such point or it has no limits. The figures are there with it. */
    verdict: 'inside' | 'outside' | 'uncertain' | null; instrument: string | null; low_nano?: number | null; high_nano?: number | null;
    guarded_low_nano?: number | null; guarded_high_nano?: number | null; guard_nano?: number; u_nano?: number; p_conform?: number;
}
export interface Photo { name: string; station: string | null; proof: string | null; sha256: string; bytes: number | null; width: number | null; height: number | null; taken_ms: number | null; sharpness: number | null; exposure: number | null; codes: string | null; fault: string | null }
/** A technician's event (doc/events.schema.json). */
export interface Did { id: string; type: string; at_ms: number; technician: string; shop: string; station?: string; corrects?: string; payload: Record<string, unknown> }
export interface Claim extends Head { etag: string; limits_revision: number | null; stations: StationAt[]; readings: Reading[]; photos: Photo[]; findings: Finding[]; rulings: Ruling[] }

/** What is there now, for who looked at an earlier state. */
export interface Present { etag: string; verdict: Verdict | null; amount_minor: number; currency: string | null; last: { kind: Ruling['kind']; verdict: Verdict | null; person: string | null; reason: string | null; at_ms: number } | null }

/** What went wrong: the server's own words, and its status; 0 when it was not reached. */
export class Trouble extends Error {
    constructor(readonly status: number, message: string, readonly present: Present | null = null) { super(message); }
}

/** For the other files of calls: a Trouble when it was refused; what changes something says who, and by `etag` which state was looked at. */
export async function call(path: string, options: RequestInit = {}): Promise<Response> {
    let answer: Response;
    try {
        answer = await fetch('/api/v1/' + path, { ...options, headers: { Accept: 'application/json', ...(options.headers ?? {}) } });
    } catch {
        throw new Trouble(0, t('unreachable'));
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => null)) as { detail?: string; present?: Present } | null;
    throw new Trouble(answer.status, told?.detail ?? String(answer.status), told?.present ?? null);
}
const get = async <T>(path: string): Promise<T> => (await (await call(path)).json()) as T;

export const session = (): Promise<Session> => get('session');
export const signIn = async (name: string, password: string): Promise<Session> =>
    (await (await call('session', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ name, password }) })).json()) as Session;
export const signOut = async (s: Session): Promise<void> => void (await call('session', { method: 'DELETE', headers: { 'X-Mendwright-Csrf': s.csrf ?? '' } }));
const at = (id: string): string => `claims/${encodeURIComponent(id)}`;
async function claimOf(answer: Response): Promise<Claim> {
    return { ...((await answer.json()) as Claim), etag: (answer.headers.get('ETag') ?? '').replaceAll('"', '') };
}
export const claim = async (id: string): Promise<Claim> => claimOf(await call(at(id)));
export const events = async (id: string): Promise<Did[]> => ((await get(`${at(id)}/events`)) as { events: Did[] }).events;

// What a clerk does. Each says which state was looked at; when somebody was quicker, nothing is written and a Trouble of 412 tells what is there.

export const writing = (s: Session, etag: string | null, body?: unknown): RequestInit => ({
    headers: { 'X-Mendwright-Csrf': s.csrf ?? '', ...(etag === null ? {} : { 'If-Match': `"${etag}"` }), ...(body === undefined ? {} : { 'Content-Type': 'application/json' }) },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
});
export const say = async (s: Session, c: Claim, verdict: Verdict, reason: string, amount: number | null): Promise<Claim> =>
    claimOf(await call(`${at(c.claim)}/ruling`, { method: 'POST', ...writing(s, c.etag, amount === null ? { verdict, reason } : { verdict, reason, amount_minor: amount }) }));
export const takeBack = async (s: Session, c: Claim): Promise<Claim> => claimOf(await call(`${at(c.claim)}/ruling`, { method: 'DELETE', ...writing(s, c.etag) }));
export const payOut = async (s: Session, c: Claim): Promise<Claim> => claimOf(await call(`${at(c.claim)}/payment`, { method: 'POST', ...writing(s, c.etag) }));
export const note = async (s: Session, c: Claim, text: string): Promise<Claim> => claimOf(await call(`${at(c.claim)}/note`, { method: 'POST', ...writing(s, c.etag, { text }) }));
export interface Settled { claims: { claim: string; result: 'paid' | 'changed' | 'findings' | 'nothing' | 'unknown' | 'failed'; paid_minor: number }[]; n_paid: number }
export const settle = async (s: Session, rows: readonly Row[]): Promise<Settled> =>
    (await (await call('payments', { method: 'POST', ...writing(s, null, { claims: rows.map((r) => ({ claim: r.claim, etag: r.etag })) }) })).json()) as Settled;
export const letterAt = (id: string, as: 'text' | 'pdf', language: string): string => `/api/v1/${at(id)}/letter?as=${as}&language=${language}`;
export const photoAt = (claim: string, sha256: string): string => `/api/v1/claims/${encodeURIComponent(claim)}/photos/${encodeURIComponent(sha256)}`;

/** The bulletin that a claim was made by; null where it is not kept. A revision never changes, so it is asked for once. */
const kept = new Map<string, Promise<Bulletin | null>>();
export function bulletin(of: { bulletin: string; revision: number | null }): Promise<Bulletin | null> {
    if (of.revision === null) return Promise.resolve(null);
    const key = `${encodeURIComponent(of.bulletin)}/${of.revision}`;
    let found = kept.get(key);
    if (found === undefined) {
        found = get<Bulletin>(`bulletins/${key}`).catch((e: unknown) => {
            if (e instanceof Trouble && e.status === 404) return null;
            kept.delete(key);
            throw e;
        });
        kept.set(key, found);
    }
    return found;
}

export interface Order { shop: string; vin: string; after: string; verdict: string; needs: string; rule: string; findings: string; bulletin: string }
export interface Counts { all: number; verdict: Record<Verdict | 'unruled', number>; needs: Record<Need, number>; clean: number }
export interface Listed { claims: Row[]; more: boolean; counts: Counts }
export const PAGE = 100;
const VIN = 17;

/** One page of claims from `after` on. A VIN that is not whole is the end of one. */
export function claims(o: Order): Promise<Listed> {
    const q = new URLSearchParams({ limit: String(PAGE) });
    for (const name of ['shop', 'after', 'verdict', 'needs', 'rule', 'findings', 'bulletin'] as const) if (o[name] !== '') q.set(name, o[name]);
    if (o.vin !== '') q.set(o.vin.length < VIN ? 'tail' : 'vin', o.vin);
    return get(`claims?${q}`);
}
