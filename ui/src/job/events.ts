// events: what a technician did, one thing an event; the same file that src/proof/event.h describes (doc/events.schema.json).
// Owns the table of types, reading with every rule of the program's reader, order, and writing. The table below is the twin of
// event_types in src/proof/event.c; a test holds it to the published schema.
import { UNITS, Unit } from '../core/core';

export type Payload = Readonly<Record<string, string | number | Readonly<Record<string, string>>>>;
export interface Event {
    readonly id: string; readonly type: EventType; readonly at_ms: number; readonly technician: string; readonly shop: string;
    readonly station?: string; readonly corrects?: string; readonly payload: Payload;
}
export interface EventFile {
    mendwright_events: 1; invented?: boolean; bulletin: { id: string; revision: number; sha256: string }; vin: string; events: Event[];
}

export type FieldKind = 'id' | 'code' | 'line' | 'text' | 'path' | 'sha256' | 'integer' | 'date' | 'choice' | 'pairs' | 'amount';
export interface Field { name: string; kind: FieldKind; needed: boolean; notZero?: boolean; least?: number; most?: number; choices?: readonly string[] }

const AMOUNT_MAX = 1e15;
const f = (name: string, kind: FieldKind, needed: boolean, more: Partial<Field> = {}): Field => ({ name, kind, needed, ...more });
const length = (name: string, needed: boolean, least: number) => f(name, 'integer', needed, { least, most: AMOUNT_MAX });

export const EVENT_UNITS = ['V', 'A', 's', 'N m', 'deg', 'ohm', '1'] as const;

export const EVENT_TYPES = {
    opened: { station: 'none', fields: [f('software', 'line', false)] },
    label_read: { station: 'must', fields: [f('text', 'line', true), f('variant', 'code', false), f('built_first', 'date', false), f('built_last', 'date', false)] },
    scope_found: { station: 'must', fields: [f('verdict', 'choice', true, { choices: ['in', 'out', 'unknown'] }), f('reason', 'line', false)] },
    rack_measured: { station: 'must', fields: [f('rack', 'id', true), length('length_nm', true, 1), f('instrument', 'id', false)] },
    kit_chosen: { station: 'must', fields: [f('kit', 'id', true), f('with', 'pairs', false)] },
    cut: {
        station: 'must', fields: [f('rack', 'id', true), length('needed_nm', true, 1), length('stock_nm', true, 1), length('mark_nm', true, 1),
            length('offcut_nm', false, 0), f('from_end', 'id', false)],
    },
    hold_confirmed: { station: 'may', fields: [f('step', 'id', true)] },
    reading_taken: { station: 'may', fields: [f('point', 'id', true), f('value', 'amount', true), f('instrument', 'id', false), f('step', 'id', false)] },
    moved: {
        station: 'must', fields: [f('target', 'choice', true, { choices: ['adjuster', 'rack'] }), f('name', 'id', true),
            f('steps', 'integer', true, { notZero: true, least: -1000, most: 1000 })],
    },
    photo_taken: { station: 'may', fields: [f('photo', 'id', true), f('path', 'path', true), f('sha256', 'sha256', true)] },
    expense_claimed: {
        station: 'may', fields: [f('what', 'choice', true, { choices: ['travel', 'consumables', 'parts'] }), f('amount_minor', 'integer', true, { least: 0, most: 1e12 }),
            f('part', 'id', false), f('count', 'integer', false, { least: 1, most: 1000 }), f('why', 'line', false)],
    },
    finished: { station: 'none', fields: [f('minutes', 'integer', false, { least: 0, most: 100000 })] },
    note: { station: 'may', fields: [f('text', 'text', true)] },
} as const satisfies Record<string, { station: 'none' | 'may' | 'must'; fields: readonly Field[] }>;
export type EventType = keyof typeof EVENT_TYPES;
export const TYPE_NAMES = Object.keys(EVENT_TYPES) as EventType[];
export const fieldsOf = (type: EventType): readonly Field[] => EVENT_TYPES[type].fields;

// ---- reading: hostile, bounded; a message says where and what was expected ----

export class EventError extends Error {}

