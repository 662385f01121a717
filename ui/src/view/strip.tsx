// strip: a reading with its limits, to scale (doc/looks.md); the same on the Bench and at the Desk.
import { ComponentChildren, JSX } from 'preact';
import { NO_HIGH, NO_LOW, Verdict } from '../core/core';

export interface StripProps { low: bigint; high: bigint; guardLow?: bigint; guardHigh?: bigint; nominal: bigint; reading: bigint | null; u: number; after?: bigint | undefined; verdict: Verdict | null; label: string }

/** Every reading with limits: low to high to scale, guard bands hatched, nominal as a tick, the reading a wedge, its uncertainty
 * (two standard uncertainties either way) a bar. Outside the limits the wedge stands outside, as far as it really is; beyond the frame
 * it is an arrow at the frame's end. A side without a limit fades out in dashes. */
export function Strip(p: StripProps & { children?: ComponentChildren }): JSX.Element {
    const W = 300, ends = stripEnds(p), span = Number(ends.to - ends.from) || 1;
    const x = (n: bigint | number) => 10 + (W - 20) * Math.min(1, Math.max(0, (Number(typeof n === 'bigint' ? n - ends.from : BigInt(Math.round(n)) - ends.from)) / span));
    const hasLow = p.low !== NO_LOW, hasHigh = p.high !== NO_HIGH, left = hasLow ? x(p.low) : 28, right = hasHigh ? x(p.high) : W - 28;
    const r = p.reading;
    return (
        <div class={`strip-box${p.verdict === 'outside' ? ' stop' : ''}`}>
            <svg class="strip" viewBox={`0 0 ${W} 36`} role="img" aria-label={p.label}>
                <rect class="band" x={left} y="18" width={Math.max(0, right - left)} height="7" />
                {hasLow && p.guardLow !== undefined && p.guardLow > p.low && <rect class="guard" x={left} y="18" width={x(p.guardLow) - left} height="7" />}
                {hasHigh && p.guardHigh !== undefined && p.guardHigh < p.high && <rect class="guard" x={x(p.guardHigh)} y="18" width={right - x(p.guardHigh)} height="7" />}
                {hasLow && <path class="edge" d={`M${left} 14V29`} />}{hasHigh && <path class="edge" d={`M${right} 14V29`} />}
                <path class="nominal" d={`M${x(p.nominal)} 16V27`} />
                {r !== null && p.u > 0 && r >= ends.from && r <= ends.to && <path class="u" d={`M${x(Number(r) - 2 * p.u)} 21.5H${x(Number(r) + 2 * p.u)}`} />}
                {p.after !== undefined && p.after !== r && <path class="after" d={`M${x(p.after) - 6} 34h12l-6 -8z`} />}
                {!hasLow && <path class="open" d={`M0 21.5H${left + 24}`} />}{!hasHigh && <path class="open" d={`M${right - 24} 21.5H${W}`} />}
                {r !== null && <path class="wedge" d={r < ends.from ? 'M2 11l12 -7v14z' : r > ends.to ? `M${W - 2} 11l-12 -7v14z` : `M${x(r)} 17l7 -11h-14z`} />}
            </svg>
        </div>
    );
}

/** From and to of the drawing: the limits with a quarter of their span on either side, so that strips below one another line up. */
function stripEnds(p: StripProps): { from: bigint; to: bigint } {
    const all = [p.nominal, ...(p.low === NO_LOW ? [] : [p.low]), ...(p.high === NO_HIGH ? [] : [p.high])];
    let from = all.reduce((a, b) => (a < b ? a : b)), to = all.reduce((a, b) => (a > b ? a : b));
    const span = to - from > 0n ? to - from : from === 0n ? 1000000000n : from < 0n ? -from : from;
    from -= span / 4n;
    to += span / 4n;
    return { from, to };
}
