// parts: what the list and the claim share: the shape of a verdict, the strip of a reading, who is signed in.
import { JSX } from 'preact';
import type { Verdict } from './api';

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
