// claim: one claim, the verdict first in words, then what speaks against it, money, stations, readings, photos, history.
import { ComponentChildren, Fragment, JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Bulletin, Point } from '../bulletin/types';
import { textIn } from '../bulletin/types';
import { NO_HIGH, NO_LOW } from '../core/core';
import { Strip } from '../view/strip';
import { Claim, Finding, letterAt, Photo, Reading, Ruling, Session, Verdict } from './api';
import { Acts } from './act';
import { hashOf, Place } from './address';
import { Work } from './did';
import { DEED, Deed } from './keys';
import { mayRule } from './list';
import { Mark, tone } from './parts';
import { Alike, Picture, Viewer } from './photos';
import { amount, digitsOf as instrumentDigits, limits, moment, money, named, unitOf } from './show';
import { Key, t, word } from './text';

/** changed: the claim as it is after something was done with it. look: asks for it again. */
interface Shown { c: Claim; b: Bulletin | null; place: Place; who: Session; changed: (c: Claim) => void; look: () => Promise<void>; nobody: () => void }
const digitsOf = (b: Bulletin | null): number | null => b?.currency_digits ?? null;
const stationName = (b: Bulletin | null, id: string | null): string => (id === null || id === '' || id === '*' ? t('whole-unit') : named(b, b?.scope.stations, id));

// ---- the verdict ----

/** What stands: a person's word before the rules', as the server tells it. */
function standing(c: Claim): Ruling | undefined {
    return c.rulings.filter((r) => (c.is_overruled ? r.kind === 'overruled' : r.kind === 'ruled' || r.kind === 'taken-back')).pop();
}
/** The last ruling by the rules, whatever stands. */
const byRules = (c: Claim): Ruling | undefined => c.rulings.filter((r) => r.kind === 'ruled').pop();

function Verdicts({ c, b }: Shown): JSX.Element {
    const isPaid = c.verdict === 'pay' && c.paid_minor > 0 && c.paid_minor >= c.amount_minor, key = isPaid ? 'paid' : (c.verdict ?? 'unruled'), stands = standing(c);
    const of = (n: number) => money(n, c.currency, digitsOf(b)), title = useRef<HTMLHeadingElement>(null);
    useEffect(() => { title.current?.focus({ preventScroll: true }); scrollTo({ top: 0 }); }, [c.claim]);
    return (
        <div class={`verdict ${tone(c.verdict)}`}>
            <Mark verdict={c.verdict} />
            <div>
                <h1 ref={title} tabIndex={-1} id="claim-title">{t(`is-${key}` as Key)}<span class="visually">: {c.claim}</span></h1>
                {c.verdict !== null && <p class="said">{isPaid ? t('paid-all', { money: of(c.paid_minor) }) : c.verdict === 'pay' ? t('due', { money: of(c.amount_minor), paid: of(c.paid_minor) }) : t('due-none', { paid: of(c.paid_minor) })}{' '}
                    {c.is_overruled && <b>{t('over-person')}</b>} {stands?.reason && <q>{stands.reason}</q>}</p>}
                <p class="said">{t(`next-${key}` as Key)}</p>
                {c.paid_minor > 0 && c.paid_minor > (c.verdict === 'pay' ? c.amount_minor : 0) && <p class="said stop-text">{t('owed-back', { money: of(c.paid_minor - (c.verdict === 'pay' ? c.amount_minor : 0)) })}</p>}
            </div>
        </div>
    );
}

// ---- findings ----

