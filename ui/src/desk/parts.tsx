// parts: what the list and the claim share: the shape of a verdict, the strip of a reading, who is signed in.
import { JSX } from 'preact';
import type { Verdict } from './api';
import type { Amount } from '../bulletin/types';

/** The hatching for "cannot tell", once a page. */
export const Hatch = (): JSX.Element => (
    <svg width="0" height="0" aria-hidden="true" class="visually"><defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V5" class="hatch-line" /></pattern></defs></svg>
);

/** A strip in small (doc/looks.md): pay, the wedge between the bars; ask, an arrow over them: work to do; hold, the wedge on a bar, hatched;
 * refuse, the wedge beyond one; not ruled, the bars alone. */
export function Mark({ verdict }: { verdict: Verdict | null }): JSX.Element {
    const x = verdict === 'pay' ? 20 : verdict === 'hold' ? 34 : 42;
    return (
        <svg class="mark" viewBox="0 0 48 40" aria-hidden="true">
            <path d="M6 26H34M6 18V34M34 18V34" class="shape-line" />
            {verdict === 'hold' && <rect x="27" y="21" width="14" height="10" class="shape-soft" />}
            {verdict === 'ask' && <path d="M8 7h22M23 1l8 6-8 6" class="shape-line" />}
            {verdict !== null && verdict !== 'ask' && <path d={`M${x - 7} 4h14l-7 11z`} class="shape-mark" />}
        </svg>
    );
}
export const tone = (verdict: Verdict | null): string => (verdict === 'refuse' ? 'stop' : verdict === null ? 'soft' : '');

/** The strip (doc/looks.md): the band from low to high takes two thirds, a sixth lies on either side; the nominal a tick, the reading a
 * wedge; farther out than the frame an arrow at its end; a side without a limit in dashes. */
export function Strip(p: { low: Amount | null; high: Amount | null; nominal: Amount; nano: number; label: string; isOut: boolean }): JSX.Element {
    const W = 150, edge = W / 6, low = p.low?.nano, high = p.high?.nano, nominal = p.nominal.nano;
    const both = low !== undefined && high !== undefined, one = both ? 0 : 2 * Math.abs((low ?? high ?? 0) - nominal), span = (both ? high - low : one) || Math.abs(nominal) || 1e9;
    // Limits that are one and the same stand in the middle.
    const from = both ? (low + high - span) / 2 : (low ?? high! - span), x = (n: number) => edge + ((W - 2 * edge) * (n - from)) / span;
    const at = x(p.nano), wedge = at < 0 ? 'M1 8l10 -6v12z' : at > W ? `M${W - 1} 8l-10 -6v12z` : `M${at} 13l5 -9h-10z`;
    return (
        <svg class={`strip${p.isOut ? ' stop' : ''}`} viewBox={`0 0 ${W} 26`} role="img" aria-label={p.label}>
            <rect class="band" x={low !== undefined ? x(low) : edge} y="14" width={low === high ? 0 : W - 2 * edge} height="6" />
            {low !== undefined ? <path class="edge" d={`M${x(low)} 11V23`} /> : <path class="open" d={`M0 17H${edge}`} />}
            {high !== undefined ? <path class="edge" d={`M${x(high)} 11V23`} /> : <path class="open" d={`M${W - edge} 17H${W}`} />}
            {x(nominal) >= 0 && x(nominal) <= W && <path class="nominal" d={`M${x(nominal)} 12V22`} />}
            <path class="wedge" d={wedge} />
        </svg>
    );
}
