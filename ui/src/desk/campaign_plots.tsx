// campaign_plots: the campaign's drawings. Each has its figures beside it in a table; none carries text of its own, so that it scales with the page.
import { JSX } from 'preact';
import type { Campaign, Money, PointRow, Reserve, Stock } from './campaign_data';

const W = 600;
const part = (n: number, of: number): number => (of > 0 ? Math.max(0, Math.min(1, n / of)) * W : 0);

/** A bar of the whole in scope, filled as far as it goes. */
export function Bar({ n, of, label }: { n: number; of: number; label: string }): JSX.Element {
    return (
        <svg class="bar" viewBox={`0 0 ${W} 14`} preserveAspectRatio="none" role="img" aria-label={label}>
            <rect class="band" x="0" y="3" width={W} height="8" />
            <rect class="full" x="0" y="1" width={part(n, of)} height="12" />
        </svg>
    );
}

/** Money on one line from nought: paid full, promised outlined, asked and held hatched; what it will have cost as a bar of its interval; the
 * reserve a post. */
export function MoneyBar({ m, r, label }: { m: Money; r: Reserve; label: string }): JSX.Element {
    const so = m.paid_minor + m.promised_minor, open = so + m.asked_minor + m.held_minor, most = Math.max(open, r.minor ?? 0, r.high_minor ?? 0, 1) * 1.04, x = (n: number) => part(n, most);
    return (
        <svg class="bar money-bar" viewBox={`0 0 ${W} 44`} preserveAspectRatio="none" role="img" aria-label={label}>
            <path class="line" d={`M0 30.5H${W}`} />
            <rect class="full" x="0" y="10" width={x(m.paid_minor)} height="20" />
            <rect class="act" x={x(m.paid_minor)} y="10" width={x(m.promised_minor)} height="20" />
            <rect class="soft" x={x(so)} y="14" width={x(m.asked_minor + m.held_minor)} height="16" />
            {r.low_minor !== null && r.high_minor !== null && r.expected_minor !== null &&
                <path class="line strong" d={`M${x(r.low_minor)} 38H${x(r.high_minor)}M${x(r.low_minor)} 34V42M${x(r.high_minor)} 34V42M${x(r.expected_minor)} 32V44`} />}
            {r.minor !== null && <path class={`post${r.verdict === 'over' ? ' stop' : ''}`} d={`M${x(r.minor)} 2V44`} />}
        </svg>
    );
}

/** Days until a kit runs out, with its interval, against the days that a new order takes (a post). */
export function Days({ stock, most, label }: { stock: Stock; most: number; label: string }): JSX.Element | null {
    if (stock.days === null || stock.days_low === null || stock.days_high === null) return null;
    const x = (n: number) => 2 + part(n, most) * (1 - 4 / W);
    return (
        <svg class={`bar${stock.short ? ' stop' : ''}`} viewBox={`0 0 ${W} 14`} preserveAspectRatio="none" role="img" aria-label={label}>
            <path class="line" d={`M0 12.5H${W}`} />
            <path class="line strong" d={`M${x(stock.days_low)} 6H${x(stock.days_high)}M${x(stock.days)} 1V11`} />
            <path class="post" d={`M${x(stock.lead_days)} 0V14`} />
        </svg>
    );
}

/** The strip (doc/looks.md) of many readings: the wedge at their mean, its bar two standard deviations either way. */
export function Spread({ r, one, label }: { r: PointRow; one: number; label: string }): JSX.Element {
    const S = 150, edge = S / 6, low = r.low_nano === null ? null : r.low_nano / one, high = r.high_nano === null ? null : r.high_nano / one;
    const span = low !== null && high !== null && high > low ? high - low : Math.max(Math.abs((low ?? high ?? r.mean) - r.mean) * 2, r.sd * 6, 1e-9);
    const from = low ?? (high === null ? r.mean - span / 2 : high - span), x = (v: number) => Math.max(-2, Math.min(S + 2, edge + ((S - 2 * edge) * (v - from)) / span)), at = Math.max(5, Math.min(S - 5, x(r.mean)));
    return (
        <svg class={`strip${r.outside > 0 ? ' stop' : ''}`} viewBox={`0 0 ${S} 26`} role="img" aria-label={label}>
            <rect class="band" x={edge} y="14" width={S - 2 * edge} height="6" />
            {low !== null ? <path class="edge" d={`M${edge} 11V23`} /> : <path class="open" d={`M0 17H${edge}`} />}
            {high !== null ? <path class="edge" d={`M${S - edge} 11V23`} /> : <path class="open" d={`M${S - edge} 17H${S}`} />}
            <path class="spread" d={`M${x(r.mean - 2 * r.sd)} 17H${x(r.mean + 2 * r.sd)}`} />
            <path class="wedge" d={`M${at} 13l5 -9h-10z`} />
        </svg>
    );
}

/** What in the bar is what. */
export const Swatch = ({ of }: { of: 'full' | 'act' | 'soft' | 'line' | 'post' }): JSX.Element => (
    <svg class="swatch" viewBox="0 0 18 14" aria-hidden="true">
        {of === 'line' ? <path class="line strong" d="M1 7H17M1 3V11M17 3V11M9 1V13" /> : of === 'post' ? <path class="post" d="M9 0V14" /> : <rect class={of} x="1" y="2" width="16" height="10" />}
    </svg>
);

export const mostDays = (c: Campaign): number => Math.max(1, ...c.kits.map((k) => Math.max(Math.min(k.stock?.days_high ?? 0, 4 * (k.stock?.days ?? 0)), k.stock?.lead_days ?? 0)));
