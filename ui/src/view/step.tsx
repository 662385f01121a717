// step: one step of the bulletin at one place: first its cautions, then the step with what it computes, then readings, then photos,
// then it is confirmed. Which of these is on the screen follows from what is recorded, so a reload lands where one left.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { Bulletin, Picture, Step } from '../bulletin/types';
import { isReached } from '../bulletin/adapt';
import { isHeld, photoOf, placesOf, pointsOf, readingsAt, truingPoints } from '../job/plan';
import { useOnline } from './banners';
import { CutPart, cutState } from './cut';
import { JobFrame, TaskProps } from './job';
import { useDraft } from './keypad';
import { Act, CautionBox, TickRow, Title } from './parts';
import { PhotoPage } from './photo';
import { ReadingList, ReadingsPage, useReadings } from './readings';
import { TimingPage } from './timing';
import { TruingPage } from './truing';
import { Tools, useApp } from './context';

export type Phase = 'cautions' | 'do' | 'readings' | 'photos';

export const toNano = (tools: Tools) => (value: number, unit: string): bigint => tools.app.core.fromDouble(value, unit as never);

/** Photos of the step that belong here: those a unit only once, at the first station that comes to it. */
export function photosHere({ bulletin: b, job }: TaskProps['open'], step: Step, station: string | null): { id: string; station: string | null; has: boolean }[] {
    return step.photos.map((id) => {
        const at = b.proof.photos.find((p) => p.id === id)?.per === 'unit' ? null : station;
        return { id, station: at, has: photoOf(job, id, at) !== null };
    });
}

export function StepPage(p: TaskProps): JSX.Element {
    const tools = useApp(), { app } = tools, { open, task } = p, { bulletin: b, job, record } = open, step = task.step!, station = task.station;
    const acks = app.acks(record.id), here = `${step.id}/${station ?? ''}`, places = placesOf(b);
    const [again, setAgain] = useState(false);
    const held = isHeld(job, step.id, station) && !again;
    const isRead = step.cautions.length === 0 || acks.has(`read/${here}`);
    if (held) return <Held {...p} onAgain={() => { app.ack(record.id, `done/${here}`, false); app.ack(record.id, `readings/${here}`, false); setAgain(true); }} />;
    if (!isRead) return <Cautions {...p} />;
    const hold = async () => {
        const good = await app.record(record.id, [{ type: 'hold_confirmed', station, payload: { step: step.id } }]);
        if (good) { app.dropDrafts(`${record.id}/step/${here}`); p.onward(); }
    };
    if (places.truing === step.id) return <TruingPage {...p} onDone={() => void hold()} />;
    const photos = photosHere(open, step, station), points = pointsOf(b, step, station);
    const read = readingsAt(job, new Set([step.id]), -1, toNano(tools));
    const isDone = acks.has(`done/${here}`), needsReadings = points.length > 0 && !(points.every((x) => read.has(x.id)) && acks.has(`readings/${here}`));
    const finish = () => {
        if (needsReadings || photos.some((x) => !x.has)) app.ack(record.id, `done/${here}`);
        else void hold();
    };
    if (!isDone && places.timing === step.id && station !== null) return <TimingPage {...p} onDone={finish} />;
    if (!isDone) return <Do {...p} onDone={finish} next={needsReadings ? 'readings' : photos.some((x) => !x.has) ? 'photos' : null} />;
    if (needsReadings) return <ReadingsPage {...p} points={points} onDone={() => { app.ack(record.id, `readings/${here}`); if (photos.every((x) => x.has)) void hold(); }} />;
    return <PhotoPage {...p} photos={photos} onDone={() => void hold()} />;
}

/** What can hurt here, before anything else of the step is shown. */
export function Cautions({ open, task }: TaskProps): JSX.Element {
    const { app, t, say } = useApp(), { bulletin: b, record } = open, step = task.step!, here = `${step.id}/${task.station ?? ''}`;
    const [ticked, setTicked] = useDraft(`${record.id}/cautions/${here}`);
    const on = new Set(ticked.split(',').filter((x) => x !== '')), left = step.cautions.length - on.size;
    const set = (i: number, is: boolean) => { if (is) on.add(String(i)); else on.delete(String(i)); setTicked([...on].join(',')); };
    return (
        <JobFrame open={open} task={task} title={t('before-step', { step: say(b, step.title) })} foot={
            <Act id="read" off={left > 0} hint={left > 0 ? t('read-first', { n: left }) : undefined} onClick={() => { app.ack(record.id, `read/${here}`); app.dropDrafts(`${record.id}/cautions/${here}`); }}>{t('go-on')}</Act>
        }>
            <Title>{t('before-step', { step: say(b, step.title) })}</Title>
            {step.cautions.map((c, i) => (
                <div key={i}>
                    <CautionBox b={b} caution={c} />
                    <TickRow on={on.has(String(i))} onChange={(is) => set(i, is)}>{t('read-it')}<span class="visually">: {t(`h-${c.hazard}`)}</span></TickRow>
                </div>
            ))}
        </JobFrame>
    );
}

