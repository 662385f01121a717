// debrief: what was asked, what is there, what was true and drawn as it was, what would have told it, what was skipped, minutes and moves against the best
// plan, and the time line. Everything is worked out by replaying the game (account.ts).
import { JSX } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { INSIDE, LIMITS, play, Scene, TRAVEL_NM } from '../core/practice';
import { Act, Frame, Title, VerdictLine } from '../view/parts';
import { Strip } from '../view/strip';
import { go } from '../view/context';
import { Best, bestPlan, readingsOf, skippedOf, timeline, Told, whatTold } from './account';
import { opWords } from './describe';
import { FREE, GameRecord, outcomeOf, ResultRecord, textIn } from './game';
import { nameOf } from './notebook';
import { ExerciseProps, titleOf } from './play';
import { pose, TRACK_MM } from './motion';
import { Detail, Drawn, Elevation, Plan } from './scene';
import type { Key } from './text';
import { PTools, usePractice, useSchool } from './use';

export function Questions({ game, set, exercise }: ExerciseProps & { game: GameRecord }): JSX.Element {
    const tools = usePractice(), school = useSchool(), { p, language } = tools, asked = exercise?.questions ?? [], left = asked.filter((q) => game.answers[q.id] === undefined).length, own = set?.language;
    return (
        <Frame title={p('questions')} back="practice" kind="practice narrow" where={<b>{titleOf(tools, { set, exercise })}</b>} invented foot={<Act id="answered" off={left > 0} hint={left > 0 ? p('to-answer', { n: left }) : undefined} onClick={() => void school.record(game)}>{p('to-debrief')}</Act>}>
            <Title>{p('questions')}</Title>
            <p>{p('questions-why')}</p>
            {asked.map((q) => (
                <fieldset key={q.id} class="question"><legend>{textIn(q.text, language, own)}</legend>
                    <div class="answers">{q.choices.map((c) => <button type="button" key={c.id} class="second" data-question={q.id} data-choice={c.id} aria-pressed={game.answers[q.id] === c.id} onClick={() => void school.answer(game, q.id, c.id)}>{textIn(c.text, language, own)}</button>)}</div>
                </fieldset>
            ))}
            {school.trouble !== '' && <p class="stop-text" role="alert">{p('not-kept')} {school.trouble}</p>}
        </Frame>
    );
}

const MIN_YAW_MM = 1; // a metre, from which the plan is drawn, too

/** The unit as it was found, drawn at the outer stop: only its geometry. */
function Truth({ found }: { found: ReturnType<typeof play> }): JSX.Element {
    const { p } = usePractice(), gaps = found.score.gaps.map((g) => (Number(g) - 58e6) / 1e6), mean = (i: number) => (gaps[2 * i]! + gaps[2 * i + 1]!) / 2, off = [0, 1, 2, 3].map(mean), root = useRef<HTMLDivElement>(null);
    // How far the room swings to fore a metre of travel, from the gaps between the two extensions.
    const swing = (i: number) => gaps[2 * i]! - gaps[2 * i + 1]!, yaw = (swing(0) + swing(1) - swing(2) - swing(3)) / 4 / 0.81, tilt = Math.max(1, Math.min(30, Math.floor(100 / Math.max(Math.abs(yaw), 0.001))));
    const worst = Math.max(...off.map(Math.abs), 0.001), times = Math.max(1, Math.min(30, Math.floor(60 / worst))), isOff = worst > 0.3, isTurned = Math.abs(yaw) > MIN_YAW_MM;
    const scene: Scene = { ...found.scene, isSupported: false }, drawn: Drawn = { scene, moved: [0, 0, 0, 0, 0, 0], held: null, readings: new Map(), truth: { off, times } };
    const odd = [[0, 1], [0, 0], [1, 1], [1, 0]].filter(([s, k]) => { const r = scene.racks[2 * s! + k!]!; return r.teeth !== 0 || r.off > 400000n || r.off < -400000n || r.depth < 3400000n; });
    // Turned about its middle, a side ahead by slope x track; the drawing's plan turns by what the sides are apart.
    useLayoutEffect(() => pose(root.current, [TRAVEL_NM / 1e9, TRAVEL_NM / 1e9], (yaw / 1000) * TRACK_MM * tilt));
    return (
        <div class="truth" ref={root}>
            {isOff && <div><Elevation {...drawn} /><p class="small">{p('truth-drawn', { n: times })}</p></div>}
            {isTurned && <div><Plan {...drawn} /><p class="small">{p('truth-turned', { n: tilt })}</p></div>}
            {odd.length > 0 && <div class="v-racks">{odd.map(([s, k]) => <Detail key={`${s}${k}`} side={s!} place={k!} d={drawn} />)}</div>}
        </div>
    );
}