const PATTERNS: Partial<Record<FieldKind, [RegExp, number, string]>> = {
    id: [/^[a-z0-9]+(-[a-z0-9]+)*$/, 48, 'lower-case words with dashes'],
    code: [/^[A-Za-z0-9./_*-]+$/, 40, 'letters, digits and - . / _ *'],
    line: [/^[^\u0000-\u001f\u007f]+$/u, 120, 'one line of text'],
    text: [/^[^\u0000-\u0008\u000b-\u001f\u007f]+$/u, 2000, 'text'],
    path: [/^[A-Za-z0-9_-][A-Za-z0-9._-]*(\/[A-Za-z0-9_-][A-Za-z0-9._-]*)*$/, 200, 'a path below the folder'],
    sha256: [/^[0-9a-f]{64}$/, 64, '64 hexadecimal digits'],
};
const ULID = /^[0-7][0-9A-HJKMNP-TV-Z]{25}$/;
export const VIN = /^[0-9A-HJ-NPR-Z]{17}$/;
export const EVENTS_MAX = 20000;
const TIME_MAX_MS = 7258118399999;

type Bag = Record<string, unknown>;
const isBag = (v: unknown): v is Bag => typeof v === 'object' && v !== null && !Array.isArray(v);
const isDate = (t: string): boolean => /^(19|20|21)\d\d-\d\d-\d\d$/.test(t) && new Date(t + 'T00:00:00Z').toISOString().startsWith(t);

function fail(where: string, found: unknown, expected: string): never {
    throw new EventError(`${where}: found ${JSON.stringify(found)?.slice(0, 60) ?? 'nothing'}; expected ${expected}`);
}

function text(v: unknown, kind: FieldKind, where: string): string {
    const [pattern, most, expected] = PATTERNS[kind]!;
    if (typeof v !== 'string' || [...v].length > most || !pattern.test(v)) fail(where, v, `${expected}, at most ${most} characters`);
    return v;
}

function integer(v: unknown, least: number, most: number, where: string): number {
    if (typeof v !== 'number' || !Number.isInteger(v) || v < least || v > most) fail(where, v, `a whole number from ${least} to ${most}`);
    return v;
}

function only(bag: Bag, names: readonly string[], where: string): void {
    for (const key of Object.keys(bag)) if (!names.includes(key)) fail(`${where}.${key}`, key, `one of ${names.join(', ')}`);
}

function amount(bag: Bag, field: Field, where: string): Record<string, string | number> {
    if ('value_nm' in bag) {
        if ('value' in bag || 'unit' in bag) fail(where, bag, '"value_nm", or "value" with "unit"');
        return { value_nm: integer(bag['value_nm'], -AMOUNT_MAX, AMOUNT_MAX, `${where}.value_nm`) };
    }
    const value = bag[field.name], unit = bag['unit'];
    if (typeof value !== 'number' || Math.abs(value) > 1e6) fail(`${where}.value`, value, 'a number from -1000000 to 1000000');
    if (!EVENT_UNITS.includes(unit as (typeof EVENT_UNITS)[number])) fail(`${where}.unit`, unit, EVENT_UNITS.join(', '));
    return { value, unit: unit as string };
}

function pairs(v: unknown, where: string): Record<string, string> {
    if (!isBag(v) || Object.keys(v).length < 1 || Object.keys(v).length > 8) fail(where, v, '1 to 8 pairs');
    return Object.fromEntries(Object.entries(v).map(([k, x]) => [text(k, 'id', where), text(x, 'id', `${where}.${k}`)]));
}

function value(bag: Bag, field: Field, where: string): Record<string, string | number | Record<string, string>> {
    if (field.kind === 'amount') return amount(bag, field, where);
    const v = bag[field.name], at = `${where}.${field.name}`;
    if (v === undefined) {
        if (field.needed) fail(at, v, 'it is needed');
        return {};
    }
    if (field.kind === 'integer') {
        const n = integer(v, field.least!, field.most!, at);
        if (field.notZero && n === 0) fail(at, n, 'not 0');
        return { [field.name]: n };
    }
    if (field.kind === 'choice') {
        if (!field.choices!.includes(v as string)) fail(at, v, field.choices!.join(', '));
        return { [field.name]: v as string };
    }
    if (field.kind === 'date') {
        if (typeof v !== 'string' || !isDate(v)) fail(at, v, 'a day that exists, 1900 to 2199');
        return { [field.name]: v };
    }
    if (field.kind === 'pairs') return { [field.name]: pairs(v, at) };
    return { [field.name]: text(v, field.kind, at) };
}

