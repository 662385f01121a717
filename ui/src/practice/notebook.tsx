// notebook: every reading that was taken, against its limits on the Bench's strips; and what truing and timing make of the fresh ones.
import { JSX } from 'preact';
import { useMemo } from 'preact/hooks';
import { ADJUSTERS, adjusters, LIMITS } from '../core/practice';
import { Strip } from '../view/strip';
import { percent } from '../view/context';
import { ShapeMark } from '../view/parts';
import { judge, latest, limitsOf, Reading } from './account';
import type { Key } from './text';
import { PTools, usePractice } from './use';
import { NO_HIGH, NO_LOW } from '../core/core';
import { MODULE } from './gear';

const TITLES: readonly (readonly [string, Key])[] = [['read-gap', 'n-gaps'], ['read-end', 'n-ends'], ['count-teeth', 'n-teeth'], ['meter', 'n-meter'], ['check-tape', 'n-tape']];
const groupOf = (r: Reading): string => (['read-volts', 'read-amps', 'read-time'].includes(r.name) ? 'meter' : r.name);

export function nameOf(tools: PTools, r: Pick<Reading, 'name' | 'side' | 'place' | 'travel'>): string {
    const { p, place, side, figure } = tools;
    switch (r.name) {
        case 'read-gap': return `${place(r.side, r.place)}, ${p(r.travel === 1 ? 'gap-out' : 'gap-in', { n: figure(r.travel === 1 ? 960000000n : 150000000n, 'mm') })}`;
        case 'read-end': case 'count-teeth': return place(r.side, r.place);
        case 'read-volts': return `${p('o-read-volts')}, ${side(r.side)}, ${p(r.travel === 1 ? 'ran-out' : 'ran-in')}`;
        case 'read-amps': case 'read-time': return `${p(r.name === 'read-amps' ? 'o-read-amps' : 'o-read-time')}, ${p(r.travel === 1 ? 'ran-out' : 'ran-in')}`;
        default: return p('o-check-tape');
    }
}

export function limitsText(tools: PTools, r: Pick<Reading, 'name' | 'travel'>): string {
    const l = limitsOf(r), { p, value, bare } = tools;
    if (l === null) return r.name === 'check-tape' ? p('block-is', { n: value('check-tape', 100000000n) }) : r.name === 'count-teeth' ? p('count-is') : '';
    return l.low === NO_LOW ? p('at-most', { n: value(r.name, l.high) }) : p('from-to', { low: bare(r.name, l.low), high: value(r.name, l.high) });
}

function Row({ r, n }: { r: Reading; n: number }): JSX.Element {
    const tools = usePractice(), { p } = tools, l = limitsOf(r), answer = judge(tools.app.core, r), verdict = answer?.guarded ?? null, name = nameOf(tools, r);
    return (
        <div data-reading={r.key} data-stale={r.isStale} data-verdict={verdict ?? ''} class={r.isStale ? 'stale' : ''}>
            <div class="row"><span><b>{name}</b><br /><small>{limitsText(tools, r)}{n > 1 && <> {'\u00b7'} {p('taken-n', { n })}</>}</small></span><span class="figure">{tools.value(r.name, r.nano)} <span class="u">{tools.pm(r)}</span></span></div>
            {l !== null && <Strip low={l.low} high={l.high === NO_HIGH ? NO_HIGH : l.high} guardLow={answer!.low} guardHigh={answer!.high} nominal={l.nominal} reading={r.nano} u={r.u} verdict={r.isStale ? null : verdict} label={`${name}: ${tools.value(r.name, r.nano)}${verdict === null ? '' : `, ${p(`v-${verdict}`)}`}`} />}
            <p class="small">{p('at-minute', { n: Math.round(r.atS / 60) })}{r.isStale ? ` \u00b7 ${p('is-stale')}` : verdict === null ? '' : <> {'\u00b7'} <span class={verdict === 'outside' ? 'stop-text' : ''}>{p(`v-${verdict}`)}</span></>}{r.with === 'steel' ? ` \u00b7 ${p('with-steel')}` : ''}</p>
        </div>
    );
}

/** The two ends of one side against each other, when both are fresh. */
function EndPair({ side, at }: { side: number; at: ReadonlyMap<string, Reading> }): JSX.Element | null {
    const tools = usePractice(), { p } = tools, a = at.get(`read-end/${side}/1/0`), b = at.get(`read-end/${side}/0/0`);
    if (a === undefined || b === undefined || a.isStale || b.isStale) return null;
    const d = a.nano - b.nano, u = Math.sqrt(a.u * a.u + b.u * b.u), answer = tools.app.core.conform(d, u, -LIMITS.end, LIMITS.end, 0.05), word = p(`v-${answer.guarded}`), label = p('ends-apart', { side: tools.side(side) });
    return (
        <div data-pair={side} data-verdict={answer.guarded}>
            <div class="row"><span><b>{label}</b><br /><small>{p('ends-limit', { n: tools.value('read-end', LIMITS.end) })}</small></span><span class="figure">{tools.value('read-end', d)}</span></div>
            <Strip low={-LIMITS.end} high={LIMITS.end} guardLow={answer.low} guardHigh={answer.high} nominal={0n} reading={d} u={u} verdict={answer.guarded} label={`${label}: ${tools.value('read-end', d)}, ${word}`} />
            <p class={answer.guarded === 'outside' ? 'stop-text' : 'small'}>{word}</p>
        </div>
    );
}