function Inside({ gaps, inside }: { gaps: readonly bigint[]; inside: number }): JSX.Element {
    const tools = usePractice(), { p, value, side } = tools, rest: [string, boolean][] = [[p('ends-of', { side: side(0) }), (inside & INSIDE.fore) !== 0], [p('ends-of', { side: side(1) }), (inside & INSIDE.aft) !== 0], [p('o-read-volts'), (inside & INSIDE.volts) !== 0], [p('o-read-amps'), (inside & INSIDE.amps) !== 0], [p('o-read-time'), (inside & INSIDE.time) !== 0], [p('keys'), (inside & INSIDE.keys) !== 0]];
    return (
        <div class="rows inside-rows">
            {gaps.map((g, i) => {
                const r = { name: 'read-gap' as const, side: i >> 2, place: (i >> 1) & 1 ? 0 : 1, travel: i & 1 }, isIn = (inside >> i) & 1, name = nameOf(tools, r);
                return <div key={i} data-true={i} data-inside={isIn}><div class="row"><span>{name}</span><b class={isIn ? '' : 'stop-text'}>{value('read-gap', g)}</b></div>
                    <Strip low={LIMITS.gap.low} high={LIMITS.gap.high} nominal={LIMITS.gap.nominal} reading={g} u={0} verdict={isIn ? 'inside' : 'outside'} label={`${name}: ${value('read-gap', g)}, ${p(isIn ? 'v-inside' : 'v-outside')}`} /></div>;
            })}
            {rest.map(([name, is]) => <div class="row" key={name}><span>{name}</span><b class={is ? '' : 'stop-text'}>{p(is ? 'v-inside' : 'v-outside')}</b></div>)}
        </div>
    );
}

function WhatTold({ told, tools }: { told: Told; tools: PTools }): JSX.Element {
    const { p, clock } = tools, first = told.sights[0];
    return (
        <li data-told={told.fault.fault}>
            <p><b>{tools.fault(told.fault)}</b></p>
            {first === undefined ? <p>{p('told-nothing')}</p> : <p>{p('told-best', { what: `${p(`o-${first.name}` as Key)}: ${nameOf(tools, first)}`, when: clock(first.seconds) })}{told.sights.length > 1 && <> {p('told-also', { what: [...new Set(told.sights.slice(1).map((s) => p(`o-${s.name}` as Key)))].filter((x) => x !== p(`o-${first.name}` as Key)).join(', ') || p('told-same') })}</>}</p>}
            {first !== undefined && <p>{told.first === null ? p('told-never') : told.firstS <= first.seconds + 60 ? p('told-soon', { when: clock(told.firstS) }) : p('told-late', { when: clock(told.firstS), n: Math.round((told.firstS - first.seconds) / 60) })}</p>}
        </li>
    );
}

function saveFile(name: string, text: string): void {
    const a = document.createElement('a'), url = URL.createObjectURL(new Blob([text], { type: 'application/json' }));
    a.href = url;
    a.download = name;
    a.click();
    setTimeout(() => URL.revokeObjectURL(url), 1000);
}
export const saveResults = (list: readonly ResultRecord[]): void => saveFile('mendwright-practice.json', JSON.stringify(list.map((r) => r.result), null, 1) + '\n');

