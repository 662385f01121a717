// claim: one claim, the verdict first in words, then what speaks against it, money, stations, readings, photos, history.
import { ComponentChildren, Fragment, JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Bulletin, Point } from '../bulletin/types';
import { textIn } from '../bulletin/types';
import { Claim, Finding, photoAt, Photo, Reading, Ruling, Verdict } from './api';
import { hashOf, Place } from './address';
import { Mark, Strip, tone } from './parts';
import { amount, digitsOf as instrumentDigits, limits, moment, money, named, unitOf } from './show';
import { Key, t, word } from './text';

interface Shown { c: Claim; b: Bulletin | null; place: Place }
const digitsOf = (b: Bulletin | null): number | null => b?.currency_digits ?? null;
const stationName = (b: Bulletin | null, id: string | null): string => (id === null || id === '' || id === '*' ? t('whole-unit') : named(b, b?.scope.stations, id));

// ---- the verdict ----

/** What stands: a person's word before the rules', as the server tells it. */
function standing(c: Claim): Ruling | undefined {
    return c.rulings.filter((r) => r.kind === (c.is_overruled ? 'overruled' : 'ruled')).pop();
}

function Verdicts({ c, b }: Shown): JSX.Element {
    const isPaid = c.verdict === 'pay' && c.paid_minor > 0 && c.paid_minor >= c.amount_minor, key = isPaid ? 'paid' : (c.verdict ?? 'unruled'), stands = standing(c);
    const of = (n: number) => money(n, c.currency, digitsOf(b)), title = useRef<HTMLHeadingElement>(null);
    useEffect(() => title.current?.focus({ preventScroll: true }), [c.claim]);
    return (
        <div class={`verdict ${tone(c.verdict)}`}>
            <Mark verdict={c.verdict} />
            <div>
                <h1 ref={title} tabIndex={-1} id="claim-title">{t(`is-${key}` as Key)}<span class="visually">: {c.claim}</span></h1>
                {c.verdict !== null && <p class="said">{isPaid ? t('paid-all', { money: of(c.paid_minor) }) : c.verdict === 'pay' ? t('due', { money: of(c.amount_minor), paid: of(c.paid_minor) }) : t('due-none', { paid: of(c.paid_minor) })}{' '}
                    {c.is_overruled && <b>{t('over-person')}</b>} {stands?.reason && <q>{stands.reason}</q>}</p>}
                <p class="said">{t(`next-${key}` as Key)}</p>
            </div>
        </div>
    );
}

// ---- findings ----

function Findings({ list, b }: { list: Finding[]; b: Bulletin | null }): JSX.Element {
    return (
        <ul class="findings">
            {list.map((f, i) => (
                <li key={i}>
                    <b class={`level ${f.level === 'refuse' ? 'stop-text' : ''}`}>{word('level-', f.level)}</b>
                    <div>
                        <p>{f.station !== null && <span class="soft-text">{stationName(b, f.station)}: </span>}{f.message} <code>{f.rule}</code></p>
                        {f.cure !== null && <p class="cure"><b>{t('cure')}</b> {f.cure}</p>}
                    </div>
                </li>
            ))}
        </ul>
    );
}

/** Those of the last ruling by the rules, the gravest first; then those of taking in that are not among them. */
function AllFindings({ c, b }: Shown): JSX.Element {
    const ORDER = ['refuse', 'hold', 'ask', 'note'], ruled = c.rulings.filter((r) => r.kind === 'ruled').pop()?.findings ?? [];
    const sorted = [...ruled].sort((x, y) => ORDER.indexOf(x.level) - ORDER.indexOf(y.level));
    const intake = c.findings.filter((f) => !ruled.some((r) => r.rule === f.rule && r.station === f.station && r.message === f.message));
    return (
        <section><h2>{t('findings')}</h2>
            {sorted.length === 0 && intake.length === 0 ? <p>{t(c.verdict === null ? 'findings-later' : 'no-findings')}</p> : <Findings list={sorted} b={b} />}
            {intake.length > 0 && <><h3>{t('intake')}</h3><Findings list={intake} b={b} /></>}
        </section>
    );
}

// ---- money ----

