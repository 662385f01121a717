// draft: the calls about drafts of bulletins, and the forms of their answers (src/serve/files/openapi.json).
import type { Bulletin } from '../bulletin/types';
import { Session, Trouble, Verdict } from './api';
import { t } from './text';

export interface Fault { line: number; column: number; path: string; message: string }
export interface Change { where: string; was: string | null; now: string | null }
export interface Check {
    valid: boolean; meaning_checked: boolean; faults: Fault[]; warnings: Fault[]; more_faults: number; more_warnings: number; id?: string; revision?: number;
    against: number | null; changes: Change[]; more_changes: number; bulletin?: Bulletin;
}
export interface ScopeMove { in_before: number | null; in_now: number; swept_in: number; let_out: number; unknown_now: number }
export type Was = Verdict | 'unruled';
export interface WhatIf {
    id: string; revision: number; against_revision: number | null; units: ScopeMove; stations_in_scope: ScopeMove;
    claims: { n: number; changed: number; overruled: number; unruled: number; moves: { was: Was; now: Was; n: number; because: { finding: string | null; n: number }[] }[]; dearest: { claim: string; vin: string; was: Was; now: Was; was_minor: number; now_minor: number; paid_minor: number }[] };
    money: { currency: string | null; currency_digits: number | null; was_minor: number; now_minor: number; owed_back_minor: number };
}
export interface Task<T> { task: string; state: 'waiting' | 'running' | 'done' | 'failed' | 'stopped'; what: string; done: number; all: number; answer?: T; fault?: Fault }
export interface Kept { name: string; bytes: number; changed_ms: number }
export interface Text { text: string; tag: string }
/** Somebody else put another text there. */
export class Overtaken extends Error {}

async function call(who: Session, method: string, path: string, body?: unknown, headers: Record<string, string> = {}): Promise<Response> {
    const more: Record<string, string> = method === 'GET' ? {} : { 'X-Mendwright-Csrf': who.csrf ?? '' };
    if (body !== undefined) more['Content-Type'] = 'application/json';
    let answer: Response;
    try {
        answer = await fetch('/api/v1/' + path, { method, headers: { Accept: 'application/json', ...more, ...headers }, cache: 'no-store', ...(body === undefined ? {} : { body: JSON.stringify(body) }) });
    } catch {
        throw new Trouble(0, t('unreachable'));
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => null)) as { detail?: string; field?: string } | null, detail = told?.detail ?? String(answer.status);
    if (answer.status === 412) throw new Overtaken(detail);
    throw new Trouble(answer.status, told?.field === undefined ? detail : `${told.field}: ${detail}`);
}
const json = async <T>(answer: Promise<Response>): Promise<T> => (await (await answer).json()) as T;
const at = (name: string): string => `drafts/${encodeURIComponent(name)}`;
/** A new draft must not be there yet. */
const condition = (tag: string): Record<string, string> => (tag === '' ? { 'If-None-Match': '*' } : { 'If-Match': tag });

export const list = async (who: Session): Promise<Kept[]> => (await json<{ drafts: Kept[] }>(call(who, 'GET', 'drafts'))).drafts;
export const held = async (who: Session): Promise<{ id: string; revision: number }[]> => (await json<{ bulletins: { id: string; revision: number }[] }>(call(who, 'GET', 'bulletins'))).bulletins;
export async function open(who: Session, name: string): Promise<Text> {
    const answer = await call(who, 'GET', at(name));
    return { text: await answer.text(), tag: answer.headers.get('ETag') ?? '' };
}
export const file = async (who: Session, id: string, revision: number): Promise<string> => (await call(who, 'GET', `bulletins/${encodeURIComponent(id)}/${revision}/file`)).text();
/** Puts it in place of what `tag` names; the tag of what is there then. */
export const save = async (who: Session, name: string, text: string, tag: string): Promise<string> => (await call(who, 'PUT', at(name), { text }, condition(tag))).headers.get('ETag') ?? '';
export const drop = async (who: Session, name: string, tag: string): Promise<void> => void (await call(who, 'DELETE', at(name), undefined, condition(tag)));
export const check = (who: Session, text: string, whole = false): Promise<Check> => json(call(who, 'POST', 'bulletins/check', { text, whole }));
/** Paper to teach by, of a bulletin that holds: cards have backs, for a printer that prints on both sides. */
export const teachAt = (id: string, revision: number, kind: 'cards' | 'crib', language: string): string =>
    `/api/v1/bulletins/${encodeURIComponent(id)}/${revision}/${kind}.pdf?language=${language}${kind === 'cards' ? '&back=1' : ''}`;
export const sheet = async (who: Session, text: string, paper: 'a4' | 'letter'): Promise<Blob> => (await call(who, 'POST', 'bulletins/sheet', { text, paper })).blob();
/** The page of the sheet on which a step begins, as a picture; which of how many. step '': by its number. */
export async function page(who: Session, text: string, step: string, number: number): Promise<{ png: Blob; page: number; pages: number }> {
    const answer = await call(who, 'POST', 'bulletins/sheet', { text, ...(step === '' ? { page: number } : { step }) }), of = (name: string) => Number(answer.headers.get(name) ?? 0);
    return { png: await answer.blob(), page: of('X-Mendwright-Page'), pages: of('X-Mendwright-Pages') };
}
export const issue = (who: Session, text: string, before: number): Promise<{ id: string; revision: number }> => json(call(who, 'POST', 'bulletins', { text, before }));

const wait = (ms: number): Promise<void> => new Promise((go) => setTimeout(go, ms));
/** Begins long work and waits for its answer; `step` is told how far it is. */
async function work<T>(who: Session, path: string, body: unknown, step: (task: Task<T>) => void): Promise<T> {
    const { task } = await json<{ task: string }>(call(who, 'POST', path, body));
    for (let ms = 100; ; ms = Math.min(2000, ms * 1.5)) {
        const told = await json<Task<T>>(call(who, 'GET', `tasks/${task}`));
        step(told);
        if (told.state === 'done' && told.answer !== undefined) return told.answer;
        if (told.state === 'failed' || told.state === 'stopped') throw new Trouble(0, told.fault?.message ?? t('bul-stopped'));
        await wait(ms);
    }
}
/** What would follow. */
export const foresee = (who: Session, text: string, step: (task: Task<WhatIf>) => void): Promise<WhatIf> => work(who, 'bulletins/what-if', { text }, step);
/** The rules' turn: on the claims that no ruling stands for yet. */
export interface Turn { ruled: number; changed: number; unruled: number; pay: number; ask: number; hold: number; refuse: number }
export const rule = (who: Session, step: (task: Task<Turn>) => void): Promise<Turn> => work(who, 'rulings', {}, step);

export interface FieldOf { path: string; key: string; needed: boolean; kind: string; what: string; example: string | null }
export const reference = async (who: Session): Promise<FieldOf[]> => (await json<{ fields: FieldOf[] }>(call(who, 'GET', 'bulletins/reference'))).fields;
