// list: the claims, one line each, what they wait for first; the filters, which are links; and paying many that have no finding at once.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Head, Listed, Row as Line, Session, settle, Settled } from './api';
import { hashOf, Place } from './address';
import * as calls from './draft';
import { Mark, tone } from './parts';
import { moment, money } from './show';
import { Key, t, word } from './text';

const NEEDS = ['person', 'payment', 'shop', 'ruling', 'nothing'] as const;
const VERDICTS = ['', 'pay', 'ask', 'hold', 'refuse', 'unruled'] as const;
export const mayRule = (who: Session): boolean => who.role === 'clerk' || who.role === 'owner';

/** Filters keep one another, but for what a claim waits for and its verdict, which are two ways to the same; a page farther back does not
 * survive a change of them, nor does the open claim. */
function Filters({ place, who, counts }: { place: Place; who: Session; counts: Listed['counts'] }): JSX.Element {
    const form = useRef<HTMLFormElement>(null), here = { ...place, claim: '', after: '' }, plain = { ...here, needs: '', verdict: '', findings: '' };
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!), of = (name: string) => String(told.get(name) ?? '').trim();
        location.hash = hashOf({ ...here, shop: of('shop'), vin: of('vin').toUpperCase() });
    };
    const link = (to: Partial<Place>, text: string, n: number | null, isHere: boolean) => <a key={text} href={hashOf({ ...plain, ...to })} aria-current={isHere ? 'true' : undefined}>{text}{n !== null && <span class="count">{'\u00a0'}{n}</span>}</a>;
    return (
        <div class="filters">
            <nav aria-label={t('filter-needs')} class="needs">
                <span class="filter-name" aria-hidden="true">{t('filter-needs')}</span>
                {NEEDS.map((n) => link({ needs: n }, t(`needs-${n}` as Key), counts.needs[n], place.needs === n && place.findings === ''))}
                {link({ needs: 'payment', findings: 'none' }, t('clean'), counts.clean, place.needs === 'payment' && place.findings === 'none')}
            </nav>
            <nav aria-label={t('filter-verdict')}>
                <span class="filter-name" aria-hidden="true">{t('verdict')}</span>
                {VERDICTS.map((v) => link({ verdict: v }, v === '' ? t('all') : t(v), v === '' ? counts.all : counts.verdict[v], place.needs === '' && place.findings === '' && v === place.verdict))}
            </nav>
            <form ref={form} onSubmit={go} key={`${place.vin} ${place.shop}`} role="search" aria-label={t('filter')}>
                <label>{t('filter-vin')} <input name="vin" class="code" value={place.vin} size={18} maxLength={17} autocomplete="off" spellcheck={false} /></label>
                {who.role !== 'technician' && <label>{t('filter-shop')} <input name="shop" value={place.shop} size={12} maxLength={64} autocomplete="off" spellcheck={false} /></label>}
                <button type="submit">{t('filter-go')}</button>
                {place.rule !== '' && <span class="small">{t('filter-rule')} <code>{place.rule}</code> <a href={hashOf({ ...here, rule: '' })}>{t('filter-rule-off')}</a></span>}
                {place.bulletin !== '' && <span class="small">{t('bulletin')} <code>{place.bulletin}</code> <a href={hashOf({ ...here, bulletin: '' })}>{t('filter-rule-off')}</a></span>}
            </form>
        </div>
    );
}

function Row({ c, place, marks }: { c: Head; place: Place; marks: boolean }): JSX.Element {
    // What was not ruled on has no amount yet; a nought would look like one.
    const isOpen = c.claim === place.claim, of = (minor: number) => (c.verdict === null && c.paid_minor === 0 ? '' : money(minor, c.currency, c.currency_digits));
    return (
        <tr class={isOpen ? 'open' : ''} data-claim={c.claim}>
            <td class={`verdict-cell ${tone(c.verdict)}`}><Mark verdict={c.verdict} /><span>{word('', c.verdict ?? 'unruled')}</span></td>
            <td class="code"><a href={hashOf({ ...place, claim: c.claim })} aria-current={isOpen ? 'true' : undefined}>{c.claim}</a>{marks && c.is_invented && <span class="invented-mark"> {t('invented-mark')}</span>}</td>
            <td class="wide soft-text">{c.finding ?? ''}{c.n_findings > 1 && ` +${c.n_findings - 1}`}</td>
            <td class="code wider">{c.vin}</td>
            <td class="wider">{c.shop ?? t('unknown')}</td>
            <td class="wider figures">{moment(c.finished_ms)}</td>
            <td class="figures right">{of(c.amount_minor)}</td>
            <td class="figures right wider">{of(c.paid_minor)}</td>
        </tr>
    );
}

// ---- many at once ----

const isClean = (c: Line): boolean => c.needs === 'payment' && c.n_findings === 0;

