// act: what a clerk does with the open claim: pay out, rule over the rules with a reason, note, take back; and what it says when somebody was quicker.
import { JSX } from 'preact';
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { Bulletin } from '../bulletin/types';
import * as api from './api';
import { DEED, Deed, keyOf } from './keys';
import { moment, money } from './show';
import { Key, t, word } from './text';

type Form = { is: 'rule'; verdict: api.Verdict } | { is: 'note' } | { is: 'pay-out' } | null;
const VERDICTS = ['pay', 'ask', 'hold', 'refuse'] as const;

/** "12.5" in whole minor units; null for nothing typed, NaN for what is no amount. Digits alone, nothing is rounded. */
export function minorOf(text: string, digits: number | null): number | null {
    const s = text.trim();
    if (s === '') return null;
    const found = /^(\d{1,12})(?:[.,](\d*))?$/.exec(s), places = digits ?? 0, after = found?.[2] ?? '';
    if (found === null || digits === null || after.length > places) return NaN;
    return Number(found[1] + after.padEnd(places, '0'));
}

/** Who said the word that stands, where one does. */
const ownWord = (c: api.Claim, who: api.Session): boolean => c.is_overruled && c.rulings.filter((r) => r.kind === 'overruled').pop()?.person === who.name;
export const isDue = (c: api.Head): boolean => c.verdict === 'pay' && c.amount_minor > c.paid_minor;

function Button({ deed, label, onClick, isMain }: { deed: Deed; label: string; onClick: () => void; isMain?: boolean }): JSX.Element {
    return <button type="button" class={isMain ? 'act' : ''} data-act={deed} aria-keyshortcuts={keyOf(deed)} onClick={onClick}>{label} <kbd aria-hidden="true">{keyOf(deed)}</kbd></button>;
}

/** What somebody else entered since it was looked at. */
function Quicker({ p, digits }: { p: api.Present; digits: number | null }): JSX.Element {
    const last = p.last;
    return (
        <div class="quicker" role="alert" data-quicker>
            <p><b>{t('quicker')}</b>{last !== null && <> {moment(last.at_ms)}: {t(`did-${last.kind}` as Key)}{last.verdict !== null && last.kind !== 'paid' && `: ${word('', last.verdict)}`}{last.person !== null && ` ${t('by', { person: last.person })}`}{last.reason !== null && <>: <q>{last.reason}</q></>}</>}</p>
            <p>{t('quicker-now', { verdict: p.verdict === null ? t('unruled') : word('', p.verdict), money: money(p.amount_minor, p.currency, digits) })}</p>
        </div>
    );
}

/** Reasons and notes begun and left, by who, claim, kind and verdict: they stand there again when the same is begun anew, until the page is
 * closed. The reason of one verdict is never offered for another. */
const half = new Map<string, string>();

interface Props { c: api.Claim; b: Bulletin | null; who: api.Session; changed: (c: api.Claim) => void; look: () => Promise<void>; nobody: () => void }

