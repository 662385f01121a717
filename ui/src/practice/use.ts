// use: what every practice screen needs beside the Bench's tools: its own texts, names of places, amounts as they are shown.
import { createContext } from 'preact';
import { useContext, useEffect, useReducer } from 'preact/hooks';
import { useApp, Tools } from '../view/context';
import { uText } from '../view/readings';
import type { Unit } from '../core/core';
import { Fault, OpName } from '../core/practice';
import type { Reading } from './account';
import type { School } from './school';
import { Key, translate } from './text';

export const SchoolContext = createContext<School | null>(null);
export function useSchool(): School {
    const school = useContext(SchoolContext)!, [, again] = useReducer<number, null>((n) => n + 1, 0);
    useEffect(() => school.subscribe(() => again(null)), [school]);
    return school;
}

export interface PTools extends Tools {
    p(key: Key, values?: Readonly<Record<string, string | number>>): string;
    /** "Fore upper". */ place(side: number, place: number): string;
    side(side: number): string;
    /** What was read, as it is written into the notebook: figure with unit. */ value(name: OpName, nano: bigint): string;
    /** The same without the unit. */ bare(name: OpName, nano: bigint): string;
    pm(r: Reading): string;
    clock(seconds: number): string;
    fault(f: Fault): string;
}

const UNIT: Partial<Record<OpName, Unit>> = { 'read-gap': 'mm', 'read-end': 'mm', 'check-tape': 'mm', 'read-volts': 'V', 'read-amps': 'A', 'read-time': 's' };
export const signed = (n: number): string => (n > 0 ? `+${n}` : n < 0 ? `\u2212${-n}` : '0');

export function usePractice(): PTools {
    const tools = useApp(), { language } = tools;
    const p = (key: Key, values: Readonly<Record<string, string | number>> = {}) => translate(language, key, values);
    const side = (s: number) => p(s === 0 ? 'fore' : 'aft'), place = (s: number, k: number) => p(`at-${s}-${k}` as Key);
    const count = (n: bigint) => (n === 0n ? p('teeth-0') : n === 1n || n === -1n ? p('teeth-1', { n: signed(Number(n)) }) : p('teeth-n', { n: signed(Number(n)) }));
    const length = (nm: number) => tools.figure(BigInt(Math.round(Math.abs(nm))), 'mm', 2), more = (n: number, up: Key, down: Key, v: Record<string, string | number>) => p(n > 0 ? up : down, v);
    return {
        ...tools, p, place, side,
        value: (name, nano) => (name === 'count-teeth' ? count(nano) : tools.figure(nano, UNIT[name] ?? '1', 2)),
        bare: (name, nano) => (name === 'count-teeth' ? signed(Number(nano)) : tools.show(nano, UNIT[name] ?? '1', 2).text),
        pm: (r) => (r.u === 0 ? '' : `\u00b1${uText(tools, r.u, UNIT[r.name] ?? '1')}`),
        clock: (s) => p('minutes', { n: Math.round(s / 60) }),
        fault: (f) => {
            const v = { where: place(f.side, f.place), side: side(f.side), n: Math.abs(f.amount) };
            switch (f.fault) {
                case 'teeth': case 'packing': case 'toe': return more(f.amount, `f-${f.fault}-more`, `f-${f.fault}-less`, v);
                case 'cut': case 'key': case 'wear': case 'width': case 'taper': case 'hook': return more(f.amount, `f-${f.fault}-more`, `f-${f.fault}-less`, { ...v, n: length(f.amount) });
                case 'offset': case 'opening': return more(f.amount, `f-${f.fault}-more`, `f-${f.fault}-less`, { ...v, n: length(f.amount) });
                case 'yaw': case 'lean': case 'twist': return more(f.amount, `f-${f.fault}-more`, `f-${f.fault}-less`, { ...v, n: length(f.amount) });
                case 'supply': return p('f-supply', { n: tools.figure(BigInt(f.amount) * 1000000n, 'V', 2) });
                case 'lead': return p('f-lead', { ...v, n: (f.amount / 1000).toFixed(0) });
                case 'parallax': return p('f-parallax', { n: length(f.amount) });
                default: return p(`f-${f.fault}` as Key, v);
            }
        },
    };
}