/** Pays those of the list that are due and have no finding, each as it stands in the list; asked once more before. */
function Many({ rows, who, again }: { rows: Line[]; who: Session; again: () => void }): JSX.Element | null {
    const [state, set] = useState<'' | 'asked' | 'busy'>(''), [done, tell] = useState<Settled | null>(null), [why, fail] = useState(''), ask = useRef<HTMLButtonElement>(null);
    const clean = rows.filter(isClean), first = clean[0];
    useEffect(() => { if (state === 'asked') ask.current?.focus(); }, [state]);
    const isOne = first !== undefined && clean.every((c) => c.currency === first.currency), sum = clean.reduce((n, c) => n + c.amount_minor - c.paid_minor, 0);
    const pay = () => {
        set('busy');
        fail('');
        settle(who, clean).then((told) => { tell(told); set(''); again(); }, (e: Error) => { fail(e.message); set(''); });
    };
    const left = done === null ? 0 : done.claims.length - done.n_paid;
    if (first === undefined && done === null) return null;
    return (
        <div class="many" data-many>
            {first !== undefined && (state === '' ? <button type="button" data-act="many" onClick={() => set('asked')}>{t('many', { n: clean.length, money: isOne ? money(sum, first.currency, first.currency_digits) : t('several') })}</button>
                : <p role="group" aria-label={t('many-sure', { n: clean.length })}>{t('many-sure', { n: clean.length })} {isOne && <b>{money(sum, first.currency, first.currency_digits)}</b>}{' '}
                    <button type="button" ref={ask} class="act" data-act="many-yes" disabled={state === 'busy'} onClick={pay}>{t('many-yes')}</button> <button type="button" data-act="many-no" onClick={() => set('')}>{t('leave')}</button></p>)}
            <p class="small" role="status">{done !== null && t('many-done', { n: done.n_paid })}{left > 0 && ` ${t('many-left', { n: left })}`}</p>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
        </div>
    );
}

// ---- the rules' turn ----

/** Has the rules look at what no ruling stands for yet. */
function RuleNow({ n, who, again }: { n: number; who: Session; again: () => void }): JSX.Element | null {
    const [busy, set] = useState(false), [said, say] = useState(''), [why, fail] = useState('');
    const go = () => {
        set(true);
        fail('');
        calls.rule(who, (task) => say(task.all > 0 ? t('rule-run', { what: task.what, done: task.done, all: task.all }) : t('loading')))
            .then((turn) => { say(`${t('rule-done', { n: turn.ruled, ...turn })}${turn.unruled > 0 ? ` ${t('rule-left', { n: turn.unruled })}` : ''}`); again(); }, (e: Error) => { say(''); fail(e.message); })
            .finally(() => set(false));
    };
    if (n === 0 && said === '') return null;
    return (
        <div class="many" data-turn>
            {n > 0 && <button type="button" data-act="rule-now" disabled={busy} onClick={go}>{n === 1 ? t('rule-now-one') : t('rule-now', { n })}</button>}
            <p class="small" role="status">{said}</p>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
        </div>
    );
}

export function count(listed: Listed): string {
    const n = listed.claims.length;
    return n === 1 ? t('shown-one') : t('shown', { n });
}

export function List(p: { listed: Listed; place: Place; who: Session; again: () => void }): JSX.Element {
    const { listed, place } = p, n = listed.claims.length, invented = listed.claims.filter((c) => c.is_invented).length;
    const isFiltered = place.verdict + place.shop + place.vin + place.after + place.needs + place.rule + place.findings + place.bulletin !== '';
    return (
        <section class="list" aria-labelledby="list-title">
            <h1 id="list-title">{t('claims')}</h1>
            {invented > 0 && <p class="invented">{t(invented === n ? 'invented' : 'invented-some')}</p>}
            {p.who.role === 'technician' && <p class="small">{t('own-shop', { shop: p.who.shop ?? '' })}</p>}
            <Filters place={place} who={p.who} counts={listed.counts} />
            {place.after !== '' && <p class="small">{t('from', { claim: place.after })} <a href={hashOf({ ...place, claim: '', after: '' })}>{t('newest')}</a></p>}
            {mayRule(p.who) && <RuleNow n={listed.counts.needs.ruling} who={p.who} again={p.again} />}
            {mayRule(p.who) && <Many rows={listed.claims} who={p.who} again={p.again} />}
            {n === 0 ? <div class="empty"><h2>{t('none')}</h2><p>{t('none-why')}</p></div> : (
                <table class="claims">
                    <caption class="visually">{t('claims')}</caption>
                    <thead><tr>
                        <th scope="col">{t('verdict')}</th><th scope="col">{t('claim')}</th><th scope="col" class="wide">{t('gravest')}</th><th scope="col" class="wider">{t('vin')}</th><th scope="col" class="wider">{t('shop')}</th>
                        <th scope="col" class="wider">{t('finished')}</th><th scope="col" class="right">{t('amount')}</th><th scope="col" class="right wider">{t('paid')}</th>
                    </tr></thead>
                    <tbody>{listed.claims.map((c) => <Row key={c.claim} c={c} place={place} marks={invented < n} />)}</tbody>
                </table>
            )}
            <p class="small after" aria-live="polite">
                {n > 0 ? count(listed) : ''}{' '}
                {listed.more && <a data-act="older" href={hashOf({ ...place, claim: '', after: listed.claims[n - 1]!.claim })}>{t('older')}</a>}{' '}
                {isFiltered && <a href={hashOf({})}>{t('filter-none')}</a>}
            </p>
        </section>
    );
}
