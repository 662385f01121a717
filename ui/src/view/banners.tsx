// banners: the few things that concern every screen: a failed write, no network, a newer version, a clock that went back.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { Trouble } from '../store/app';
import type { Key, T } from '../text';
import { useApp } from './context';

export function useOnline(): boolean {
    const [online, set] = useState(navigator.onLine);
    useEffect(() => {
        const look = () => set(navigator.onLine);
        addEventListener('online', look);
        addEventListener('offline', look);
        return () => { removeEventListener('online', look); removeEventListener('offline', look); };
    }, []);
    return online;
}

/** From here on a clock is called wrong: less may be the network's and the server's own. */
const CLOCK_OFF_MS = 120000;
const MINUTE = 60000, HOUR = 3600000, DAY = 86400000, YEAR = 365.25 * DAY;

/** A span in the unit that fits it. */
export function span(t: T, ms: number): string {
    const n = (unit: number) => Math.round(ms / unit);
    return ms < 2 * HOUR ? t('span-min', { n: n(MINUTE) }) : ms < 2 * DAY ? t('span-h', { n: n(HOUR) }) : ms < 2 * YEAR ? t('span-days', { n: n(DAY) }) : t('span-years', { n: n(YEAR) });
}

/** What is wrong with the clock, as far as the server or the last entry tells. */
function clockWords(t: T, behind_ms: number, ahead_ms: number | null): string | null {
    if (ahead_ms !== null && Math.abs(ahead_ms) >= CLOCK_OFF_MS) return t(ahead_ms > 0 ? 'clock-slow' : 'clock-fast', { n: span(t, Math.abs(ahead_ms)) });
    if (behind_ms < CLOCK_OFF_MS) return null;
    return t(ahead_ms === null ? 'clock-behind' : 'clock-was-ahead', { n: span(t, behind_ms) });
}

const TROUBLE: Record<Trouble['kind'], Key> = { 'storage-full': 'storage-full', store: 'store-failed', 'typing-full': 'typing-full', typing: 'typing-failed' };

export function Banners(): JSX.Element | null {
    const { app, t } = useApp(), clock = clockWords(t, app.clockBehind(), app.serverAhead_ms);
    return (
        <>
            {app.trouble !== null && <div class="banner stop" role="alert" data-trouble={app.trouble.kind}><span>{t(TROUBLE[app.trouble.kind], { detail: app.trouble.detail })}</span></div>}
            {clock !== null && <div class="banner stop" role="status" data-clock><span>{clock}</span></div>}
            {app.update !== null && <div class="banner" role="status"><span>{t('update-waits')}</span><button type="button" class="plain-button" onClick={() => app.update?.()}>{t('update-take')}</button></div>}
        </>
    );
}
