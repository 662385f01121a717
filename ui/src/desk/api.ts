// api: the calls that the Desk makes of the server, and the forms of their answers (src/serve/files/openapi.json).
import type { Bulletin } from '../bulletin/types';
import { t } from './text';

export type Verdict = 'pay' | 'ask' | 'hold' | 'refuse';
export type Role = 'nobody' | 'technician' | 'clerk' | 'owner';
export interface Session { role: Role; name?: string; shop?: string | null; csrf?: string }
export interface Head {
    claim: string; vin: string; shop: string | null; technician: string | null; bulletin: string; revision: number | null; job: string | null; opened_ms: number | null; finished_ms: number | null; taken_ms: number;
    signature: string | null; is_invented: boolean; verdict: Verdict | null; amount_minor: number; currency: string | null; paid_minor: number; is_overruled: boolean;
}
export interface Finding { rule: string; level: 'note' | 'ask' | 'hold' | 'refuse'; station: string | null; message: string; cure: string | null }
export interface Award { station: string; verdict: string; amount_minor: number }
export interface Ruling { kind: 'ruled' | 'overruled' | 'paid'; verdict: Verdict; amount_minor: number; currency: string | null; revision: number | null; person: string | null; reason: string | null; at_ms: number; awards: Award[]; findings: Finding[] }
export interface StationAt { station: string; variant: string | null; label: string | null; built_first: string | null; built_last: string | null; scope: string | null; kit: string | null }
export interface Reading { station: string | null; point: string; phase: string | null; value_nano: number; unit: string; taken_ms: number | null }
export interface Photo { name: string; station: string | null; proof: string | null; sha256: string; width: number | null; height: number | null; taken_ms: number | null; sharpness: number | null; exposure: number | null; codes: string | null; fault: string | null }
export interface Claim extends Head { stations: StationAt[]; readings: Reading[]; photos: Photo[]; findings: Finding[]; rulings: Ruling[] }

/** What went wrong: the server's own words, and its status; 0 when it was not reached. */
export class Trouble extends Error {
    constructor(readonly status: number, message: string) { super(message); }
}

async function call(path: string, options: RequestInit = {}): Promise<Response> {
    let answer: Response;
    try {
        answer = await fetch('/api/v1/' + path, { ...options, headers: { Accept: 'application/json', ...(options.headers ?? {}) } });
    } catch {
        throw new Trouble(0, t('unreachable'));
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => null)) as { detail?: string } | null;
    throw new Trouble(answer.status, told?.detail ?? String(answer.status));
}
const get = async <T>(path: string): Promise<T> => (await (await call(path)).json()) as T;

export const session = (): Promise<Session> => get('session');
export const signIn = async (name: string, password: string): Promise<Session> =>
    (await (await call('session', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ name, password }) })).json()) as Session;
export const signOut = async (s: Session): Promise<void> => void (await call('session', { method: 'DELETE', headers: { 'X-Mendwright-Csrf': s.csrf ?? '' } }));
export const claim = (id: string): Promise<Claim> => get(`claims/${encodeURIComponent(id)}`);
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

export interface Order { shop: string; vin: string; after: string; verdict: string }
export interface Listed { claims: Head[]; looked: number; more: boolean; next: string }
export const PAGE = 100;
const PAGE_MOST = 500, CALLS_MOST = 8;

function ask(o: Order, after: string, limit: number): Promise<{ claims: Head[]; more: boolean }> {
    const q = new URLSearchParams({ limit: String(limit) });
    if (o.shop !== '') q.set('shop', o.shop);
    if (o.vin !== '') q.set('vin', o.vin);
    if (after !== '') q.set('after', after);
    return get(`claims?${q}`);
}

/** One page of claims from `after` on. The interface knows shop and VIN; a verdict is picked out here, from as many claims as make a page,
 * at most PAGE_MOST * CALLS_MOST of them. `looked`: how many were looked through; `next`: the last of them. */
export async function claims(o: Order): Promise<Listed> {
    const found: Listed = { claims: [], looked: 0, more: true, next: o.after };
    for (let i = 0; i < (o.verdict === '' ? 1 : CALLS_MOST) && found.more && found.claims.length < PAGE; i++) {
        const got = await ask(o, found.next, o.verdict === '' ? PAGE : PAGE_MOST);
        found.more = got.more;
        for (const [at, c] of got.claims.entries()) {
            found.looked++;
            found.next = c.claim;
            if (o.verdict === '' || (c.verdict ?? 'unruled') === o.verdict) found.claims.push(c);
            if (found.claims.length === PAGE) {
                found.more = got.more || at + 1 < got.claims.length;
                break;
            }
        }
        if (got.claims.length === 0) break;
    }
    return found;
}