/** The step's own words: what, why, with what. */
export function Words({ open, step }: { open: TaskProps['open']; step: Step }): JSX.Element {
    const { t, say, langOf } = useApp(), { bulletin: b } = open;
    const names = (list: string[], items: { id: string; name: Record<string, string> }[]) => list.map((id) => say(b, items.find((i) => i.id === id)?.name ?? {})).join(' \u00b7 ');
    return (
        <>
            <p lang={langOf(b, step.text)}>{say(b, step.text)}</p>
            {Object.keys(step.why).length > 0 && <p lang={langOf(b, step.why)}><b>{t('lead', { name: t('why') })}</b> {say(b, step.why)}</p>}
            {step.protective.length > 0 && <p class="small"><b>{t('lead', { name: t('protective') })}</b> {names(step.protective, b.protective)}</p>}
            {step.tools.length > 0 && <p class="small"><b>{t('lead', { name: t('tools') })}</b> {names(step.tools, b.tools)}</p>}
        </>
    );
}

/** The step's picture out of the phone's own store, inside <img>, where nothing of an SVG can run; what it shows in words while it is not here. */
function StepPicture({ b, picture }: { b: Bulletin; picture: Picture }): JSX.Element {
    const { app, t, say, langOf } = useApp(), [url, setUrl] = useState<string | null>(null), alt = say(b, picture.alt), online = useOnline();
    const look = app.pictures; // changes when one has come
    useEffect(() => {
        let isOver = false, made = '';
        void app.db.picture(b.sha256, picture.file).then((p) => {
            if (p === null || isOver) return;
            made = URL.createObjectURL(new Blob([p.bytes], { type: p.type }));
            setUrl(made);
        });
        return () => { isOver = true; if (made !== '') URL.revokeObjectURL(made); };
    }, [b.sha256, picture.file, look]);
    return url !== null ? <img class="photo-now" src={url} alt={alt} lang={langOf(b, picture.alt)} /> : (
        <div class="picture-missing" data-picture="missing"><p lang={langOf(b, picture.alt)}>{alt}</p><p class="small">{t(online ? 'picture-comes' : 'picture-missing')}</p></div>
    );
}

interface DoProps extends TaskProps { onDone: () => void; next: 'readings' | 'photos' | null }