function payload(type: EventType, v: unknown, where: string): Payload {
    if (!isBag(v)) fail(where, v, 'an object');
    const names = fieldsOf(type).flatMap((x) => (x.kind === 'amount' ? ['value_nm', x.name, 'unit'] : [x.name]));
    only(v, names, where);
    const out = Object.assign({}, ...fieldsOf(type).map((x) => value(v, x, where))) as Payload;
    if (type === 'expense_claimed' && out['part'] !== undefined && out['what'] !== 'parts') fail(`${where}.part`, out['part'], 'none unless parts are claimed');
    const first = out['built_first'], last = out['built_last'];
    if (typeof first === 'string' && typeof last === 'string' && last < first) fail(`${where}.built_last`, last, `not before ${first}`);
    return out;
}

export function checkEvent(v: unknown, where = 'event'): Event {
    if (!isBag(v)) fail(where, v, 'an object');
    only(v, ['id', 'type', 'at_ms', 'technician', 'shop', 'station', 'corrects', 'payload'], where);
    const type = v['type'] as EventType;
    if (!TYPE_NAMES.includes(type)) fail(`${where}.type`, v['type'], `one of ${TYPE_NAMES.join(', ')}`);
    if (typeof v['id'] !== 'string' || !ULID.test(v['id'])) fail(`${where}.id`, v['id'], 'a ULID');
    const rule = EVENT_TYPES[type].station, station = v['station'];
    if (rule === 'none' ? station !== undefined : rule === 'must' && station === undefined)
        fail(`${where}.station`, station, rule === 'none' ? 'none here' : 'a station');
    if (v['corrects'] !== undefined && (typeof v['corrects'] !== 'string' || !ULID.test(v['corrects']))) fail(`${where}.corrects`, v['corrects'], 'a ULID');
    return {
        id: v['id'], type, at_ms: integer(v['at_ms'], 0, TIME_MAX_MS, `${where}.at_ms`), technician: text(v['technician'], 'id', `${where}.technician`),
        shop: text(v['shop'], 'id', `${where}.shop`), ...(station === undefined ? {} : { station: text(station, 'id', `${where}.station`) }),
        ...(v['corrects'] === undefined ? {} : { corrects: v['corrects'] as string }), payload: payload(type, v['payload'], `${where}.payload`),
    };
}

/** A whole events.json. Throws EventError. */
export function readEvents(source: string): EventFile {
    let v: unknown;
    try {
        v = JSON.parse(source);
    } catch (e) {
        throw new EventError(`not JSON: ${String(e)}`);
    }
    if (!isBag(v)) fail('file', v, 'an object');
    only(v, ['mendwright_events', 'invented', 'bulletin', 'vin', 'events'], 'file');
    if (v['mendwright_events'] !== 1) fail('mendwright_events', v['mendwright_events'], '1');
    if (v['invented'] !== undefined && typeof v['invented'] !== 'boolean') fail('invented', v['invented'], 'true or false');
    const b = v['bulletin'];
    if (!isBag(b)) fail('bulletin', b, 'an object');
    only(b, ['id', 'revision', 'sha256'], 'bulletin');
    if (typeof v['vin'] !== 'string' || !VIN.test(v['vin'])) fail('vin', v['vin'], 'a VIN');
    if (!Array.isArray(v['events']) || v['events'].length < 1 || v['events'].length > EVENTS_MAX)
        fail('events', typeof v['events'], `a list of 1 to ${EVENTS_MAX}`);
    return {
        mendwright_events: 1, ...(v['invented'] === undefined ? {} : { invented: v['invented'] as boolean }),
        bulletin: { id: text(b['id'], 'code', 'bulletin.id'), revision: integer(b['revision'], 1, 1000000, 'bulletin.revision'), sha256: text(b['sha256'], 'sha256', 'bulletin.sha256') },
        vin: v['vin'], events: v['events'].map((e, i) => checkEvent(e, `events[${i}]`)),
    };
}

