// truing: read every gap, see what is outside and where, move what the plan says, read again, until all are inside. The opening is
// drawn as seen from outside with each reading at its corner, and the plan where the packing goes.
import { JSX } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import { dimOf, isReached, judgeReadings, TruingProblem } from '../bulletin/adapt';
import type { Adjuster } from '../bulletin/types';
import { lastMove, truingPoints, truingSteps } from '../job/plan';
import type { Key } from '../text';
import { Strips, TruingDrawing, hasPlaces } from './truingdraw';
import { Act, CautionBox, Shape, Title, VerdictLine } from './parts';
import { JobFrame, TaskProps } from './job';
import { ReadingList, ReadingRow, useReadings } from './readings';
import { NotePart, Words } from './step';
import { percent, Tools, useApp } from './context';

export const minutes = (s: number): number => Math.round(s / 60);
const product = (list: number[]): number => list.reduce((a, b) => a * b, 1);

/** "add 3 × 0.5 mm": how an adjuster is moved. */
export function moveText({ t, figure }: Tools, a: Adjuster, steps: number): string {
    return `${t(steps > 0 ? 'steps-add' : 'steps-less', { n: Math.abs(steps) })} \u00d7 ${figure(BigInt(a.step.nano), a.step.unit, 2)}`;
}

/** What the bulletin's "how" says of one step, and the plan's line for it. */
function PlanRows({ open, problem, plan }: { open: TaskProps['open']; problem: TruingProblem; plan: number }): JSX.Element {
    const tools = useApp(), { say, langOf } = tools, b = open.bulletin, steps = problem.answer.plans[plan]!.steps;
    return (
        <div class="rows" data-plan={plan}>
            {problem.adjusters.map((a, i) => steps[i] === 0 ? null : (
                <div key={a.id} data-move={a.id} data-steps={steps[i]}>
                    <div class="row"><b lang={langOf(b, a.name)}>{say(b, a.name)}</b><b style={{ color: 'var(--act)', whiteSpace: 'nowrap' }}>{moveText(tools, a, steps[i]!)}</b></div>
                    {Object.keys(a.how).length > 0 && <small lang={langOf(b, a.how)}>{say(b, a.how)}</small>}
                </div>
            ))}
        </div>
    );
}

function verdictOf({ t, figure }: Tools, p: TruingProblem, plan: number): { shape: Shape; word: string; lines: string[] } {
    const a = p.answer, outside = a.points.filter((x) => x.verdict === 'outside').length, best = a.plans[plan];
    const moved = best?.steps.filter((s) => s !== 0).length ?? 0;
    if (a.verdict === 'inside') return { shape: 'inside', word: t('true-inside'), lines: [t('true-nothing'), t('true-p-now', { p: percent(product(a.points.map((x) => x.p))) })] };
    const word = outside === 0 ? t('true-uncertain') : outside === 1 ? t('true-outside-1') : t('true-outside', { n: outside });
    const shape: Shape = outside > 0 ? 'outside' : 'uncertain';
    if (best === undefined || moved === 0) return { shape, word, lines: [t('true-cannot')] };
    const min = minutes(best.costS), doIt = moved === 1 ? t('true-do-1', { min }) : t('true-do', { n: moved, min });
    const then = best.worstViolation > 0n ? t('true-then-not', { n: figure(best.worstViolation, p.points[0]!.nominal.unit) }) : t('true-then', { p: percent(product(best.p)) });
    return { shape, word, lines: [best.worstViolation > 0n ? t('true-cannot') : doIt, then, ...(outside === 0 ? [t('true-uncertain-next')] : [])] };
}

