// units_calls: the calls about units and lists, and the forms of their answers (src/serve/files/openapi.json).
import { Row, Session, Trouble } from './api';
import { t } from './text';

export interface Station { station: string; label: string | null; listed: boolean; scope: 'in' | 'out' | 'unknown' | null; reason: string | null }
export interface Unit { vin: string; check: 'good' | 'wrong' | 'none'; unit: 'in' | 'out' | 'mixed' | 'unknown' | null; stations: Station[]; claims: Row[]; more: boolean }
export interface Found { bulletin: string | null; revision: number | null; units: Unit[]; more: boolean; next: string | null }
export const ASKED = ['vin', 'label', 'shop', 'after'] as const;
export type Asked = Record<(typeof ASKED)[number], string>;

export type Kind = 'builds' | 'failures' | 'shops';
/** Our columns, and whether a list must have them (src/desk/bring.h). */
export const FIELDS: Readonly<Record<Kind, readonly { name: string; isNeeded: boolean }[]>> = {
    builds: [{ name: 'vin', isNeeded: true }, { name: 'station', isNeeded: true }, { name: 'label', isNeeded: true }],
    failures: [{ name: 'vin', isNeeded: true }, { name: 'station', isNeeded: true }, { name: 'failed', isNeeded: true }, { name: 'reported', isNeeded: false }],
    shops: [{ name: 'shop', isNeeded: true }, { name: 'kind', isNeeded: true }, { name: 'rate', isNeeded: false }, { name: 'from', isNeeded: false }],
};
export type Columns = Readonly<Record<string, string | null>>;
export interface Looked { list: string; bytes: number; columns: string[]; guess: Record<Kind, Columns>; kind: Kind; first: string[][] }
export interface Tried {
    kind: Kind; dry: boolean; rows: number; faulty: number; faults: { line: number; column: number; field: string | null; reason: string }[]; more_faults: number; in_file: number;
    new: number; changed: number; same: number; repeated: number; gone: number; wrong_check_digits: number; first_wrong: { vin: string; line: number } | null; put: boolean;
}
export interface Task { task: string; state: 'waiting' | 'running' | 'done' | 'failed' | 'stopped'; what: string; done: number; all: number; answer?: Tried; fault?: { line: number; path: string; message: string } }
export const GIVEN = ['units', 'claims', 'stations', 'readings', 'rulings', 'awards', 'payments', 'failures', 'shops'] as const;

async function call(who: Session | null, method: string, path: string, body?: unknown): Promise<Response> {
    let answer: Response;
    try {
        answer = await fetch('/api/v1/' + path, {
            method, cache: 'no-store', ...(body === undefined ? {} : { body: JSON.stringify(body) }),
            headers: { Accept: 'application/json', ...(who === null ? {} : { 'X-Mendwright-Csrf': who.csrf ?? '' }), ...(body === undefined ? {} : { 'Content-Type': 'application/json' }) },
        });
    } catch {
        throw new Trouble(0, t('unreachable'));
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => null)) as { detail?: string } | null;
    throw new Trouble(answer.status, told?.detail ?? String(answer.status));
}

export async function find(asked: Asked): Promise<Found> {
    const q = new URLSearchParams({ limit: '20' });
    for (const name of ASKED) if (asked[name] !== '') q.set(name, asked[name]);
    return (await (await call(null, 'GET', `units?${q}`)).json()) as Found;
}

/** Sends a list; `step` is told how many bytes are on their way. (fetch does not tell.) */
export function send(who: Session, file: File, step: (done: number, all: number) => void): Promise<Looked> {
    return new Promise((take, fail) => {
        const wire = new XMLHttpRequest();
        wire.open('POST', '/api/v1/lists');
        wire.setRequestHeader('Content-Type', 'text/csv');
        wire.setRequestHeader('X-Mendwright-Csrf', who.csrf ?? '');
        wire.upload.onprogress = (e) => step(e.loaded, e.total);
        wire.onerror = () => fail(new Trouble(0, t('unreachable')));
        wire.onload = () => {
            let told: unknown = null;
            try { told = JSON.parse(wire.responseText); } catch { /* told below by its status */ }
            if (wire.status === 201) take(told as Looked);
            else fail(new Trouble(wire.status, (told as { detail?: string } | null)?.detail ?? String(wire.status)));
        };
        wire.send(file);
    });
}
export const bring = async (who: Session, list: string, kind: Kind, columns: Columns, dry: boolean): Promise<string> =>
    ((await (await call(who, 'POST', `lists/${list}/bring`, { kind, columns, dry })).json()) as { task: string }).task;
export const task = async (name: string): Promise<Task> => (await (await call(null, 'GET', `tasks/${name}`)).json()) as Task;
export const stop = async (who: Session, name: string): Promise<void> => void (await call(who, 'DELETE', `tasks/${name}`));
export const leave = async (who: Session, list: string): Promise<void> => void (await call(who, 'DELETE', `lists/${list}`).catch(() => undefined));
export const faultsAt = (list: string): string => `/api/v1/lists/${list}/faults`;
export const exportAt = (what: string, form: 'csv' | 'json'): string => `/api/v1/export/${what}.${form}`;
