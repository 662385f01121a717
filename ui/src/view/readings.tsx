// readings: taking the readings of a step, one after the other, each judged as it is typed by the bulletin's limits and rule.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { Conform, NO_HIGH, NO_LOW, Unit, UNITS } from '../core/core';
import { DIM_OF, shownUnit } from '../core/amounts';
import { highOf, instrumentU, isReached, judgePoint, lowOf } from '../bulletin/adapt';
import type { Bulletin, Point } from '../bulletin/types';
import { readingsAt, Taken } from '../job/plan';
import { EVENT_UNITS, Payload } from '../job/events';
import { AmountField, readTyped, useDraft } from './keypad';
import { Act, Figure, ShapeMark, Strip, Title } from './parts';
import { JobFrame, TaskProps } from './job';
import { NotePart, toNano } from './step';
import { percent, Tools, useApp } from './context';

/** A reading as its event holds it: lengths in whole nanometres, all else as a number in the event's own unit of that kind. */
export function readingPayload(tools: Tools, point: Point, nano: bigint, step: string): Payload {
    const dim = DIM_OF[point.nominal.unit], unit = EVENT_UNITS.find((u) => DIM_OF[u] === dim);
    const rest = { ...(point.instrument === '' ? {} : { instrument: point.instrument }), step };
    if (dim === 'length') return { point: point.id, value_nm: Number(nano), ...rest };
    return { point: point.id, value: Number(tools.app.core.show(nano, unit as Unit, null).text), unit: unit!, ...rest };
}

/** An uncertainty, in the unit in which the reading is shown. */
export function uText(tools: Tools, u: number, unit: Unit): string {
    const { app, system } = tools, shownAs = shownUnit(unit, system);
    const text = app.core.show(BigInt(Math.round(u)), shownAs, shownAs === 'in' ? 3 : 2).text.split(' ')[0]!;
    return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
}

export function limitsText(tools: Tools, p: Point): string {
    const { t, figure } = tools, low = lowOf(p), high = highOf(p), unit = p.nominal.unit;
    if (low === NO_LOW) return t('at-most', { high: figure(high, unit) });
    if (high === NO_HIGH) return t('at-least', { low: figure(low, unit) });
    return t('limits', { low: tools.show(low, unit).text, high: figure(high, unit) });
}

/** "1.4 mm over": how far beyond the nearer limit; null when not. */
export function beyondText(tools: Tools, p: Point, reading: bigint): string | null {
    const { t, figure } = tools, low = lowOf(p), high = highOf(p);
    if (high !== NO_HIGH && reading > high) return t('over', { n: figure(reading - high, p.nominal.unit) });
    if (low !== NO_LOW && reading < low) return t('under', { n: figure(low - reading, p.nominal.unit) });
    return null;
}

export function PointStrip({ point, reading, answer, u, after }: { point: Point; reading: bigint | null; answer: { low: bigint; high: bigint; verdict?: never } | Conform | null; u: number; after?: bigint | undefined }): JSX.Element {
    const tools = useApp(), { figure, t } = tools;
    const verdict = answer !== null && 'guarded' in answer ? answer.guarded : null;
    const label = `${limitsText(tools, point)}${reading === null ? '' : `, ${figure(reading, point.nominal.unit)}`}${verdict === null ? '' : `, ${t(verdict)}`}`;
    return <Strip low={lowOf(point)} high={highOf(point)} {...(answer === null ? {} : { guardLow: answer.low, guardHigh: answer.high })} nominal={BigInt(point.nominal.nano)} reading={reading} u={u} after={after} verdict={verdict} label={label} />;
}

interface RowProps { b: Bulletin; point: Point; taken: Taken | undefined; open: boolean; onOpen: () => void; typed: string; onTyped: (text: string) => void; onEnter: () => void }

export function ReadingRow(p: RowProps): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, show, system } = tools, { b, point } = p;
    const unit = shownUnit(point.nominal.unit, system), typed = readTyped(app, t, p.typed, unit).nano;
    const reading = p.open ? typed : p.taken?.nano ?? null, answer = reading === null ? null : judgePoint(app.core, b, point, reading), u = instrumentU(app.core, b, point.instrument);
    const instrument = b.instruments.find((i) => i.id === point.instrument);
    const word = answer === null ? null : answer.guarded === 'inside' ? t('inside') : answer.guarded === 'outside' ? `${t('lead', { name: t('outside') })} ${beyondText(tools, point, reading!) ?? ''}` : t('uncertain');
    return (
        <section data-point={point.id}>
            <div class="row">
                <span><b lang={langOf(b, point.name)}>{say(b, point.name)}</b><br /><small>{limitsText(tools, point)}{instrument !== undefined && <> {'\u00b7'} <span lang={langOf(b, instrument.name)}>{say(b, instrument.name)}</span></>}</small></span>
                {!p.open && p.taken !== undefined && <Figure s={show(p.taken.nano, point.nominal.unit)} u={u > 0 ? uText(tools, u, point.nominal.unit) : undefined} />}
            </div>
            {p.open && Object.keys(point.how).length > 0 && <p class="small" lang={langOf(b, point.how)}>{say(b, point.how)}</p>}
            {reading !== null && <PointStrip point={point} reading={reading} answer={answer} u={u} />}
            {word !== null && (
                <p class={answer!.guarded === 'outside' ? 'stop-text' : ''} data-verdict={answer!.guarded} style={{ display: 'flex', gap: '8px', alignItems: 'center', margin: '4px 0' }}>
                    <span class={answer!.guarded === 'outside' ? 'stop' : ''} style={{ width: '30px', flex: 'none' }}><ShapeMark shape={answer!.guarded} /></span>
                    <span>{word}{u > 0 && <small> {'\u00b7'} {t('p-conform', { p: percent(answer!.p) })}</small>}</span>
                </p>
            )}
            {answer?.guarded === 'outside' && Object.keys(point.otherwise).length > 0 && <p lang={langOf(b, point.otherwise)}><b>{say(b, point.otherwise)}</b></p>}
            {answer?.guarded === 'uncertain' && <p class="small">{t('uncertain-next')}</p>}
            {p.open ? <AmountField id={point.id} label={t('type-reading')} unit={unit} text={p.typed} onText={p.onTyped} onEnter={p.onEnter} open />
                : <button type="button" class="plain-button" data-read={point.id} onClick={p.onOpen}>{p.taken === undefined ? t('type-reading') : t('take-again')}<span class="visually">: {say(b, point.name)}</span></button>}
        </section>
    );
}

