// list: the claims, one line each, and the filters, which are links.
import { JSX } from 'preact';
import { useRef } from 'preact/hooks';
import type { Head, Listed, Session } from './api';
import { hashOf, Place } from './address';
import { Mark, tone } from './parts';
import { moment, money } from './show';
import { t, word } from './text';

const VERDICTS = ['', 'pay', 'ask', 'hold', 'refuse', 'unruled'] as const;

/** Filters keep one another; a page farther back does not survive a change of them, nor does the open claim. */
function Filters({ place, who }: { place: Place; who: Session }): JSX.Element {
    const form = useRef<HTMLFormElement>(null), here = { ...place, claim: '', after: '' };
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!), of = (name: string) => String(told.get(name) ?? '').trim();
        location.hash = hashOf({ ...here, shop: of('shop'), vin: of('vin').toUpperCase() });
    };
    return (
        <div class="filters">
            <nav aria-label={t('filter-verdict')}>
                {VERDICTS.map((v) => <a key={v} href={hashOf({ ...here, verdict: v })} aria-current={v === place.verdict ? 'true' : undefined}>{v === '' ? t('all') : t(v)}</a>)}
            </nav>
            <form ref={form} onSubmit={go} key={`${place.vin} ${place.shop}`} role="search" aria-label={t('filter')}>
                <label>{t('filter-vin')} <input name="vin" class="code" value={place.vin} size={18} maxLength={17} autocomplete="off" spellcheck={false} /></label>
                {who.role !== 'technician' && <label>{t('filter-shop')} <input name="shop" value={place.shop} size={12} maxLength={64} autocomplete="off" spellcheck={false} /></label>}
                <button type="submit">{t('filter-go')}</button>
            </form>
        </div>
    );
}

function Row({ c, place, digits, marks }: { c: Head; place: Place; digits: number | null; marks: boolean }): JSX.Element {
    // What was not ruled on has no amount yet; a nought would look like one.
    const isOpen = c.claim === place.claim, of = (minor: number) => (c.verdict === null && c.paid_minor === 0 ? '' : money(minor, c.currency, digits));
    return (
        <tr class={isOpen ? 'open' : ''} data-claim={c.claim}>
            <td class={`verdict-cell ${tone(c.verdict)}`}><Mark verdict={c.verdict} /><span>{word('', c.verdict ?? 'unruled')}</span></td>
            <td class="code"><a href={hashOf({ ...place, claim: c.claim })} aria-current={isOpen ? 'true' : undefined}>{c.claim}</a>{marks && c.is_invented && <span class="invented-mark"> {t('invented-mark')}</span>}</td>
            <td class="code wide">{c.vin}</td>
            <td class="wider">{c.shop ?? t('unknown')}</td>
            <td class="wider figures">{moment(c.finished_ms)}</td>
            <td class="figures right">{of(c.amount_minor)}</td>
            <td class="figures right wider">{of(c.paid_minor)}</td>
        </tr>
    );
}

export function count(listed: Listed, place: Place): string {
    const n = listed.claims.length;
    if (place.verdict !== '') return t('looked', { n, m: listed.looked });
    return n === 1 ? t('shown-one') : t('shown', { n });
}

export function List(p: { listed: Listed; place: Place; who: Session; digitsOf: (c: Head) => number | null }): JSX.Element {
    const { listed, place } = p, n = listed.claims.length, invented = listed.claims.filter((c) => c.is_invented).length, isFiltered = place.verdict + place.shop + place.vin + place.after !== '';
    return (
        <section class="list" aria-labelledby="list-title">
            <h1 id="list-title">{t('claims')}</h1>
            {invented > 0 && <p class="invented">{t(invented === n ? 'invented' : 'invented-some')}</p>}
            {p.who.role === 'technician' && <p class="small">{t('own-shop', { shop: p.who.shop ?? '' })}</p>}
            <Filters place={place} who={p.who} />
            {place.after !== '' && <p class="small">{t('from', { claim: place.after })} <a href={hashOf({ ...place, claim: '', after: '' })}>{t('newest')}</a></p>}
            {n === 0 ? <div class="empty"><h2>{t('none')}</h2><p>{t('none-why')}</p></div> : (
                <table class="claims">
                    <caption class="visually">{t('claims')}</caption>
                    <thead><tr>
                        <th scope="col">{t('verdict')}</th><th scope="col">{t('claim')}</th><th scope="col" class="wide">{t('vin')}</th><th scope="col" class="wider">{t('shop')}</th>
                        <th scope="col" class="wider">{t('finished')}</th><th scope="col" class="right">{t('amount')}</th><th scope="col" class="right wider">{t('paid')}</th>
                    </tr></thead>
                    <tbody>{listed.claims.map((c) => <Row key={c.claim} c={c} place={place} digits={p.digitsOf(c)} marks={invented < n} />)}</tbody>
                </table>
            )}
            <p class="small after" aria-live="polite">
                {n > 0 || place.verdict !== '' ? count(listed, place) : ''}{' '}
                {listed.more && <a data-act="older" href={hashOf({ ...place, claim: '', after: listed.next })}>{t('older')}</a>}{' '}
                {isFiltered && <a href={hashOf({})}>{t('filter-none')}</a>}
            </p>
        </section>
    );
}