/** Where on this page it is to be seen, and the other claim that it names. */
function Evidence({ f, shown }: { f: Finding; shown: Shown }): JSX.Element | null {
    const { c, place } = shown, photos = f.what === null ? [] : photosOf(c, f), isPoint = f.what !== null && c.readings.some((r) => r.point === f.what);
    if (photos.length === 0 && !isPoint && f.other === null) return null;
    return (
        <p class="evidence"><b>{t('evidence')}</b>
            {photos.map((p) => <a key={p.name} href={`#photo-${c.photos.indexOf(p)}`} onClick={(e) => show(e, `photo-${c.photos.indexOf(p)}`)}>{t('its-photo')}</a>)}
            {isPoint && <a href={`#point-${f.what}`} onClick={(e) => show(e, `point-${f.what}`)}>{t('its-reading')}</a>}
            {f.other !== null && <a href={hashOf({ ...place, claim: f.other })}>{t('its-claim', { claim: f.other })}</a>}
        </p>
    );
}
/** Goes to a place on the page; the address stays the claim's. */
function show(e: Event, id: string): void {
    e.preventDefault();
    const to = document.getElementById(id);
    to?.scrollIntoView({ block: 'center' });
    (to?.querySelector<HTMLElement>('button') ?? to)?.focus({ preventScroll: true });
}
const photosOf = (c: Claim, f: Finding): Photo[] => c.photos.filter((p) => p.name === f.what || (p.proof === f.what && (f.station === null || p.station === f.station)));

function Findings({ list, shown }: { list: Finding[]; shown: Shown }): JSX.Element {
    return (
        <ul class="findings">
            {list.map((f, i) => (
                <li key={i} data-rule={f.rule}>
                    <b class={`level ${f.level === 'refuse' ? 'stop-text' : ''}`}>{word('level-', f.level)}</b>
                    <div>
                        <p>{f.station !== null && <span class="soft-text">{stationName(shown.b, f.station)}: </span>}{f.message} <a class="rule" href={hashOf({ ...shown.place, claim: '', after: '', rule: f.rule })} title={t('same-rule')}><code>{f.rule}</code></a></p>
                        {f.cure !== null && <p class="cure"><b>{t('cure')}</b> {f.cure}</p>}
                        <Evidence f={f} shown={shown} />
                        {f.rule === 'photo-seen' && f.what !== null && f.other !== null && f.other_what !== null && mayRule(shown.who) && <Alike c={shown.c} f={f} />}
                    </div>
                </li>
            ))}
        </ul>
    );
}

/** Those of the last ruling by the rules, the gravest first; then those of taking in that are not among them. */
function AllFindings({ shown }: { shown: Shown }): JSX.Element {
    const ORDER = ['refuse', 'hold', 'ask', 'note'], { c } = shown, ruled = byRules(c)?.findings ?? [];
    const sorted = [...ruled].sort((x, y) => ORDER.indexOf(x.level) - ORDER.indexOf(y.level));
    const intake = c.findings.filter((f) => !ruled.some((r) => r.rule === f.rule && r.station === f.station && r.message === f.message));
    return (
        <section><h2>{t('findings')}</h2>
            {sorted.length === 0 && intake.length === 0 ? <p>{t(c.verdict === null ? 'findings-later' : 'no-findings')}</p> : <Findings list={sorted} shown={shown} />}
            {intake.length > 0 && <><h3>{t('intake')}</h3><Findings list={intake} shown={shown} /></>}
        </section>
    );
}

// ---- money ----

function Money({ c, b }: Shown): JSX.Element {
    const awards = standing(c)?.awards ?? [], of = (n: number) => money(n, c.currency, digitsOf(b));
    return (
        <section><h2>{t('money')}</h2>
            <div class="sheet-box" tabIndex={0} role="group" aria-label={t('money')}><table class="sheet money">
                <caption class="visually">{t('money')}</caption>
                <thead><tr><th scope="col">{t('what')}</th><th scope="col">{t('how-worked')}</th><th scope="col">{t('verdict')}</th><th scope="col" class="right">{t('awarded')}</th></tr></thead>
                <tbody>
                    {awards.map((a, i) => {
                        const [station = '', line] = a.station.split('/');
                        return <tr key={i}><td>{line === undefined ? '' : `${word('line-', line)}, `}{stationName(b, station)}</td><td class="soft-text">{a.what ?? ''}</td><td class={tone(a.verdict as Verdict)}>{word('', a.verdict)}</td><td class="right figures">{of(a.amount_minor)}</td></tr>;
                    })}
                    {awards.length === 0 && <tr><td colSpan={4} class="soft-text">{t('no-money')}</td></tr>}
                </tbody>
                {c.verdict !== null && <tfoot>
                    <tr><th scope="row" colSpan={3}>{t('stands')}</th><td class="right figures">{of(c.amount_minor)}</td></tr>
                    <tr><th scope="row" colSpan={3}>{t('paid-far')}</th><td class="right figures">{of(c.paid_minor)}</td></tr>
                </tfoot>}
            </table></div>
        </section>
    );
}