// ---- order ----

const number = (a: number, b: number): number => (a > b ? 1 : 0) - (a < b ? 1 : 0);
const encoder = new TextEncoder();
/** As strcmp on UTF-8. JavaScript compares UTF-16, which differs beyond the first 65 536 characters. */
export function compareText(a: string | undefined, b: string | undefined): number {
    if (a === undefined || b === undefined) return number(a === undefined ? 0 : 1, b === undefined ? 0 : 1);
    if (a === b) return 0;
    const x = encoder.encode(a), y = encoder.encode(b);
    for (let i = 0; i < Math.min(x.length, y.length); i++) if (x[i] !== y[i]) return number(x[i]!, y[i]!);
    return number(x.length, y.length);
}

function comparePairs(a: Readonly<Record<string, string>> = {}, b: Readonly<Record<string, string>> = {}): number {
    const x = Object.entries(a), y = Object.entries(b);
    let c = number(x.length, y.length);
    for (let i = 0; c === 0 && i < x.length; i++) c = compareText(x[i]![0], y[i]![0]) || compareText(x[i]![1], y[i]![1]);
    return c;
}

const unitIndex = (p: Payload): number => ('value_nm' in p ? 0 : UNITS.indexOf(p['unit'] as Unit));

function compareField(a: Payload, b: Payload, field: Field): number {
    if (field.kind === 'amount')
        return number(unitIndex(a), unitIndex(b)) || number(Number(a['value_nm'] ?? a['value']), Number(b['value_nm'] ?? b['value']));
    const x = a[field.name], y = b[field.name];
    if (field.kind === 'pairs') return comparePairs(x as Record<string, string> | undefined, y as Record<string, string> | undefined);
    if (field.kind === 'choice') return number(field.choices!.indexOf(x as string), field.choices!.indexOf(y as string));
    if (field.kind === 'integer') return number((x as number | undefined) ?? -Infinity, (y as number | undefined) ?? -Infinity);
    return compareText(x as string | undefined, y as string | undefined);
}

/** A total order: device time, then ULID, then content; 0 only when everything is the same. */
export function compareEvents(a: Event, b: Event): number {
    const head = number(a.at_ms, b.at_ms) || compareText(a.id, b.id) || number(TYPE_NAMES.indexOf(a.type), TYPE_NAMES.indexOf(b.type)) ||
        compareText(a.technician, b.technician) || compareText(a.shop, b.shop) || compareText(a.station, b.station) ||
        number(a.corrects === undefined ? 0 : 1, b.corrects === undefined ? 0 : 1) || compareText(a.corrects, b.corrects);
    if (head !== 0) return head;
    for (const field of fieldsOf(a.type)) {
        const c = compareField(a.payload, b.payload, field);
        if (c !== 0) return c;
    }
    return 0;
}

/** What lists of one job hold together, in order, each event once. */
export function mergeEvents(...lists: Event[][]): Event[] {
    const all = lists.flat().sort(compareEvents);
    return all.filter((e, i) => i === 0 || compareEvents(all[i - 1]!, e) !== 0);
}

// ---- writing: the members in the program's order, an event a line ----

export function writeEvents(file: EventFile): string {
    const line = (e: Event) => JSON.stringify({
        id: e.id, type: e.type, at_ms: e.at_ms, technician: e.technician, shop: e.shop, ...(e.station === undefined ? {} : { station: e.station }),
        ...(e.corrects === undefined ? {} : { corrects: e.corrects }), payload: e.payload,
    });
    const head = `{"mendwright_events":1,\n${file.invented === undefined ? '' : `"invented":${file.invented},\n`}` +
        `"bulletin":${JSON.stringify(file.bulletin)},\n"vin":${JSON.stringify(file.vin)},\n"events":[\n`;
    return head + [...file.events].sort(compareEvents).map(line).join(',\n') + '\n]}\n';
}
