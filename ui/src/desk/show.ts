// show: how the Desk writes money, moments and amounts. Whole numbers in, digits out; nothing is worked out by floating point.
import type { Amount, Bulletin, Point, Text } from '../bulletin/types';
import { textIn } from '../bulletin/types';
import { t } from './text';

/** `digits` digits after the point, of a whole number of the smallest steps. */
function decimal(whole: bigint, digits: number): string {
    const minus = whole < 0n ? '\u2212' : '', text = (whole < 0n ? -whole : whole).toString().padStart(digits + 1, '0');
    return minus + (digits === 0 ? text : `${text.slice(0, -digits)}.${text.slice(-digits)}`);
}

/** Money by the currency's digits, which the bulletin's export tells; without them in minor units, and said so. */
export function money(minor: number, currency: string | null, digits: number | null): string {
    if (digits === null) return t('minor', { n: minor }) + (currency === null ? '' : `\u00a0${currency}`);
    return decimal(BigInt(minor), digits) + (currency === null ? '' : `\u00a0${currency}`);
}

/** "2026-08-10 09:14", UTC. */
export function moment(ms: number | null): string {
    if (ms === null || !Number.isFinite(ms) || Math.abs(ms) > 8.64e15) return t('unknown');
    return new Date(ms).toISOString().replace('T', '\u00a0').slice(0, 16);
}

/* Nano (10^-9 of the base unit) in one of a unit, as src/core/quantity.h has them; a test compares the two. */
export const NANO: Readonly<Record<string, bigint>> = {
    nm: 1n, um: 1000n, mm: 1000000n, cm: 10000000n, m: 1000000000n, in: 25400000n, ft: 304800000n, mV: 1000000n, V: 1000000000n, mA: 1000000n, A: 1000000000n, s: 1000000000n, min: 60000000000n, h: 3600000000000n,
    'N m': 1000000000n, 'lbf in': 112984829n, deg: 1000000000n, mohm: 1000000n, ohm: 1000000000n, '1': 1000000000n,
};
const SYMBOL: Readonly<Record<string, string>> = { um: '\u00b5m', deg: '\u00b0', mohm: 'm\u03a9', ohm: '\u03a9', '1': '', 'N m': 'N\u00a0m', 'lbf in': 'lbf\u00a0in' };
const DIGITS = 3;

/** The number alone. Inches as fractions where they are whole sixty-fourths; else at most three digits, with "≈" when that rounds, and at
 * least `least` of them, so that what one instrument read lines up. */
export function number(nano: bigint, unit: string, least = 0): string {
    const one = NANO[unit];
    if (one === undefined) return `${nano}`;
    if (unit === 'in' && (nano * 64n) % one === 0n) return fraction((nano * 64n) / one);
    const scale = 10n ** BigInt(DIGITS), up = nano * scale, half = nano < 0n ? -one / 2n : one / 2n, text = decimal((up + half) / one, DIGITS);
    const end = /0*$/.exec(text)![0].length, shown = text.slice(0, text.length - Math.min(end, DIGITS - Math.min(least, DIGITS))).replace(/\.$/, '');
    return up % one === 0n ? shown : `≈${shown}`;
}

/** How many digits after the point an instrument has, from its resolution. */
export function digitsOf(resolution: Amount | undefined, unit: string): number {
    return resolution === undefined ? 0 : (number(BigInt(resolution.nano), unit).split('.')[1] ?? '').length;
}

function fraction(parts: bigint): string {
    const size = parts < 0n ? -parts : parts, whole = size / 64n;
    let top = size % 64n, of = 64n;
    while (top > 0n && top % 2n === 0n) { top /= 2n; of /= 2n; }
    return (parts < 0n ? '\u2212' : '') + (top === 0n ? `${whole}` : `${whole > 0n ? `${whole} ` : ''}${top}/${of}`);
}

export const symbol = (unit: string): string => SYMBOL[unit] ?? unit;
const withUnit = (text: string, unit: string): string => (symbol(unit) === '' ? text : unit === 'deg' ? text + symbol(unit) : `${text}\u00a0${symbol(unit)}`);

/** The unit a reading is shown in: the point's own; a length without a known point in millimetres. */
export const unitOf = (unit: string, point: Point | undefined): string => point?.nominal.unit ?? (unit === 'nm' ? 'mm' : unit);
export const amount = (nano: number, unit: string, least = 0): string => withUnit(number(BigInt(nano), unit, least), unit);

/** "56 … 61 mm", "≤ 22 A", "≥ 5". */
export function limits(low: Amount | null, high: Amount | null, unit: string): string {
    if (low === null && high === null) return '';
    if (low === null) return `\u2264 ${amount(high!.nano, unit)}`;
    if (high === null) return `\u2265 ${amount(low.nano, unit)}`;
    if (low.nano === high.nano) return amount(low.nano, unit);
    return withUnit(`${number(BigInt(low.nano), unit)} \u2026 ${number(BigInt(high.nano), unit)}`, unit);
}

/** A name of the bulletin's in the reader's language; the bare word where the bulletin is not there or does not have it. */
export function named(b: Bulletin | null, list: readonly { id: string; name: Text }[] | undefined, id: string): string {
    const found = b === null ? undefined : list?.find((x) => x.id === id);
    return found === undefined || b === null ? id : textIn(b, found.name, 'en') || id;
}
