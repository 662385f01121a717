// expenses: what the shop asks for beyond labour and kit, where the bulletin pays it: one entry each, in whole minor units.
import { JSX } from 'preact';
import { Bulletin } from '../bulletin/types';
import type { Item } from '../job/replay';
import type { OpenJob } from '../store/app';
import type { Key } from '../text';
import { useDraft } from './keypad';
import { useApp } from './context';

const KINDS = ['travel', 'consumables', 'parts'] as const;

/** "12.50" in minor units, by the digits of the currency; null when it is no amount of money. Only the point is taken. */
export function moneyOf(text: string, digits: number): number | null {
    const found = /^(\d{1,9})(?:\.(\d+))?$/.exec(text.trim()), part = found?.[2] ?? '';
    return found === null || part.length > digits ? null : Number(found[1]! + part.padEnd(digits, '0'));
}
export function moneyText(b: Bulletin, minor: number): string {
    const text = String(minor).padStart(b.currency_digits + 1, '0'), at = text.length - b.currency_digits;
    return `${text.slice(0, at)}${b.currency_digits > 0 ? '.' + text.slice(at) : ''}\u00a0${b.bulletin.currency}`;
}

export function Expenses({ open }: { open: OpenJob }): JSX.Element | null {
    const { app, t, say } = useApp(), { bulletin: b, job, record } = open, kinds = KINDS.filter((k) => b.claim.pays.includes(k));
    const [what, setWhat] = useDraft(`${record.id}/expense/what`), [amount, setAmount] = useDraft(`${record.id}/expense/amount`), [part, setPart] = useDraft(`${record.id}/expense/part`);
    const [number, setNumber] = useDraft(`${record.id}/expense/count`), [why, setWhy] = useDraft(`${record.id}/expense/why`);
    if (kinds.length === 0) return null;
    const kind = kinds.find((k) => k === what) ?? kinds[0]!, minor = moneyOf(amount, b.currency_digits), count = number === '' ? 1 : Number(number), listed: Item[] = [job.unit, ...job.stations].flatMap((s) => s.expenses);
    const isParts = kind === 'parts', chosen = part || b.parts[0]?.id || '', good = minor !== null && minor > 0 && count >= 1 && count <= 1000;
    const claim = async () => {
        const kept = await app.record(record.id, [{ type: 'expense_claimed', payload: {
            what: kind, amount_minor: minor!, ...(isParts && chosen !== '' ? { part: chosen, count } : {}), ...(why.trim() === '' ? {} : { why: why.trim() }),
        } }]);
        if (kept) app.dropDrafts(`${record.id}/expense/`);
    };
    return (
        <section>
            <h2>{t('expenses')}</h2>
            <div class="rows">
                {listed.map((e) => <div class="row" key={e.event}><span><b>{t(`x-${e.payload['what']}` as Key)}</b>{e.payload['part'] !== undefined && <> {say(b, b.parts.find((x) => x.id === e.payload['part'])?.name ?? {})}{e.payload['count'] !== undefined && ` \u00d7 ${e.payload['count']}`}</>}</span><span>{moneyText(b, Number(e.payload['amount_minor']))}</span></div>)}
            </div>
            <details><summary>{t('expense-add')}</summary>
                <div class="choices" role="group" aria-label={t('expenses')}>{kinds.map((k) => <button type="button" key={k} data-expense={k} aria-pressed={k === kind} onClick={() => setWhat(k)}>{t(`x-${k}`)}</button>)}</div>
                {isParts && b.parts.length > 0 && (
                    <>
                        <label class="field"><span>{t('x-part')}</span><select value={chosen} onChange={(e) => setPart(e.currentTarget.value)}>{b.parts.map((x) => <option key={x.id} value={x.id}>{say(b, x.name)}</option>)}</select></label>
                        <label class="field"><span>{t('x-count')}</span><span class="entry"><input type="text" inputMode="numeric" maxLength={4} data-field="expense-count" value={number} onInput={(e) => setNumber(e.currentTarget.value.replace(/\D/g, ''))} /></span></label>
                    </>
                )}
                <label class="field"><span>{t('x-amount')}</span><span class="entry"><input type="text" inputMode="decimal" autocomplete="off" maxLength={13} data-field="expense-amount" value={amount} onInput={(e) => setAmount(e.currentTarget.value.replace(',', '.'))} /><span class="unit">{b.bulletin.currency}</span></span></label>
                <label class="field"><span>{t('x-why')}</span><span class="entry"><input type="text" maxLength={120} data-field="expense-why" value={why} onInput={(e) => setWhy(e.currentTarget.value)} /></span></label>
                <button type="button" class="second" data-act="claim" disabled={!good} onClick={() => void claim()}>{t('expense-add')}</button>
            </details>
        </section>
    );
}