// ---- stations and readings ----

function Stations({ c, b }: Shown): JSX.Element {
    const days = (first: string | null, last: string | null) => <><span class="nowrap">{first}</span>{first !== null && last !== null && last !== first && <> <span class="nowrap">{`\u2026 ${last}`}</span></>}</>;
    return (
        <section><h2>{t('stations')}</h2>
            <div class="sheet-box" tabIndex={0} role="group" aria-label={t('stations')}>
                <table class="sheet stations">
                    <caption class="visually">{t('stations')}</caption>
                    <thead><tr>{(['station', 'label', 'variant', 'built', 'scope', 'kit'] as const).map((k) => <th key={k} scope="col">{t(k)}</th>)}</tr></thead>
                    <tbody>{c.stations.map((s) => (
                        <tr key={s.station}>
                            <th scope="row">{stationName(b, s.station)}</th><td>{s.label ?? ''}</td><td>{s.variant ?? ''}</td><td class="figures">{days(s.built_first, s.built_last)}</td>
                            <td>{s.scope === null ? '' : s.scope === 'unknown' ? t('scope-unknown') : word('', s.scope)}</td><td>{s.kit === null ? '' : named(b, b?.kits, s.kit)}</td>
                        </tr>
                    ))}</tbody>
                </table>
            </div>
        </section>
    );
}

interface Line { station: string | null; point: string; before: Reading[]; after: Reading[] }

/** One line a point, in the order the bulletin has them; those it does not know come last. */
function linesOf(c: Claim, points: readonly Point[]): Line[] {
    const lines = new Map<string, Line>(), order = (id: string) => { const i = points.findIndex((p) => p.id === id); return i < 0 ? points.length : i; };
    for (const r of c.readings) {
        const key = `${r.station ?? ''} ${r.point}`, line = lines.get(key) ?? { station: r.station, point: r.point, before: [], after: [] };
        (r.phase === 'before' ? line.before : line.after).push(r);
        lines.set(key, line);
    }
    return [...lines.values()].sort((a, b) => order(a.point) - order(b.point));
}

const big = (n: number | null | undefined, otherwise: bigint): bigint => (n === null || n === undefined ? otherwise : BigInt(n));

/** Drawn by the server's own limits, guard bands and uncertainty: those that the rules judged by. */
function ReadingStrip({ r, point, said }: { r: Reading; point: Point; said: string }): JSX.Element {
    const low = big(r.low_nano, NO_LOW), high = big(r.high_nano, NO_HIGH), guards = r.guard_nano !== undefined && r.guard_nano > 0;
    return <Strip low={low} high={high} {...(guards ? { guardLow: big(r.guarded_low_nano, NO_LOW), guardHigh: big(r.guarded_high_nano, NO_HIGH) } : {})} nominal={BigInt(point.nominal.nano)} reading={BigInt(r.value_nano)} u={r.u_nano ?? 0} verdict={r.verdict} label={said} />;
}