function Money({ c, b }: Shown): JSX.Element {
    const awards = standing(c)?.awards ?? [], of = (n: number) => money(n, c.currency, digitsOf(b));
    return (
        <section><h2>{t('money')}</h2>
            <table class="sheet">
                <caption class="visually">{t('money')}</caption>
                <thead><tr><th scope="col">{t('what')}</th><th scope="col">{t('verdict')}</th><th scope="col" class="right">{t('awarded')}</th></tr></thead>
                <tbody>
                    {awards.map((a, i) => {
                        const [station = '', line] = a.station.split('/');
                        return <tr key={i}><td>{line === undefined ? '' : `${word('line-', line)}, `}{stationName(b, station)}</td><td class={tone(a.verdict as Verdict)}>{word('', a.verdict)}</td><td class="right figures">{of(a.amount_minor)}</td></tr>;
                    })}
                    {awards.length === 0 && <tr><td colSpan={3} class="soft-text">{t('no-money')}</td></tr>}
                </tbody>
                {c.verdict !== null && <tfoot>
                    <tr><th scope="row" colSpan={2}>{t('stands')}</th><td class="right figures">{of(c.amount_minor)}</td></tr>
                    <tr><th scope="row" colSpan={2}>{t('paid-far')}</th><td class="right figures">{of(c.paid_minor)}</td></tr>
                </tfoot>}
            </table>
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

function ReadingRow({ line, b, point }: { line: Line; b: Bulletin | null; point: Point | undefined }): JSX.Element {
    const unit = (r: Reading) => unitOf(r.unit, point), resolution = b?.instruments.find((i) => i.id === point?.instrument)?.resolution;
    const shown = (r: Reading) => amount(r.value_nano, unit(r), instrumentDigits(resolution, unit(r))), last = line.after[line.after.length - 1] ?? line.before[line.before.length - 1]!;
    const isOut = point !== undefined && ((point.low !== null && last.value_nano < point.low.nano) || (point.high !== null && last.value_nano > point.high.nano));
    const all = (list: Reading[]) => list.map((r, i) => <Fragment key={i}>{i > 0 && ' \u2192 '}<span class="nowrap">{shown(r)}</span></Fragment>), name = point === undefined || b === null ? line.point : textIn(b, point.name, 'en');
    return (
        <tr>
            <th scope="row">{name}</th>
            <td class="right figures soft-text">{all(line.before)}</td><td class="right figures"><b>{all(line.after)}</b></td>
            <td class="figures nowrap">{point !== undefined && limits(point.low, point.high, point.nominal.unit)}</td>
            <td class="strip-cell">{point !== undefined && (point.low !== null || point.high !== null) && <Strip low={point.low} high={point.high} nominal={point.nominal} nano={last.value_nano} isOut={isOut} label={`${shown(last)}, ${t(isOut ? 'outside' : 'inside')}`} />}</td>
        </tr>
    );
}

function Readings({ c, b }: Shown): JSX.Element {
    const points = b?.points ?? [];
    return (
        <section><h2>{t('readings')}</h2>
            {b === null && c.readings.length > 0 && <p class="small">{t('no-bulletin')}</p>}
            {c.readings.length === 0 ? <p>{t('no-readings')}</p> : (
                <div class="sheet-box" tabIndex={0} role="group" aria-label={t('readings')}>
                    <table class="sheet readings">
                        <caption class="visually">{t('readings')}</caption>
                        <thead><tr><th scope="col">{t('point')}</th><th scope="col" class="right">{t('before')}</th><th scope="col" class="right">{t('after')}</th><th scope="col" colSpan={2}>{t('limits')}</th></tr></thead>
                        <tbody>{linesOf(c, points).map((l) => <ReadingRow key={`${l.station} ${l.point}`} line={l} b={b} point={points.find((p) => p.id === l.point)} />)}</tbody>
                    </table>
                </div>
            )}
        </section>
    );
}

// ---- photos ----

function Picture({ c, p, title }: { c: Claim; p: Photo; title: string }): JSX.Element {
    const [isBroken, setBroken] = useState(false), found: [string, string][] = [];
    if (p.codes !== null) found.push([t('codes'), p.codes]);
    if (p.exposure !== null) found.push([t('light'), `${Math.round(p.exposure * 100)}\u00a0%`]);
    if (p.sharpness !== null) found.push([t('sharp'), p.sharpness.toFixed(1)]);
    if (p.taken_ms !== null) found.push([t('taken'), moment(p.taken_ms)]);
    return (
        <figure>
            <a href={photoAt(c.claim, p.sha256)} target="_blank" rel="noopener">
                {isBroken ? <span class="no-picture">{t('no-picture')}</span>
                    : <img src={photoAt(c.claim, p.sha256)} alt={title} loading="lazy" width={p.width ?? 640} height={p.height ?? 480} onError={() => setBroken(true)} />}
            </a>
            <figcaption>
                <b>{title}</b>
                {p.fault !== null && <span class="stop-text">{t('fault', { fault: p.fault })}</span>}
                <span class="soft-text">{found.length === 0 ? t('not-judged') : found.map(([k, v]) => `${k} ${v}`).join(' \u00b7 ')}</span>
            </figcaption>
        </figure>
    );
}

function Photos({ c, b }: Shown): JSX.Element {
    const title = (p: Photo) => `${p.proof === null ? p.name : named(b, b?.proof.photos, p.proof)}${p.station === null ? '' : `, ${stationName(b, p.station)}`}`;
    return (
        <section><h2>{t('photos')}</h2>
            {c.photos.length === 0 ? <p>{t('no-photos')}</p> : <div class="photos">{c.photos.map((p) => <Picture key={p.name} c={c} p={p} title={title(p)} />)}</div>}
        </section>
    );
}

// ---- history ----

function History({ c, b }: Shown): JSX.Element {
    const KIND = { ruled: 'ruled', overruled: 'overruled', paid: 'was-paid' } as const;
    const steps: [number | null, ComponentChildren, string][] = [
        [c.opened_ms, `${t('job')} ${t('opened')}`, ''], [c.finished_ms, `${t('job')} ${t('job-finished')}`, ''], [c.taken_ms, `${t('claim')} ${t('came')}`, ''],
        ...c.rulings.map((r): [number, ComponentChildren, string] => [r.at_ms,
            <>{t(KIND[r.kind])}{r.kind !== 'paid' && <>: {word('', r.verdict)}{r.revision !== null && `, ${t('revision', { n: r.revision })}`}</>}{r.person !== null && ` ${t('by', { person: r.person })}`}{r.reason !== null && <>: <q>{r.reason}</q></>}</>,
            money(r.amount_minor, r.currency, digitsOf(b))]),
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
            <p class="read-only small">{t('read-only')} <code>mendwright rule --store FOLDER --claim {c.claim}</code></p>
            <AllFindings {...shown} /><Money {...shown} /><Stations {...shown} /><Readings {...shown} /><Photos {...shown} /><History {...shown} />
        </article>
    );
}
