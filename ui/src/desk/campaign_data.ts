// campaign_data: the campaign as the server tells it (GET /api/v1/campaign, src/serve/files/openapi.json), and the stream that says when to ask again.
import type { Amount } from '../bulletin/types';
import { Trouble, Verdict } from './api';
import { c } from './campaign_text';

export interface Count { in_scope: number; reached: number; done: number; proved: number; unknown: number; beyond: number }
export interface Money { stands_minor: number; paid_minor: number; promised_minor: number; owed_back_minor: number; asked_minor: number; held_minor: number; refused_minor: number }
export interface Reserve { verdict: 'within' | 'over' | 'open'; minor: number | null; person: string | null; at_ms: number | null; expected_minor: number | null; low_minor: number | null; high_minor: number | null; mean_unit_minor: number | null }
export type Ruled = Verdict | 'unruled';
export const RULED: readonly Ruled[] = ['pay', 'ask', 'hold', 'refuse', 'unruled'];
export interface ShopMoney extends Money, Record<Ruled, number> { shop: string | null; filter: string }
export interface Stock { on_hand: number; ordered: number; lead_days: number; used_since: number; left: number; days: number | null; days_low: number | null; days_high: number | null; short: boolean }
export interface KitRow { kit: string; name: string; number: string | null; used: number; to_come: number | null; to_come_high: number | null; stock: Stock | null }
export interface PointRow { point: string; shop: string | null; unit: Amount['unit']; low_nano: number | null; high_nano: number | null; n: number; outside: number; mean: number; sd: number; ppk: number | null; ppk_low: number | null; ppk_high: number | null }
export interface Reason { kind: 'findings' | 'digits' | 'copies'; k: number; n: number; share: number; others_share: number; p: number; q: number; words: string }
export interface News { since_ms: number; taken: number; ruled: Record<Verdict, number>; changed: number; overruled: number; payments: number; paid_minor: number; papers: number }
export interface Forecast { known: boolean; why: string | null; from: string | null; units?: number; come?: number; further?: number; further_low?: number; further_high?: number; share?: number; share_low?: number; share_high?: number; half_by_days?: number; most_by_days?: number }
export interface Campaign {
    bulletin: string; revision: number; title: string; currency: string; currency_digits: number; invented: boolean; build_list: boolean; issued: string | null; until: string | null; today: string; seq: number;
    units: Count; stations: Count; claims: { verdict: Ruled; claims: number; filter: string }[]; other_currency: number;
    money: Money & { reserve: Reserve; by_kind: (Money & { kind: string })[]; by_shop: ShopMoney[] };
    forecast: Forecast; kits: KitRow[]; readings: PointRow[]; looks: { shop: string; filter: string; reasons: Reason[] }[]; tests: number; news: News | null;
}

async function get<T>(path: string): Promise<T> {
    let answer: Response;
    try {
        answer = await fetch('/api/v1/' + path, { headers: { Accept: 'application/json' } });
    } catch {
        throw new Trouble(0, c('unreachable'));
    }
    if (answer.ok) return (await answer.json()) as T;
    const told = (await answer.json().catch(() => null)) as { detail?: string } | null;
    throw new Trouble(answer.status, told?.detail ?? String(answer.status));
}

/** The bulletins that are kept, each once, and the campaign of the one asked for; null: none is kept yet. */
export async function look(bulletin: string, since: number | null): Promise<{ ids: string[]; campaign: Campaign } | null> {
    const kept = await get<{ bulletins: { id: string }[] }>('bulletins'), ids = [...new Set(kept.bulletins.map((b) => b.id))];
    if (ids.length === 0) return null;
    const q = new URLSearchParams({ bulletin: ids.includes(bulletin) ? bulletin : ids[0]! });
    if (since !== null) q.set('since', String(since));
    return { ids, campaign: await get<Campaign>(`campaign?${q}`) };
}

/** Calls `came` whenever the log went on, and `live` with whether the stream holds. The browser comes again by itself. */
export function listen(came: () => void, live: (is: boolean) => void): () => void {
    const stream = new EventSource('/api/v1/news');
    let last = '';
    const see = (e: MessageEvent) => {
        live(true);
        if (last !== '' && e.lastEventId !== last) came();
        last = e.lastEventId;
    };
    stream.addEventListener('here', see);
    stream.addEventListener('news', see);
    stream.addEventListener('error', () => live(false));
    return () => stream.close();
}

/** All of them together. */
export const mostOf = (of: Record<string, number>): number => Object.values(of).reduce((a, b) => a + b, 0);