export function TruingPage({ open, task, onDone }: TaskProps & { onDone: () => void }): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, figure } = tools, { bulletin: b, job, record } = open, step = task.step!;
    const moved = lastMove(job), all = truingPoints(b, step), points = all.filter((p) => isReached(b, p.id)), rest = all.filter((p) => !isReached(b, p.id));
    const rounds = job.order.filter((o, i) => o.event.type === 'moved' && o.event.payload['target'] === 'adjuster' && (i === 0 || job.order[i - 1]!.event.type !== 'moved')).length;
    const r = useReadings(open, step.id, [...points, ...rest], moved, truingSteps(b, step)), [plan, setPlan] = useState(0);
    const read = new Map([...r.taken].map(([id, x]) => [id, x.nano]));
    const isAll = points.every((p) => read.has(p.id)), used = [...read].filter(([id]) => all.some((p) => p.id === id));
    // Solved once for one set of readings; how long it took is left where the browser's tools and test/browser/speed.ts find it.
    const whole = useMemo(() => {
        if (!isAll || r.at !== null) return null;
        const start = performance.now(), answer = judgeReadings(app.core, b, new Map(used));
        performance.measure('truing', { start });
        return answer;
    }, [isAll && r.at === null, used.map(([id, n]) => `${id}=${n}`).join()]);
    const problem = whole?.problems.find((p) => dimOf(p.points[0]!) === dimOf(points[0]!)) ?? null;
    if (whole === null || problem === null) {
        return (
            <JobFrame open={open} task={task} title={say(b, step.title)} foot={<Act id="take" off={!r.canTake} hint={t('readings-to-go', { n: r.left })} onClick={r.take}>{t('take')}</Act>}>
                <Title>{rounds > 0 ? `${t('true-to-read')}. ${t('true-round', { n: rounds + 1 })}` : t('true-to-read')}</Title>
                {rounds > 0 && <p>{t('true-after-move')}</p>}
                <ReadingList b={b} points={[...points, ...rest]} r={r} />
                <details><summary>{t('the-step')}</summary><Words open={open} step={step} /></details>
                <NotePart open={open} station={null} />
            </JobFrame>
        );
    }
    const says = verdictOf(tools, problem, plan), best = problem.answer.plans[plan], isInside = problem.answer.verdict === 'inside';
    const moves = best === undefined ? [] : problem.adjusters.map((a, i) => ({ a, steps: best.steps[i]! })).filter((m) => m.steps !== 0);
    const doMoves = async () => {
        const good = await app.record(record.id, moves.map(({ a, steps }) => ({
            type: 'moved' as const, station: a.station !== '' ? a.station : b.scope.stations[0]!.id, payload: { target: 'adjuster', name: a.id, steps },
        })));
        if (good) setPlan(0);
    };
    const lifting = step.cautions.find((c) => c.hazard === 'lifting') ?? step.cautions[0];
    const patterns = problem.effects.filter((e) => e.effect.isSignificant).slice(0, 3);
    const patternKey = (names: string[]): Key | null => { const k = `m-${['side', 'height', 'travel'].filter((n) => names.includes(n)).join('+')}`; return names.every((n) => ['side', 'height', 'travel'].includes(n)) ? k as Key : null; };
    const foot = isInside ? <Act id="true-done" onClick={onDone}>{t('true-finish')}</Act>
        : moves.length > 0 ? <Act id="moved" onClick={() => void doMoves()}>{t('true-moved')}</Act> : <p class="hint stop-text">{t('ask-maker')}</p>;
    return (
        <JobFrame open={open} task={task} title={says.word} foot={foot}>
            <VerdictLine key={says.word + rounds} shape={says.shape} word={says.word}>{says.lines.map((l) => <p key={l}>{l}</p>)}</VerdictLine>
            {hasPlaces(problem) && <TruingDrawing open={open} problem={problem} plan={isInside ? null : plan} />}
            {!isInside && moves.length > 0 && (lifting !== undefined ? <CautionBox b={b} caution={lifting} /> : <p class="stop-text">{t('true-support')}</p>)}
            {!isInside && moves.length > 0 && <PlanRows open={open} problem={problem} plan={plan} />}
            <Strips open={open} problem={problem} plan={isInside ? null : plan} />
            {!isInside && problem.answer.plans.length > 1 && (
                <details><summary>{t('other-ways', { n: problem.answer.plans.length - 1 })}</summary>
                    {problem.answer.plans.map((other, k) => k === plan ? null : (
                        <section key={k}><h3>{t('minutes-about', { n: minutes(other.costS) })}, {other.worstViolation > 0n ? t('true-then-not', { n: figure(other.worstViolation, points[0]!.nominal.unit) }) : t('true-then', { p: percent(product(other.p)) })}</h3>
                            <PlanRows open={open} problem={problem} plan={k} />
                            <button type="button" class="second" data-use={k} onClick={() => setPlan(k)}>{t('use-this')}</button></section>
                    ))}
                </details>
            )}
            {patterns.length > 0 && !isInside && (
                <><h2>{t('pattern')}</h2><ul>{patterns.map((e) => { const k = patternKey(e.names); return <li key={e.effect.set}>{k === null ? e.names.join(' \u00d7 ') : t(k)} ({figure(e.effect.value, points[0]!.nominal.unit)})</li>; })}</ul></>
            )}
            <details><summary>{t('all-read')}</summary>
                <div class="rows">{[...points, ...rest].map((p) => <ReadingRow key={p.id} b={b} point={p} taken={r.taken.get(p.id)} open={false} onOpen={() => r.setAt(p.id)} typed="" onTyped={() => undefined} onEnter={() => undefined} />)}</div>
            </details>
            <p class="small" lang={langOf(b, step.text)}>{say(b, step.text)}</p>
            <NotePart open={open} station={null} />
        </JobFrame>
    );
}