export function Acts({ c, b, who, changed, look, nobody }: Props): JSX.Element {
    const [form, open] = useState<Form>(null), [isBusy, setBusy] = useState(false), [said, say] = useState(''), [why, fail] = useState(''), [present, tell] = useState<api.Present | null>(null);
    const box = useRef<HTMLFormElement>(null), digits = b?.currency_digits ?? null, of = (n: number) => money(n, c.currency, digits);
    const isStarted = useRef(false), start = (f: Form) => { isStarted.current = true; open(f); fail(''); say(''); };
    useEffect(() => { open(null); fail(''); say(''); tell(null); }, [c.claim]);
    // Before the next key comes, or the first letter of a reason would be taken for a deed; not when the verdict is gone through by the arrows.
    useLayoutEffect(() => {
        const first = form !== null && isStarted.current ? box.current?.querySelector<HTMLElement>('input[name="reason"], [data-yes]') : null;
        first?.focus();
        if (first instanceof HTMLInputElement) first.select(); // words from before: a letter replaces them, an arrow goes on with them
        isStarted.current = false;
    }, [form]);
    const own = `${who.name} ${c.claim} `, key = `${own}${form?.is} ${form?.is === 'rule' ? form.verdict : ''}`;
    const leave = () => {
        const left = box.current?.querySelector<HTMLInputElement>('input[name="reason"]')?.value.trim() ?? '';
        half.set(key, left); // the verdict may have changed since the last letter
        back();
        if (left !== '') say(t('half-kept'));
    };
    const back = () => { open(null); fail(''); document.getElementById('claim-title')?.focus({ preventScroll: true }); };

    const run = (what: () => Promise<api.Claim>, done: string) => {
        setBusy(true);
        fail('');
        what().then((now) => { [...half.keys()].filter((k) => k.startsWith(`${own}${form?.is} `)).forEach((k) => half.delete(k)); changed(now); say(done); tell(null); back(); }, async (e: api.Trouble) => {
            if (e.status === 401) return nobody();
            if (e.present !== undefined && e.present !== null) { tell(e.present); await look(); } else fail(e.message);
        }).finally(() => setBusy(false));
    };
    const go = (e: Event) => {
        e.preventDefault();
        if (form === null || isBusy) return;
        const told = new FormData(box.current!), text = String(told.get('reason') ?? '').trim();
        if (form.is === 'pay-out') { run(() => api.payOut(who, c), t('was-paid-out')); return; }
        if (text === '') { fail(t(form.is === 'note' ? 'empty-note' : 'empty-reason')); return; }
        if (form.is === 'note') { run(() => api.note(who, c, text), t('was-noted')); return; }
        const amount = form.verdict === 'pay' ? minorOf(String(told.get('amount') ?? ''), digits) : null;
        if (amount !== null && Number.isNaN(amount)) { fail(t('odd-amount')); return; }
        run(() => api.say(who, c, form.verdict, text, amount), t('was-ruled', { verdict: word('', form.verdict) }));
    };
    const deeds: Partial<Record<Deed, () => void>> = {
        'pay': () => start(isDue(c) ? { is: 'pay-out' } : { is: 'rule', verdict: 'pay' }), 'ask': () => start({ is: 'rule', verdict: 'ask' }), 'hold': () => start({ is: 'rule', verdict: 'hold' }),
        'refuse': () => start({ is: 'rule', verdict: 'refuse' }), 'note': () => start({ is: 'note' }), 'letter': () => void window.open(api.letterAt(c.claim, 'text', 'en'), '_blank', 'noopener'),
        'take-back': () => { if (ownWord(c, who)) run(() => api.takeBack(who, c), t('was-taken-back')); else say(t('no-own-word')); },
    };
    useEffect(() => {
        const hear = (e: Event) => deeds[(e as CustomEvent<Deed>).detail]?.();
        document.addEventListener(DEED, hear);
        return () => document.removeEventListener(DEED, hear);
    });

    return (
        <section class="acts" aria-label={t('acts')} data-busy={isBusy ? 'yes' : undefined}>
            {present !== null && <Quicker p={present} digits={digits} />}
            {form === null ? (
                <div class="buttons">
                    {isDue(c) ? <Button deed="pay" isMain label={t('pay-out', { money: of(c.amount_minor - c.paid_minor) })} onClick={deeds.pay!} /> : <Button deed="pay" label={t('pay')} onClick={deeds.pay!} />}
                    <Button deed="ask" label={t('ask')} onClick={deeds.ask!} /><Button deed="hold" label={t('hold')} onClick={deeds.hold!} /><Button deed="refuse" label={t('refuse')} onClick={deeds.refuse!} />
                    <Button deed="note" label={t('note')} onClick={deeds.note!} />
                    {ownWord(c, who) && <Button deed="take-back" label={t('take-back')} onClick={deeds['take-back']!} />}
                </div>
            ) : (
                <form ref={box} onSubmit={go} onKeyDown={(e) => { if (e.key === 'Escape') { e.stopPropagation(); leave(); } }}>
                    {form.is === 'pay-out' && <p>{t('pay-sure', { money: of(c.amount_minor - c.paid_minor), shop: c.shop ?? t('unknown') })}</p>}
                    {form.is === 'rule' && <fieldset class="verdicts"><legend>{t('over-rules')}</legend>
                        {VERDICTS.map((v) => <label key={v}><input type="radio" name="verdict" value={v} checked={v === form.verdict} onChange={() => open({ is: 'rule', verdict: v })} /> {t(v)}</label>)}</fieldset>}
                    {form.is !== 'pay-out' && <label class="reason">{t(form.is === 'note' ? 'note-text' : 'reason')} <input key={form.is} name="reason" maxLength={500} autocomplete="off" aria-describedby="act-why" defaultValue={half.get(key) ?? ''} onInput={(e) => half.set(key, e.currentTarget.value.trim())} /></label>}
                    {form.is === 'rule' && form.verdict === 'pay' && <label class="amount">{t('own-amount', { currency: c.currency ?? '' })} <input name="amount" inputMode="decimal" size={12} maxLength={16} autocomplete="off" aria-describedby="amount-help" disabled={digits === null} /> <span class="small" id="amount-help">{t('own-amount-help')}</span></label>}
                    <p class="buttons"><button type="submit" class="act" data-yes data-act="yes" disabled={isBusy}>{form.is === 'pay-out' ? t('pay-yes') : form.is === 'note' ? t('note-yes') : t('rule-yes', { verdict: word('', form.verdict) })}</button> <button type="button" data-act="no" onClick={leave}>{t('leave')}</button></p>
                </form>
            )}
            <p class="stop-text" role="alert" id="act-why">{why}</p>
            <p class="small said-done" role="status">{said}</p>
        </section>
    );
}
