// amounts: how amounts are shown: lengths in millimetres or in inches as fractions, all else in the unit of the bulletin.
// The digits come from the core; this only picks unit and fineness.
import { Core, DIMS, Dim, UNITS, Unit } from './core';

const COUNTS = [7, 2, 2, 3, 2, 1, 2, 1]; // units of each dimension, in the order of core/quantity.h; a test holds them to the core
export const DIM_OF = Object.fromEntries(UNITS.map((u, i) => {
    let left = i, dim = 0;
    while (left >= COUNTS[dim]!) left -= COUNTS[dim++]!;
    return [u, DIMS[dim]!];
})) as Record<Unit, Dim>;

export type System = 'mm' | 'in';

/** The unit in which a point is typed and shown: lengths by the reader's choice, all else as the bulletin has it. */
export const shownUnit = (unit: Unit, system: System): Unit => (DIM_OF[unit] === 'length' ? system : unit);

export interface Shown { text: string; unit: string; isRounded: boolean }

/** Inches: sixty-fourths when that is exact, else three decimals; a gap of 0.0004 in is no fraction. */
function inches(core: Core, nano: bigint): Shown {
    const fraction = core.fraction(nano, 64);
    if (!fraction.isRounded) return { text: trimUnit(fraction.text), unit: 'in', isRounded: false };
    return decimals(core, nano, 'in', 3);
}

const trimUnit = (text: string): string => text.replace(/ in$/, '');

function decimals(core: Core, nano: bigint, unit: Unit, n: number): Shown {
    const s = core.show(nano, unit, n);
    const number = s.text.split(' ')[0]!;
    return { text: (number.includes('.') ? number.replace(/\.?0+$/, '') : number).replace('-', '\u2212'), unit: unit === '1' ? '' : unit, isRounded: s.isRounded };
}

/** fine: digits after the point in millimetres (1 for gaps, 2 for rack ends). */
export function shown(core: Core, nano: bigint, unit: Unit, system: System, fine = 1): Shown {
    const u = shownUnit(unit, system);
    if (u === 'in') return nano < 0n ? negative(inches(core, -nano)) : inches(core, nano);
    return decimals(core, nano, u, DIM_OF[u] === 'length' ? fine : 2);
}

const negative = (s: Shown): Shown => ({ ...s, text: '\u2212' + s.text });

export function shownText(core: Core, nano: bigint, unit: Unit, system: System, fine = 1): string {
    const s = shown(core, nano, unit, system, fine);
    return s.unit === '' ? s.text : `${s.text}\u00a0${s.unit}`;
}

/** What a person would type to give the same amount: for the field's start value and tests. */
export const typed = (s: Shown): string => s.text.replace('\u2212', '-');