function ReadingRow({ line, b, point }: { line: Line; b: Bulletin | null; point: Point | undefined }): JSX.Element {
    const unit = (r: Reading) => unitOf(r.unit, point), resolution = b?.instruments.find((i) => i.id === point?.instrument)?.resolution;
    const shown = (r: Reading) => amount(r.value_nano, unit(r), instrumentDigits(resolution, unit(r))), last = line.after[line.after.length - 1] ?? line.before[line.before.length - 1]!;
    const all = (list: Reading[]) => list.map((r, i) => <Fragment key={i}>{i > 0 && ' \u2192 '}<span class="nowrap">{shown(r)}</span></Fragment>), name = point === undefined || b === null ? line.point : textIn(b, point.name, 'en');
    const verdict = last.verdict === null ? '' : t(`is-${last.verdict}` as Key), chance = last.p_conform === undefined ? '' : t('chance', { p: last.p_conform > 0.9995 ? '> 99.9' : last.p_conform < 0.0005 ? '< 0.1' : (100 * last.p_conform).toFixed(1) });
    return (
        <tr id={`point-${line.point}`} tabIndex={-1}>
            <th scope="row">{name}</th>
            <td class="right figures soft-text">{all(line.before)}</td><td class="right figures"><b>{all(line.after)}</b></td>
            <td class="figures nowrap">{point !== undefined && limits(point.low, point.high, point.nominal.unit)}</td>
            <td class="strip-cell">{point !== undefined && last.verdict !== null && <ReadingStrip r={last} point={point} said={`${shown(last)}, ${verdict}`} />}</td>
            <td class={`nowrap ${last.verdict === 'outside' ? 'stop-text' : ''}`} title={chance}>{verdict}</td>
        </tr>
    );
}

function Readings({ c, b }: Shown): JSX.Element {
    const points = b?.points ?? [];
    return (
        <section><h2>{t('readings')}</h2>
            {b === null && c.readings.length > 0 && <p class="small">{t('no-bulletin')}</p>}
            {c.limits_revision !== null && c.readings.length > 0 && <p class="small">{t('judged-by', { n: c.limits_revision })}</p>}
            {c.readings.length === 0 ? <p>{t('no-readings')}</p> : (
                <div class="sheet-box" tabIndex={0} role="group" aria-label={t('readings')}>
                    <table class="sheet readings">
                        <caption class="visually">{t('readings')}</caption>
                        <thead><tr><th scope="col">{t('point')}</th><th scope="col" class="right">{t('before')}</th><th scope="col" class="right">{t('after')}</th><th scope="col" colSpan={2}>{t('limits')}</th><th scope="col">{t('judged')}</th></tr></thead>
                        <tbody>{linesOf(c, points).map((l) => <ReadingRow key={`${l.station} ${l.point}`} line={l} b={b} point={points.find((p) => p.id === l.point)} />)}</tbody>
                    </table>
                </div>
            )}
        </section>
    );
}

// ---- photos ----

function Photos({ c, b, place: _place, ...rest }: Shown): JSX.Element {
    const title = (p: Photo) => `${p.proof === null ? p.name : named(b, b?.proof.photos, p.proof)}${p.station === null ? '' : `, ${stationName(b, p.station)}`}`;
    const [at, open] = useState<number | null>(null), found = [...(byRules(c)?.findings ?? []), ...c.findings], last = useRef<HTMLElement | null>(null);
    const start = (i: number) => { last.current = document.activeElement as HTMLElement | null; open(i); };
    const mark = (p: Photo) => { const f = found.find((x) => x.level !== 'note' && x.what !== null && photosOf(c, x).includes(p)); return f === undefined ? undefined : `${word('level-', f.level)}: ${f.rule}`; };
    useEffect(() => open(null), [c.claim]);
    useEffect(() => {
        // The first that a finding points at, else the first.
        const hear = (e: Event) => { if ((e as CustomEvent<Deed>).detail === 'photo' && c.photos.length > 0) start(Math.max(0, c.photos.findIndex((p) => mark(p) !== undefined))); };
        document.addEventListener(DEED, hear);
        return () => document.removeEventListener(DEED, hear);
    });
    void rest;
    return (
        <section><h2>{t('photos')}</h2>
            {c.photos.length === 0 ? <p>{t('no-photos')}</p> : <div class="photos">{c.photos.map((p, i) => <div key={p.name} id={`photo-${i}`}><Picture c={c} p={p} title={title(p)} mark={mark(p)} open={() => start(i)} /></div>)}</div>}
            {at !== null && at < c.photos.length && <Viewer c={c} list={c.photos} at={at} titleOf={title} go={open} close={() => { open(null); last.current?.focus(); }} />}
        </section>
    );
}

// ---- history ----