/** Points with their readings, the first unread one open; records each as it is taken. Used for plain readings and for truing. */
export function useReadings(open: TaskProps['open'], step: string, points: Point[], since: number, steps: ReadonlySet<string> = new Set([step])): {
    taken: Map<string, Taken>; at: string | null; setAt: (id: string | null) => void; typed: string; setTyped: (text: string) => void; canTake: boolean; take: () => void; left: number;
} {
    const tools = useApp(), { app, t, system } = tools, { job, record } = open;
    const taken = readingsAt(job, steps, since, toNano(tools));
    const [chosen, setChosen] = useState<string | null>(null);
    const unread = points.filter((p) => !taken.has(p.id)), at = chosen ?? unread[0]?.id ?? null;
    const point = points.find((p) => p.id === at);
    const [typed, setTyped] = useDraft(`${record.id}/reading/${step}/${at ?? ''}`);
    const unit: Unit = point === undefined ? UNITS[0] : shownUnit(point.nominal.unit, system);
    const nano = point === undefined ? null : readTyped(app, t, typed, unit).nano;
    const canTake = nano !== null;
    const take = () => {
        if (!canTake || point === undefined) return;
        void app.record(record.id, [{ type: 'reading_taken', station: point.station === '' ? null : point.station, payload: readingPayload(tools, point, nano, step) }]).then((good) => {
            if (!good) return;
            app.dropDrafts(`${record.id}/reading/${step}/${point.id}`);
            setChosen(null);
        });
    };
    return { taken, at, setAt: setChosen, typed, setTyped, canTake, take, left: unread.length };
}

/** The one that is read now first, with its keypad; the others below, in their order. */
export function ReadingList({ b, points, r }: { b: Bulletin; points: Point[]; r: ReturnType<typeof useReadings> }): JSX.Element {
    const now = points.find((p) => p.id === r.at), others = points.filter((p) => p !== now);
    const row = (p: Point) => <ReadingRow key={p.id} b={b} point={p} taken={r.taken.get(p.id)} open={r.at === p.id} onOpen={() => { r.setAt(p.id); scrollTo(0, 0); }} typed={r.at === p.id ? r.typed : ''} onTyped={r.setTyped} onEnter={r.take} />;
    return <>{now !== undefined && <div class="rows">{row(now)}</div>}{others.length > 0 && <div class="rows">{others.map(row)}</div>}</>;
}

export function ReadingsPage({ open, task, points, onDone }: TaskProps & { points: Point[]; onDone: () => void }): JSX.Element {
    const tools = useApp(), { app, t, say } = tools, { bulletin: b, record } = open, step = task.step!;
    const r = useReadings(open, step.id, points, -1);
    // What an adjuster reaches is trued at its own step; being outside here is no reason to stop.
    const bad = points.filter((p) => !isReached(b, p.id) && r.taken.has(p.id) && judgePoint(app.core, b, p, r.taken.get(p.id)!.nano).guarded === 'outside');
    const goOn = async () => {
        const what = bad.map((p) => p.id).join(', ');
        if (bad.length > 0 && !(await app.record(record.id, [{ type: 'note', station: task.station, payload: { text: t('went-outside', { what }) } }]))) return;
        onDone();
    };
    const foot = r.at !== null ? <Act id="take" off={!r.canTake} hint={r.left > 0 ? t('readings-to-go', { n: r.left }) : undefined} onClick={r.take}>{t('take')}</Act>
        : bad.length > 0 ? <><p class="hint">{t('outside-next')}</p><button type="button" class="second" data-act="go-on-outside" onClick={() => void goOn()}>{t('go-on-outside')}</button></>
            : <Act id="readings-done" onClick={() => void goOn()}>{t('go-on')}</Act>;
    return (
        <JobFrame open={open} task={task} title={say(b, step.title)} foot={foot}>
            <Title>{bad.length > 0 && r.at === null ? t('to-go-outside', { what: bad.map((p) => say(b, p.name)).join(', ') }) : r.left > 0 ? t('now-readings') : t('all-read')}</Title>
            <ReadingList b={b} points={points} r={r} />
            <NotePart open={open} station={task.station} />
        </JobFrame>
    );
}
