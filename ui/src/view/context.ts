// context: what every screen needs: the app, the reader's language, the way amounts are shown. One hook, useApp.
import { createContext } from 'preact';
import { useContext, useEffect, useReducer } from 'preact/hooks';
import type { Relay } from '../send/relay';
import type { Sender } from '../send/sender';
import type { App, OpenJob } from '../store/app';
import { Bulletin, Text, textIn } from '../bulletin/types';
import { T, translator } from '../text';
import { shown, Shown, shownText, System } from '../core/amounts';
import type { Unit } from '../core/core';

export const AppContext = createContext<App | null>(null);
export const SenderContext = createContext<Sender | null>(null);
export const RelayContext = createContext<Relay | null>(null);

export interface Tools {
    app: App; t: T; system: System; language: string;
    /** A bulletin's text in the reader's language. */
    say(b: Bulletin, text: Text): string;
    /** The lang attribute when that text is not in the reader's language. */
    langOf(b: Bulletin, text: Text): string | undefined;
    show(nano: bigint, unit: Unit, fine?: number): Shown;
    figure(nano: bigint, unit: Unit, fine?: number): string;
    length(nm: bigint, fine?: number): string;
    stationName(b: Bulletin, id: string | null): string;
}

export function useApp(): Tools {
    const app = useContext(AppContext)!;
    const [, again] = useReducer<number, null>((n) => n + 1, 0);
    useEffect(() => app.subscribe(() => again(null)), [app]);
    const { language, system } = app.settings, t = translator(language);
    return {
        app, t, system, language,
        say: (b, text) => textIn(b, text, language),
        langOf: (b, text) => (text[language] !== undefined || Object.keys(text).length === 0 ? undefined : text[b.bulletin.language] !== undefined ? b.bulletin.language : Object.keys(text)[0]),
        show: (nano, unit, fine = 1) => shown(app.core, nano, unit, system, fine),
        figure: (nano, unit, fine = 1) => shownText(app.core, nano, unit, system, fine),
        length: (nm, fine = 1) => shownText(app.core, nm, system, system, fine),
        stationName: (b, id) => (id === null || id === '' ? t('whole-unit') : textIn(b, b.scope.stations.find((s) => s.id === id)?.name ?? {}, language) || id),
    };
}

/** Listens, and looks once: the answer may have come between the first drawing and this. */
function heard(source: { subscribe(f: () => void): () => void } | null, again: () => void): (() => void) | undefined {
    const stop = source?.subscribe(again);
    if (source !== null) again();
    return stop;
}

/** The way to the server; null where there is none. */
export function useSender(): Sender | null {
    const sender = useContext(SenderContext), [, again] = useReducer<number, null>((n) => n + 1, 0);
    useEffect(() => heard(sender, () => again(null)), [sender]);
    return sender;
}

/** The way to other phones; null where there is none. */
export function useRelay(): Relay | null {
    const relay = useContext(RelayContext), [, again] = useReducer<number, null>((n) => n + 1, 0);
    useEffect(() => heard(relay, () => again(null)), [relay]);
    return relay;
}

export const go = (path: string): void => { location.hash = '#/' + path; };
export const jobPath = (job: OpenJob, rest = ''): string => `j/${job.record.id}${rest === '' ? '' : '/' + rest}`;
/** A chance in percent, never rounded up to certainty. */
export function percent(p: number): string {
    if (p >= 0.9995) return '>\u00a099.9\u00a0%';
    return p < 0.0005 ? '<\u00a00.1\u00a0%' : `${(p * 100).toFixed(p > 0.99 || p < 0.01 ? 1 : 0)}\u00a0%`;
}