export function Notebook({ readings }: { readings: readonly Reading[] }): JSX.Element {
    const { p } = usePractice(), at = latest(readings), counts = new Map<string, number>();
    for (const r of readings) counts.set(r.key, (counts.get(r.key) ?? 0) + 1);
    if (readings.length === 0) return <p>{p('nothing-read')}</p>;
    const rows = [...at.values()].sort((a, b) => a.side - b.side || b.place - a.place || a.travel - b.travel);
    return (
        <div class="notebook">
            {TITLES.map(([group, title]) => {
                const list = rows.filter((r) => groupOf(r) === group);
                return list.length === 0 ? null : (
                    <section key={group}><h2>{p(title)}</h2>
                        <div class="rows">{list.map((r) => <Row key={r.key} r={r} n={counts.get(r.key)!} />)}{group === 'read-end' && [0, 1].map((side) => <EndPair key={`pair${side}`} side={side} at={at} />)}</div>
                    </section>
                );
            })}
        </div>
    );
}

// ---- advice ----

/** For all eight at once: 1 in 100 that one of them is outside in truth (doc/methods.md, practice model). */
const RISK_EACH = 1 - Math.pow(0.99, 1 / 8);

export function Advice({ readings, moved }: { readings: readonly Reading[]; moved: readonly number[] }): JSX.Element {
    const tools = usePractice(), { p, place, side, app } = tools, at = latest(readings), fresh = (key: string) => { const r = at.get(key); return r === undefined || r.isStale ? null : r; };
    const gaps = [0, 1].flatMap((s) => [1, 0].flatMap((k) => [0, 1].map((t) => fresh(`read-gap/${s}/${k}/${t}`)))), left = gaps.filter((g) => g === null).length, movedKey = moved.join();
    const answer = useMemo(() => {
        if (left > 0) return null;
        return app.core.truing(gaps.map((g) => ({ ...LIMITS.gap, reading: g!.nano, u: g!.u })), adjusters(app.core, moved), RISK_EACH, 1);
    }, [left, gaps.map((g) => g?.i).join(), movedKey]);
    const racks = [0, 1].flatMap((s) => {
        const lower = fresh(`read-end/${s}/0/0`), upper = fresh(`read-end/${s}/1/0`);
        if (lower === null || upper === null) return [];
        const t = app.core.timing([lower, upper].map((r) => ({ end: r.nano, min: -3, max: 3, setupS: 720, stepS: 120, u: r.u })), [{ a: 1, b: 0, nominal: 0n, low: -LIMITS.end, high: LIMITS.end }], BigInt(MODULE) * 1000000n, 0.05);
        return [{ s, t }];
    });
    const plan = answer?.plans[0], steps = plan?.steps.flatMap((n, a) => (n === 0 ? [] : [{ n, a }])) ?? [];
    return (
        <div class="advice">
            <h2>{p('advice-racks')}</h2>
            {racks.length === 0 && <p>{p('advice-ends-first')}</p>}
            {racks.map(({ s, t }) => {
                const moves = t.moves.flatMap((n, k) => (n === 0 ? [] : [`${place(s, k)}: ${p(n > 0 ? 'jump-out' : 'jump-in', { n: Math.abs(n) })}`]));
                return <p key={s} data-advice-racks={s} data-verdict={t.verdict}><b>{side(s)}</b>: {t.verdict === 'in step' ? p('t-in-step') : t.verdict === 'uncertain' ? p('t-uncertain') : t.verdict === 'cannot' ? p('t-cannot') : `${p('t-jump')} ${moves.join(', ')}`}</p>;
            })}
            <h2>{p('advice-gaps')}</h2>
            {answer === null ? <p data-left={left}>{p('advice-gaps-first', { n: left })}</p> : (
                <>
                    <div class={`verdict${answer.verdict === 'outside' ? ' stop' : ''}`} data-advice={answer.verdict}><ShapeMark shape={answer.verdict} /><div><p><b>{p(`v-all-${answer.verdict}`)}</b></p></div></div>
                    {answer.verdict !== 'inside' && (steps.length === 0 || plan!.worstViolation > 0n ? <p class="stop-text">{p('advice-cannot')}</p> : (
                        <>
                            <p>{p('advice-do', { n: steps.length, min: Math.round(plan!.costS / 60), p: percent(plan!.p.reduce((x, y) => x * y, 1)) })}</p>
                            <div class="rows">{steps.map(({ n, a }) => { const [name, s, k] = ADJUSTERS[a]!; return <div class="row" key={a} data-move={a} data-steps={n}><b>{name === 'toe' ? side(s) : place(s, k)}</b><b style={{ color: 'var(--act)' }}>{name === 'toe' ? p(n > 0 ? 'toe-more' : 'toe-less', { n: Math.abs(n) }) : p(n > 0 ? 'pack-more' : 'pack-less', { n: Math.abs(n) })}</b></div>; })}</div>
                        </>
                    ))}
                </>
            )}
            <p class="small">{p('advice-note')}</p>
        </div>
    );
}