function Do({ open, task, onDone, next }: DoProps): JSX.Element {
    const tools = useApp(), { app, t, say, langOf } = tools, { bulletin: b, record } = open, step = task.step!, here = `${step.id}/${task.station ?? ''}`;
    const [looked, setLooked] = useDraft(`${record.id}/step/${here}/looked`), [judged, setJudged] = useDraft(`${record.id}/step/${here}/judged`);
    const isLooked = new Set(looked.split(',').filter((x) => x !== ''));
    const verdicts = new Map(judged.split(',').filter((x) => x !== '').map((x) => x.split('=') as [string, string]));
    const setOf = (set: Set<string>, key: string, is: boolean) => { if (is) set.add(key); else set.delete(key); setLooked([...set].join(',')); };
    const judge = (part: string, v: string) => { verdicts.set(part, v); setJudged([...verdicts].map(([k, x]) => `${k}=${x}`).join(',')); };
    const toLook = step.check_first.length - isLooked.size, toJudge = step.inspections.filter((i) => !verdicts.has(i.part)).length;
    const isCut = placesOf(b).cut === step.id && task.station !== null, cut = isCut ? cutState(tools, open, task.station!) : null, toCut = cut?.toCut ?? 0;
    const hint = toLook > 0 ? t('look-to-go', { n: toLook }) : toJudge > 0 ? t('inspect-to-go', { n: toJudge }) : toCut > 0 ? t('cut-to-go', { n: toCut }) : undefined;
    const done = async () => {
        const bad = step.inspections.filter((i) => verdicts.get(i.part) === 'bad').map((i) => say(b, b.parts.find((x) => x.id === i.part)?.name ?? {}));
        if (bad.length > 0 && !(await app.record(record.id, [{ type: 'note', station: task.station, payload: { text: t('inspect-noted', { part: bad.join(', ') }) } }]))) return;
        onDone();
    };
    // A step before truing that holds for nothing may still be where the gaps are read as they are.
    const truing = placesOf(b).truing, isLookAtGaps = step.hold === 'none' && step.per === 'unit' && truing !== null && b.steps.indexOf(step) < b.steps.findIndex((s) => s.id === truing);
    const blocked = hint !== undefined || (isCut && cut!.blocked);
    return (
        <JobFrame open={open} task={task} title={say(b, step.title)} foot={
            <Act id="do" off={blocked} hint={hint} onClick={() => void done()}>{next === 'readings' ? t('now-readings') : next === 'photos' ? t('now-photos') : t('confirm')}</Act>
        }>
            <Title><span lang={langOf(b, step.title)}>{say(b, step.title)}</span></Title>
            <Words open={open} step={step} />
            {step.picture !== null && <StepPicture key={step.id} b={b} picture={step.picture} />}
            {step.check_first.length > 0 && (
                <><h2>{t('look-first')}</h2><div class="rows">{step.check_first.map((c, i) => <div key={i} style={{ padding: 0 }}><TickRow lang={langOf(b, c)} on={isLooked.has(String(i))} onChange={(is) => setOf(isLooked, String(i), is)}>{say(b, c)}</TickRow></div>)}</div></>
            )}
            {step.inspections.map((i) => (
                <section key={i.part}>
                    <h2>{t('lead', { name: t('inspect') })} {say(b, b.parts.find((x) => x.id === i.part)?.name ?? {})}</h2>
                    <p lang={langOf(b, i.criterion)}>{say(b, i.criterion)}</p>
                    <div class="choices">
                        <button type="button" aria-pressed={verdicts.get(i.part) === 'good'} onClick={() => judge(i.part, 'good')}>{t('inspect-good')}</button>
                        <button type="button" aria-pressed={verdicts.get(i.part) === 'bad'} onClick={() => judge(i.part, 'bad')}>{t('inspect-bad')}</button>
                    </div>
                    {verdicts.get(i.part) === 'bad' && <p class="stop-text" lang={langOf(b, i.otherwise)}>{say(b, i.otherwise)}</p>}
                </section>
            ))}
            {isCut && <CutPart open={open} station={task.station!} />}
            {isLookAtGaps && <OptionalReadings open={open} step={step} />}
            <NotePart open={open} station={task.station} />
        </JobFrame>
    );
}

/** Readings that nobody asks for but that show how it was. */
function OptionalReadings({ open, step }: { open: TaskProps['open']; step: Step }): JSX.Element {
    const { t } = useApp(), b = open.bulletin, points = truingPoints(b, b.steps.find((s) => s.id === placesOf(b).truing)!).filter((p) => isReached(b, p.id));
    const r = useReadings(open, step.id, points, -1);
    return (
        <details>
            <summary>{t('readings-as-is')}</summary>
            <ReadingList b={b} points={points} r={r} />
            <button type="button" class="second" data-act="take-as-is" disabled={!r.canTake} onClick={r.take}>{t('take')}</button>
        </details>
    );
}

export function NotePart({ open, station }: { open: TaskProps['open']; station: string | null }): JSX.Element {
    const { app, t } = useApp(), { record } = open;
    const [text, setText] = useDraft(`${record.id}/note/${station ?? ''}`);
    const [kept, setKept] = useState(false);
    const keep = async () => {
        if (!(await app.record(record.id, [{ type: 'note', station, payload: { text: text.trim() } }]))) return;
        setText('');
        setKept(true);
    };
    return (
        <details>
            <summary>{t('note')}</summary>
            <label class="field"><span>{t('note-text')}</span><textarea maxLength={2000} value={text} onInput={(e) => { setText(e.currentTarget.value); setKept(false); }} /></label>
            <button type="button" class="second" disabled={text.trim() === ''} onClick={() => void keep()}>{t('save')}</button>
            <p class="say" role="status">{kept ? t('note-kept') : ''}</p>
        </details>
    );
}

/** A step that is confirmed: what was done, and the way to open it again. */
function Held({ open, task, onward, onAgain }: TaskProps & { onAgain: () => void }): JSX.Element {
    const { t, say, langOf } = useApp(), { bulletin: b, job } = open, step = task.step!;
    const at = (task.station === null ? job.unit : job.stations.find((s) => s.id === task.station))?.holds.find((h) => h.key === step.id)?.at_ms ?? 0;
    return (
        <JobFrame open={open} task={task} title={say(b, step.title)} foot={<><Act id="onward" onClick={onward}>{t('go-on')}</Act><button type="button" class="second" onClick={onAgain}>{t('do-again')}</button></>}>
            <Title><span lang={langOf(b, step.title)}>{say(b, step.title)}</span></Title>
            <p><b>{t('held', { time: new Date(at).toLocaleString() })}</b></p>
            <Words open={open} step={step} />
        </JobFrame>
    );
}
