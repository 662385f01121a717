// keypad: typing an amount with gloves on: large digits, and for inches every eighth and sixteenth as one key, with finer ones beside.
// Text only: the core reads what was typed; a keyboard does the same.
import { JSX } from 'preact';
import { useEffect, useId, useRef, useState } from 'preact/hooks';
import type { Unit } from '../core/core';
import { CoreError, ERR } from '../core/core';
import { readAmount } from '../bulletin/adapt';
import { DIM_OF } from '../core/amounts';
import { App } from '../store/app';
import { Key, T } from '../text';
import { useApp } from './context';

/** A field's text that survives everything: kept as a draft with every key. */
export function useDraft(key: string): [string, (text: string) => void] {
    const { app } = useApp();
    const [, again] = useState(0);
    return [app.draft(key), (text) => { app.setDraft(key, text); again((n) => n + 1); }];
}

export interface Read { nano: bigint | null; error: string | null }
/** What can be meant, in nano units: a rack has a length, and no end of one lies a kilometre off. */
export interface Reach { least: bigint; most: bigint }
export const ANYTHING: Reach = { least: -1000000000000000n, most: 1000000000000000n }, RACK_LENGTH: Reach = { least: 1n, most: 1000000000000n }, RACK_END: Reach = { least: -1000000000000n, most: 1000000000000n };

/** Why the core cannot read it, in words that say what to type instead. */
function unreadable(code: number, text: string, unit: Unit): Key {
    if (code === ERR.UNIT) return text.includes('/') && DIM_OF[unit] === 'length' && unit !== 'in' ? 'inches-only' : 'other-unit';
    return /\d,\d/.test(text) ? 'not-comma' : 'not-number';
}

/** What was typed, read by the core; error null while the field is empty. What lies beyond its reach is an error, too. */
export function readTyped(app: App, t: T, text: string, unit: Unit, reach: Reach = ANYTHING): Read {
    if (text.trim() === '') return { nano: null, error: null };
    try {
        const nano = readAmount(app.core, text, unit);
        return nano >= reach.least && nano <= reach.most ? { nano, error: null } : { nano: null, error: t(nano < reach.least && reach.least === 1n ? 'above-nought' : 'out-of-reach') };
    } catch (e) {
        if (!(e instanceof CoreError)) throw e;
        return { nano: null, error: t(unreadable(e.code, text, unit)) };
    }
}

// ---- the keys: each gives the next text ----

const part = /^(-?)(\d*)(?: ?(\d+)\/(\d+))?$/;

/** Sixty-fourths of the text's fraction, and its whole inches; null when it is written otherwise ("2.5"). */
function sixtyFourths(text: string): { sign: string; whole: string; n: number } | null {
    const found = part.exec(text.trim());
    if (found === null) return null;
    const below = Number(found[4] ?? 1), n = found[3] === undefined ? 0 : (Number(found[3]) * 64) / below;
    return Number.isInteger(n) ? { sign: found[1]!, whole: found[2]!, n } : null;
}

function withFraction(sign: string, whole: string, n: number): string {
    let above = n, below = 64;
    while (above > 0 && above % 2 === 0 && below > 1) { above /= 2; below /= 2; }
    const fraction = n === 0 ? '' : `${above}/${below}`;
    return `${sign}${whole}${whole !== '' && fraction !== '' ? ' ' : ''}${fraction}`;
}

export function setFraction(text: string, n: number): string {
    const s = sixtyFourths(text) ?? { sign: '', whole: text.trim().split(/[ .]/)[0] ?? '', n: 0 };
    return withFraction(s.sign, s.whole, n);
}
/** by: sixty-fourths, may carry over into whole inches; never below 0. */
export function addFraction(text: string, by: number): string {
    const s = sixtyFourths(text);
    if (s === null) return text;
    const all = Math.max(0, Number(s.whole || 0) * 64 + s.n + by);
    return withFraction(s.sign, all >= 64 ? String(Math.floor(all / 64)) : '', all % 64) || '0';
}
/** A digit goes to the whole inches, also when a fraction stands already. */
export function addDigit(text: string, digit: string): string {
    const s = text.includes('/') ? sixtyFourths(text) : null;
    return s === null ? text + digit : withFraction(s.sign, s.whole + digit, s.n);
}
export function rubOut(text: string): string {
    const s = text.includes('/') ? sixtyFourths(text) : null;
    return s === null ? text.slice(0, -1) : s.sign + s.whole;
}

const SIXTEENTHS = Array.from({ length: 15 }, (_, i) => i + 1);
const name = (sixteenth: number): string => withFraction('', '', sixteenth * 4);