function History({ c, b }: Shown): JSX.Element {
    const KIND = { 'ruled': 'ruled', 'overruled': 'overruled', 'paid': 'was-paid', 'taken-back': 'taken-back', 'noted': 'noted' } as const;
    const steps: [number | null, ComponentChildren, string][] = [
        [c.opened_ms, `${t('job')} ${t('opened')}`, ''], [c.finished_ms, `${t('job')} ${t('job-finished')}`, ''], [c.taken_ms, `${t('claim')} ${t('came')}`, ''],
        ...c.rulings.map((r): [number, ComponentChildren, string] => [r.at_ms,
            <>{t(KIND[r.kind])}{r.verdict !== null && r.kind !== 'paid' && <>: {word('', r.verdict)}{r.revision !== null && `, ${t('revision', { n: r.revision })}`}</>}{r.person !== null && ` ${t('by', { person: r.person })}`}{r.reason !== null && <>: <q>{r.reason}</q></>}</>,
            r.kind === 'noted' ? '' : money(r.amount_minor, r.currency, digitsOf(b))]),
    ];
    return (
        <section><h2>{t('history')}</h2>
            <table class="sheet">
                <caption class="visually">{t('history')}</caption>
                <thead><tr><th scope="col">{t('when')}</th><th scope="col">{t('happened')}</th><th scope="col" class="right">{t('awarded')}</th></tr></thead>
                <tbody>{steps.filter(([at]) => at !== null).map(([at, what, sum], i) => <tr key={i}><td class="figures nowrap">{moment(at)}</td><td>{what}</td><td class="right figures nowrap">{sum}</td></tr>)}</tbody>
            </table>
        </section>
    );
}

export function ClaimPage({ shown }: { shown: Shown }): JSX.Element {
    const { c, b, place } = shown, here = { ...place, claim: c.claim };
    return (
        <article class="claim" aria-labelledby="claim-title" data-open={c.claim}>
            <p class="claim-head">
                <a class="back" href={hashOf({ ...place, claim: '' })}>{t('back')}</a>
                <b class="code">{c.claim}</b>
                {c.is_invented && <span class="invented">{t('invented')}</span>}
                <a class="close" href={hashOf({ ...place, claim: '' })}>{t('close')}</a>
            </p>
            <Verdicts {...shown} />
            <dl class="facts">
                <dt>{t('vin')}</dt><dd class="code">{c.vin} <a href={hashOf({ ...here, claim: '', after: '', vin: c.vin })}>{t('only-vin')}</a></dd>
                <dt>{t('shop')}</dt><dd>{t('of-shop', { shop: c.shop ?? t('unknown'), technician: c.technician ?? t('unknown') })} {c.shop !== null && <a href={hashOf({ ...here, claim: '', after: '', shop: c.shop })}>{t('only-shop')}</a>}</dd>
                <dt>{t('bulletin')}</dt><dd>{c.bulletin}{c.revision !== null && `, ${t('revision', { n: c.revision })}`}{b !== null && ` \u00b7 ${textIn(b, b.bulletin.title, 'en')}`}</dd>
                {c.signature !== null && <><dt>{t('signature')}</dt><dd>{word('sig-', c.signature)}</dd></>}
            </dl>
            {mayRule(shown.who) && <Acts c={c} b={b} who={shown.who} changed={shown.changed} look={shown.look} nobody={shown.nobody} />}
            <p class="small letter">{t('letter')} {(['en', 'es', 'fr'] as const).map((l) => <Fragment key={l}><a href={letterAt(c.claim, 'pdf', l)} target="_blank" rel="noopener" data-letter={l}>{t('letter-pdf', { language: t(`language-${l}` as Key) })}</a> </Fragment>)}<a href={letterAt(c.claim, 'text', 'en')} target="_blank" rel="noopener">{t('letter-text')}</a></p>
            <AllFindings shown={shown} /><Photos {...shown} /><Readings {...shown} /><Work c={c} b={b} /><Money {...shown} /><Stations {...shown} /><History {...shown} />
        </article>
    );
}
