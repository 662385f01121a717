// people_data: the calls on people, shops, keys and who did what, and the forms of their answers (src/serve/files/openapi.json).
import { call, Role, Session, writing } from './api';

export interface Person { name: string; role: Role; shop: string | null; revoked: boolean; has_password: boolean }
export interface Link { name: string; path: string; hours: number }
export interface Act {
    at_ms: number; what: string; who: string | null; whom: string | null; detail: string | null; claim: string | null; verdict: string | null;
    amount_minor: number | null; currency: string | null; currency_digits: number | null; paper: string | null; name: string | null; revision: number | null; seq: number | null;
}
export interface Acts { acts: Act[]; next: string | null }
export const DID = ['overruled', 'taken-back', 'paid', 'noted', 'paper', 'builds', 'added', 'let-in', 'changed', 'link', 'revoked', 'forgotten'] as const;

export type Kind = 'shop' | 'mobile' | 'dealer' | 'owner';
export const KINDS: readonly Kind[] = ['shop', 'mobile', 'dealer', 'owner'];
export interface Rate { kind: Kind; rate: string | null; from: string | null }
export interface Shop { shop: string; claims: number; rows: Rate[]; keys: string[] }
/** tag: of the list, for whoever changes it. */
export interface Shops { sha256: string | null; kept_ms: number | null; shops: Shop[]; tag: string }

const read = async <T>(answer: Promise<Response>): Promise<T> => (await (await answer).json()) as T;
const at = (name: string): string => `people/${encodeURIComponent(name)}`;

export const people = async (): Promise<Person[]> => (await read<{ people: Person[] }>(call('people'))).people;
export const invite = (who: Session, name: string, role: Role, shop: string): Promise<Person> => read(call('people', { method: 'POST', ...writing(who, null, { name, role, shop: shop === '' ? null : shop }) }));
export const change = (who: Session, name: string, role: Role, shop: string): Promise<Person> => read(call(at(name), { method: 'PUT', ...writing(who, null, { role, shop: shop === '' ? null : shop }) }));
export const link = (who: Session, name: string): Promise<Link> => read(call(`${at(name)}/link`, { method: 'POST', ...writing(who, null) }));
export const revoke = async (who: Session, name: string): Promise<void> => void (await call(at(name), { method: 'DELETE', ...writing(who, null) }));

export const forget = async (who: Session, name: string): Promise<void> => void (await call(`${at(name)}/name`, { method: 'DELETE', ...writing(who, null) }));

export function acts(what: string, who: string, from: string): Promise<Acts> {
    const q = new URLSearchParams({ limit: '50' });
    for (const [name, value] of Object.entries({ what, who, from })) if (value !== '') q.set(name, value);
    return read(call(`audit?${q}`));
}

async function shopsOf(answer: Promise<Response>): Promise<Shops> {
    const a = await answer;
    return { ...((await a.json()) as Shops), tag: (a.headers.get('ETag') ?? '').replaceAll('"', '') };
}
export const shops = (): Promise<Shops> => shopsOf(call('shops'));
export const putRow = (who: Session, tag: string, row: { shop: string; kind: Kind; rate: string; from: string }): Promise<Shops> => shopsOf(call('shops', { method: 'POST', ...writing(who, tag, { row }) }));
export const takeOut = (who: Session, tag: string, gone: { shop: string; from: string | null }): Promise<Shops> => shopsOf(call('shops', { method: 'POST', ...writing(who, tag, { gone }) }));
export const putList = (who: Session, tag: string, text: string): Promise<Shops> => shopsOf(call('shops', { method: 'POST', ...writing(who, tag, { text }) }));
export const putKey = (who: Session, shop: string, key: string): Promise<Shops> => shopsOf(call('keys', { method: 'POST', ...writing(who, null, { shop, key }) }));
export const revokeKey = (who: Session, key: string): Promise<Shops> => shopsOf(call(`keys/${encodeURIComponent(key)}`, { method: 'DELETE', ...writing(who, null) }));
