// units: the units that the store knows: finding them, bringing lists in, taking everything out. Bringing in and taking out are the owner's.
import { JSX } from 'preact';
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import './units.css';
import * as api from './api';
import { hashOf } from './address';
import { useHash } from '../view/hash';
import type { PageProps } from './pages';
import { Mark, tone } from './parts';
import { money } from './show';
import { Key, t, word } from './text';
import { Bring } from './units_bring';
import * as calls from './units_calls';
import { ASKED, Asked, Found, GIVEN, Station, Unit } from './units_calls';

// ---- what is asked for stands in the address ----

function askedOf(hash: string): Asked {
    const q = new URLSearchParams(hash.split('?')[1] ?? '');
    return Object.fromEntries(ASKED.map((name) => [name, q.get(name) ?? ''])) as Asked;
}
function addressOf(asked: Asked): string {
    const q = new URLSearchParams();
    for (const name of ASKED) if (asked[name] !== '') q.set(name, asked[name]);
    return `#/units${[...q].length > 0 ? `?${q}` : ''}`;
}
const isEmpty = (a: Asked): boolean => a.vin + a.label + a.shop === '';

function Search({ asked, who }: { asked: Asked; who: api.Session }): JSX.Element {
    const form = useRef<HTMLFormElement>(null), [isBare, tell] = useState(false);
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!), of = (name: string) => String(told.get(name) ?? '').trim(), next = { vin: of('vin').toUpperCase(), label: of('label'), shop: of('shop'), after: '' };
        tell(isEmpty(next));
        if (!isEmpty(next)) location.hash = addressOf(next);
    };
    const fields = [['vin', 17, 18], ['label', 120, 16], ...(who.role === 'technician' ? [] : [['shop', 64, 14]])] as ['vin' | 'label' | 'shop', number, number][];
    return (
        <form ref={form} onSubmit={go} role="search" aria-label={t('un-find')} class="find-units" key={addressOf({ ...asked, after: '' })}>
            {fields.map(([name, most, size]) => (
                <div key={name}>
                    <label for={`un-${name}`}>{t(`un-${name}`)}</label>
                    <input id={`un-${name}`} name={name} class={name === 'vin' ? 'code' : ''} value={asked[name]} maxLength={most} size={size} autocomplete="off" spellcheck={false} aria-describedby={`un-${name}-why`} />
                    <p class="small" id={`un-${name}-why`}>{t(`un-${name}-why`)}</p>
                </div>))}
            <button type="submit">{t('un-go')}</button>
            <p class="stop-text" role="alert">{isBare ? t('un-asks') : ''}</p>
        </form>
    );
}

// ---- what was found ----

const said = { in: 'un-in', out: 'un-out', unknown: 'un-unknown' } as const;

const StationOf = ({ s }: { s: Station }): JSX.Element => (
    <li><b>{s.station}</b> {!s.listed ? <span class="soft-text">{t('un-not-listed')}</span> : s.label === null ? <span class="soft-text">{t('un-no-label')}</span> : <span class="code">{s.label}</span>}
        {s.scope !== null && <>: <b>{t(said[s.scope])}</b></>}{s.reason !== null && <span class="small reason">{s.reason}</span>}</li>
);

function UnitRow({ u }: { u: Unit }): JSX.Element {
    return (
        <tr data-vin={u.vin}>
            <th scope="row"><a class="code" href={hashOf({ vin: u.vin })}>{u.vin}</a>{u.check !== 'good' && <span class="small stop-text check">{t(`un-check-${u.check}`)}</span>}
                {u.unit !== null && <span class="scope-of" data-scope={u.unit}>{t(`un-is-${u.unit}`)}</span>}</th>
            <td><ul class="plain">{u.stations.map((s) => <StationOf key={s.station} s={s} />)}</ul></td>
            <td>{u.claims.length === 0 ? <span class="soft-text">{t('un-no-claims')}</span> : <ul class="plain">{u.claims.map((c) => (
                <li key={c.claim} class={tone(c.verdict)}><Mark verdict={c.verdict} /><a class="code" href={hashOf({ claim: c.claim })}>{c.claim}</a> <b>{word('', c.verdict ?? 'unruled')}</b>{c.verdict !== null && <span class="nowrap"> {money(c.amount_minor, c.currency, c.currency_digits)}</span>}<span class="small reason">{c.shop ?? t('unknown')}{c.is_invented && <>, <span class="invented-mark">{t('invented-mark')}</span></>}</span></li>))}
                {u.more && <li class="small">{t('un-more-claims')}</li>}</ul>}</td>
        </tr>
    );
}

function Results({ found, asked }: { found: Found; asked: Asked }): JSX.Element {
    const n = found.units.length;
    return (
        <section aria-live="polite" class="found" data-found={n}>
            {n === 0 && !found.more ? <div class="empty"><h2>{t('un-none')}</h2><p>{t('un-none-why')}</p></div> : (
                <>
                    <p>{n === 1 ? t('un-one') : t('un-n', { n })}. <span class="small">{found.bulletin === null ? t('un-by-none') : t('un-by', { bulletin: found.bulletin, n: found.revision ?? '' })}</span></p>
                    <div class="sheet-box" tabIndex={0} role="region" aria-label={t('un')}><table class="sheet units">
                        <thead><tr><th scope="col">{t('un-unit')}</th><th scope="col">{t('un-stations')}</th><th scope="col">{t('un-claims')}</th></tr></thead>
                        <tbody>{found.units.map((u) => <UnitRow key={u.vin} u={u} />)}</tbody>
                    </table></div>
                </>
            )}
            <p class="small after">{found.more && n === 0 && t('un-some')} {found.more && found.next !== null && <a data-act="more" href={addressOf({ ...asked, after: found.next })}>{t('un-more')}</a>} {asked.after !== '' && <a href={addressOf({ ...asked, after: '' })}>{t('un-first')}</a>}</p>
        </section>
    );
}

const GiveOut = (): JSX.Element => (
    <section aria-labelledby="give-out" class="give-out">
        <h2 id="give-out">{t('un-give')}</h2>
        <p class="small">{t('un-give-why')}</p>
        <ul class="plain">{GIVEN.map((what) => <li key={what}><span>{t(`un-out-${what}` as Key)}</span> <span class="forms">{(['csv', 'json'] as const).map((form) => <a key={form} href={calls.exportAt(what, form)} download={`${what}.${form}`} aria-label={`${t(`un-out-${what}` as Key)}, ${form.toUpperCase()}`}>{form.toUpperCase()}</a>)}</span></li>)}</ul>
    </section>
);

export function UnitsPage({ who, nobody }: PageProps): JSX.Element {
    const hash = useHash(), asked = useMemo(() => askedOf(hash), [hash]), [got, set] = useState<Found | null>(null), [why, say] = useState('');
    useEffect(() => {
        let isLate = false;
        say('');
        if (isEmpty(asked)) { set(null); return; }
        calls.find(asked).then((g) => { if (!isLate) set(g); }, (e: unknown) => {
            if (e instanceof api.Trouble && e.status === 401) return nobody();
            if (!isLate) { set(null); say(e instanceof Error ? e.message : String(e)); }
        });
        return () => { isLate = true; };
    }, [asked, who.csrf]);
    return (
        <div class="units-page">
            <h1>{t('un')}</h1>
            <Search asked={asked} who={who} />
            {why !== '' && <p class="stop-text" role="alert">{t('un-failed', { detail: why })}</p>}
            {got !== null && <Results found={got} asked={asked} />}
            {who.role === 'owner' && <div class="two"><Bring who={who} /><GiveOut /></div>}
        </div>
    );
}