export function Keypad(p: { text: string; onText: (text: string) => void; inches: boolean; negative: boolean; point: boolean }): JSX.Element {
    const { t } = useApp();
    const key = (label: string, next: () => string, say?: string) => (
        <button type="button" aria-label={say} tabIndex={-1} onPointerDown={(e) => e.preventDefault()} onClick={() => p.onText(next())}>{label}</button>
    );
    const fourth = p.negative ? key('\u2212', () => (p.text.startsWith('-') ? p.text.slice(1) : '-' + p.text), t('minus')) : <span />;
    return (
        <div class="keypad" role="group">
            <div class="digits">
                {key('1', () => addDigit(p.text, '1'))}{key('2', () => addDigit(p.text, '2'))}{key('3', () => addDigit(p.text, '3'))}{key('0', () => addDigit(p.text, '0'))}
                {key('4', () => addDigit(p.text, '4'))}{key('5', () => addDigit(p.text, '5'))}{key('6', () => addDigit(p.text, '6'))}
                {p.point ? key('.', () => (p.text.includes('.') || p.text.includes('/') ? p.text : p.text + '.'), t('point-key')) : <span />}
                {key('7', () => addDigit(p.text, '7'))}{key('8', () => addDigit(p.text, '8'))}{key('9', () => addDigit(p.text, '9'))}{key('\u232b', () => rubOut(p.text), t('backspace'))}
            </div>
            {p.negative && !p.inches && <div class="fine">{fourth}</div>}
            {p.inches && (
                <>
                    <div class="parts">{SIXTEENTHS.map((n) => <span key={n} style={{ display: 'grid' }}>{key(name(n), () => setFraction(p.text, n * 4))}</span>)}</div>
                    <div class="fine">
                        {key('\u22121/32', () => addFraction(p.text, -2), t('finer', { n: '\u22121/32' }))}{key('\u22121/64', () => addFraction(p.text, -1), t('finer', { n: '\u22121/64' }))}
                        {key('+1/64', () => addFraction(p.text, 1), t('finer', { n: '+1/64' }))}{key('+1/32', () => addFraction(p.text, 2), t('finer', { n: '+1/32' }))}
                    </div>
                </>
            )}
        </div>
    );
}

interface FieldProps {
    label: string; labelLang?: string | undefined; unit: Unit; text: string; onText: (text: string) => void; onEnter?: () => void; say?: string | null; bad?: boolean; open?: boolean; id: string; reach?: Reach;
}

/** Scrolls so far that the keys are not under the foot, never so far that the field leaves the screen. */
function intoView(field: HTMLElement | null): void {
    if (field === null) return;
    const box = field.getBoundingClientRect(), foot = document.querySelector('.foot')?.getBoundingClientRect().top ?? innerHeight, hidden = box.bottom - Math.min(foot, innerHeight);
    if (hidden > 0) scrollBy(0, Math.min(hidden, box.top));
}

/** An amount: a field that takes a keyboard, and under it the keypad while the field is in use. */
export function AmountField(p: FieldProps): JSX.Element {
    const { app, t } = useApp();
    const [used, setUsed] = useState(p.open ?? false), sayId = useId(), input = useRef<HTMLInputElement>(null), whole = useRef<HTMLDivElement>(null);
    // The next field takes over when the one before it went away; the first leaves the focus to the screen's title.
    useEffect(() => { if (p.open && document.activeElement === document.body) input.current?.focus({ preventScroll: true }); }, []);
    const read = readTyped(app, t, p.text, p.unit, p.reach);
    const dim = DIM_OF[p.unit], message = read.error ?? p.say ?? '';
    return (
        <div class="field" ref={whole}>
            <label><span lang={p.labelLang} style={{ display: 'block', fontWeight: 600, marginBottom: '4px' }}>{p.label}</span>
                <span class={`entry${read.error !== null || p.bad ? ' bad' : ''}`}>
                    <input ref={input} type="text" inputMode="none" autocomplete="off" spellcheck={false} enterkeyhint="done" data-field={p.id} value={p.text} aria-invalid={read.error !== null} aria-describedby={sayId}
                        onFocus={() => { setUsed(true); requestAnimationFrame(() => intoView(whole.current)); }} onInput={(e) => p.onText(e.currentTarget.value)} onKeyDown={(e) => { if (e.key === 'Enter') p.onEnter?.(); }} />
                    <span class="unit">{p.unit === '1' ? '' : p.unit}</span>
                </span>
            </label>
            <p id={sayId} class={`say${read.error !== null || p.bad ? ' bad' : ''}`} aria-live="polite">{message}</p>
            {used && <Keypad text={p.text} onText={p.onText} inches={p.unit === 'in'} negative={dim === 'voltage' || dim === 'current' || dim === 'angle'} point={dim !== 'count'} />}
        </div>
    );
}