export function Debrief({ game, set, exercise }: ExerciseProps & { game: GameRecord }): JSX.Element {
    const tools = usePractice(), school = useSchool(), { p, clock, language, app } = tools, core = app.core, own = set?.language;
    const d = useMemo(() => {
        const played = play(core, game.unit, game.ops);
        return { played, found: play(core, game.unit, []), lines: timeline(game.ops, played.results), readings: readingsOf(core, game.unit, game.ops, played.results), outcome: outcomeOf(exercise, game, played) };
    }, [game, exercise]);
    // What takes longer comes a moment later, so that the verdict is not kept waiting.
    const [late, setLate] = useState<{ best: Best | null; told: Told[] } | null>(null);
    useEffect(() => { const timer = setTimeout(() => setLate({ best: bestPlan(core, game.unit), told: whatTold(core, game.unit, game.ops, d.played) }), 30); return () => clearTimeout(timer); }, [game]);
    useEffect(() => { void school.record(game); }, []);
    const { score } = d.played, { outcome } = d, skipped = skippedOf(d.lines), record = school.results.find((r) => r.id === `${game.key}@${game.began}`), isInside = score.isInside, faults = game.unit.faults;
    const others = set?.exercises ?? [], following = others[others.findIndex((e) => e.id === game.exercise) + 1], readingAt = new Map(d.readings.map((r) => [r.i, r]));
    const again = () => void school.drop(game.key);
    return (
        <Frame title={p('debrief')} back="practice" kind="practice" where={<b>{titleOf(tools, { set, exercise })}</b>} invented foot={
            <div class="pair"><button type="button" class="second" data-act="again" onClick={again}>{p('do-again')}</button>{following !== undefined ? <Act id="next" onClick={() => go(`practice/${game.set}/${following.id}`)}>{p('next-exercise')}</Act> : <Act id="to-list" onClick={() => go('practice')}>{p('to-list')}</Act>}</div>
        }>
            <div class="debrief" data-good={outcome.isGood} data-inside={isInside}>
                <VerdictLine shape={outcome.isGood ? 'inside' : 'outside'} word={p(outcome.isGood ? 'b-good' : isInside ? 'b-inside-not' : 'b-not')}>
                    <p>{p(score.moves === 1 ? 'b-took-1' : 'b-took', { min: Math.round(score.seconds / 60), moves: score.moves, readings: score.readings })}{game.hints > 0 && ` ${p('b-hints', { n: game.hints })}`}</p>
                    {outcome.isInTime === false && <p class="stop-text">{p('b-late', { n: exercise!.limits!.minutes })}</p>}{outcome.isInMoves === false && <p class="stop-text">{p('b-many', { n: exercise!.limits!.moves })}</p>}
                </VerdictLine>
                <div class="columns">
                <ul class="goals plain">{outcome.goals.map((g) => <li key={g.goal} data-goal={g.goal} data-met={g.isMet}><b class={g.isMet ? '' : 'stop-text'}>{p(g.isMet ? 'met' : 'not-met')}</b> {p(`goal-${g.goal}` as Key)}</li>)}
                    {(exercise?.questions ?? []).map((q) => { const right = q.choices.find((c) => c.right), mine = q.choices.find((c) => c.id === game.answers[q.id]), isRight = mine?.right === true; return (
                        <li key={q.id} data-answer={q.id} data-right={isRight}><b class={isRight ? '' : 'stop-text'}>{p(isRight ? 'met' : 'not-met')}</b> {textIn(q.text, language, own)} {mine === undefined ? '' : textIn(mine.text, language, own)}{!isRight && right !== undefined && <> {'\u2192'} {textIn(right.text, language, own)}</>}</li>
                    ); })}
                </ul>
                <section><h2>{p('was-true')}</h2>
                    {faults.length > 0 ? <ul data-faults>{faults.map((f, i) => <li key={i}>{tools.fault(f)}</li>)}</ul> : <p>{p('was-drawn', { seed: game.unit.seed, spread: game.unit.spread ?? 0 })}</p>}
                    <Truth found={d.found} />
                </section>
                </div>
                <div class="columns">
                    <section><h2>{p('stands-now')}</h2><Inside gaps={score.gaps} inside={score.inside} /></section>
                    <div>
                        <section><h2>{p('against-best')}</h2>
                            {late === null ? <p>{p('working-out')}</p> : late.best === null || !late.best.isInside ? <p>{p(exercise?.goal.includes('cannot') ? 'best-none' : 'best-unknown')}</p> : (
                                <>
                                    <div class="rows" data-best={late.best.moves}><div class="row"><span>{p('yours')}</span><b>{clock(score.seconds)}, {p(score.moves === 1 ? 'moves-1' : 'moves', { n: score.moves })}</b></div><div class="row"><span>{p('best')}</span><b>{clock(late.best.seconds)}, {p(late.best.moves === 1 ? 'moves-1' : 'moves', { n: late.best.moves })}</b></div></div>
                                    <details><summary>{p('best-how')}</summary><ol>{late.best.ops.map((op, i) => <li key={i}>{opWords(tools, op)}</li>)}</ol></details>
                                    <p class="small">{p('best-note')}</p>
                                </>
                            )}
                        </section>
                        {faults.length > 0 && <section><h2>{p('told-title')}</h2>{late === null ? <p>{p('working-out')}</p> : <ul class="told-list">{late.told.map((told, i) => <WhatTold key={i} told={told} tools={tools} />)}</ul>}<p class="small">{p('told-note')}</p></section>}
                        <section><h2>{p('skipped-title')}</h2>
                            {skipped.length === 0 ? <p>{p('skipped-none')}</p> : <ul data-skips={skipped.length}>{skipped.map((s) => <li key={s.i} class="stop-text">{p('at-minute', { n: Math.round(s.atS / 60) })}, {p(`o-${s.name}` as Key)}: {s.cautions.map((c) => p(`c-${c}` as Key)).join(' ')}</li>)}</ul>}
                        </section>
                    </div>
                </div>
                <details><summary>{p('time-line')}</summary>
                    <ol class="time-line">{d.lines.map((l) => { const r = readingAt.get(l.i); return <li key={l.i} class={l.result.cautions.length > 0 ? 'stop-text' : ''}><span class="when">{clock(l.fromS)}</span> {opWords(tools, l.op)}{r !== undefined && <b> {tools.value(r.name, r.nano)}</b>}{l.result.cautions.map((c) => ` ${p(`c-${c}` as Key)}`)}</li>; })}</ol>
                </details>
                <section><h2>{p('the-result')}</h2>
                    <p data-result={record?.state ?? ''}>{record === undefined ? '' : p(`s-${record.state}`, { detail: record.detail })}</p>
                    {record !== undefined && game.set !== FREE && <button type="button" class="second" data-act="save-result" onClick={() => saveResults([record])}>{p('save-result')}</button>}
                    <p class="small"><b>{p('no-substitute')}</b></p>
                </section>
            </div>
        </Frame>
    );
}
