// play: an exercise before it begins, and the unit being worked on: the drawing, what was just done, the tools, the notebook, the advice. What is on the
// screen follows from the list of operations that is kept, so a reload or a killed browser lands where one left.
import { JSX } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { ADJUSTERS, Op, opName, trace } from '../core/practice';
import { Act, Frame, Title } from '../view/parts';
import { latest, readingsOf, tapeAt } from './account';
import { lastWords, sceneWords } from './describe';
import { Exercise, ExerciseSet, GameRecord, textIn } from './game';
import { Playing, playRun, pose } from './motion';
import { Advice, Notebook } from './notebook';
import { Detail, Drawn, Elevation, Held, Plan } from './scene';
import type { Key } from './text';
import { ToolBox } from './tools';
import { PTools, usePractice, useSchool } from './use';

export interface ExerciseProps { set: ExerciseSet | null; exercise: Exercise | null }
/** The exercise's title, in the reader's language. */
export const titleOf = (tools: PTools, { set, exercise }: ExerciseProps): string => (exercise === null ? tools.p('free-unit') : textIn(exercise.title, tools.language, set?.language));

export function Intro({ name, id, set, exercise }: ExerciseProps & { name: string; id: string }): JSX.Element {
    const tools = usePractice(), school = useSchool(), { p, language } = tools, title = titleOf(tools, { set, exercise }), isExam = set?.isExam ?? false, cannot = exercise !== null && exercise.unit === null;
    return (
        <Frame title={title} back="practice" where={<b>{p('practice')}</b>} invented foot={cannot && school.session?.csrf === undefined ? undefined : (
            <>
                {school.trouble !== '' && <p class="hint stop-text" role="alert">{p('not-kept')} {school.trouble}</p>}
                <Act id={isExam ? 'begin-exam' : 'begin'} onClick={() => void (isExam ? school.beginExam(name, id) : school.begin(name, id, 'practice'))}>{p(isExam ? 'begin-exam' : 'begin')}</Act>
                {!isExam && exercise !== null && <button type="button" class="second" data-act="begin-exam" onClick={() => void school.begin(name, id, 'exam')}>{p('begin-exam')}</button>}
            </>
        )}>
            <Title>{title}</Title>
            {exercise !== null && <p class="small">{p(`level-${exercise.level}`)}{exercise.limits !== null && <> {'\u00b7'} {p('within', { min: exercise.limits.minutes, moves: exercise.limits.moves, n: exercise.limits.moves })}</>}</p>}
            {exercise !== null ? <blockquote class="told">{textIn(exercise.told, language, set?.language)}</blockquote> : <p>{p('free-about')}</p>}
            <p>{p('intro')}</p>
            <p class="small">{p('intro-exam')}</p>
            <p class="small"><b>{p('no-substitute')}</b></p>
            {cannot && school.session?.csrf === undefined && <p class="stop-text">{p('exam-closed')}</p>}
        </Frame>
    );
}

type Tab = 'tools' | 'notebook' | 'advice' | 'task';
type View = 'outside' | 'above' | 'racks';
/** Which drawing a phone, which has room for one, turns to. */
function viewOf(op: Op | undefined): View {
    const name = op === undefined ? 'run' : opName(op);
    return name === 'run' || ['read-volts', 'read-amps', 'read-time', 'isolate', 'charge', 'renew-lead', 'check-tape', 'change-tape'].includes(name) ? 'above' : ['read-end', 'count-teeth', 'jump', 'renew-rack', 'renew-key', 'ease'].includes(name) ? 'racks' : 'outside';
}
const isCalm = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

/** What the learner moved so far, in the order of ADJUSTERS. */
export function movedBy(ops: readonly Op[]): number[] {
    return ADJUSTERS.map(([name, side, place]) => ops.reduce((n, op) => n + (opName(op) === name && op[1] === side && (name === 'toe' || op[2] === place) ? op[3] : 0), 0));
}

function Told({ set, exercise, game }: ExerciseProps & { game: GameRecord }): JSX.Element {
    const { p, language } = usePractice(), school = useSchool(), hints = exercise?.hints ?? [];
    return (
        <div>
            {exercise !== null ? <blockquote class="told">{textIn(exercise.told, language, set?.language)}</blockquote> : <p>{p('free-about')}</p>}
            {exercise?.limits != null && <p>{p('within', { min: exercise.limits.minutes, moves: exercise.limits.moves, n: exercise.limits.moves })}</p>}
            {game.mode === 'practice' && hints.length > 0 && (
                <><h2>{p('hints')}</h2>
                    <ol class="hints">{hints.slice(0, game.hints).map((h, i) => <li key={i}>{textIn(h, language, set?.language)}</li>)}</ol>
                    {game.hints < hints.length && <button type="button" class="second" data-act="hint" onClick={() => void school.hint(game)}>{p('hint', { n: game.hints + 1, m: hints.length })}</button>}</>
            )}
            <p class="small"><b>{p('no-substitute')}</b></p>
            {game.mode === 'practice' && <button type="button" class="plain-button" data-act="again" onClick={() => void school.drop(game.key)}>{p('start-again')}</button>}
        </div>
    );
}

export function Play({ game, set, exercise }: ExerciseProps & { game: GameRecord }): JSX.Element {
    const tools = usePractice(), school = useSchool(), { p, app, clock } = tools, core = app.core;
    const [before, setBefore] = useState<readonly Op[] | null>(null), [refused, setRefused] = useState(''), [tab, setTab] = useState<Tab>('tools'), [view, setView] = useState<View>('outside'), [isEnding, setEnding] = useState(false), [times, setTimes] = useState(1);
    const stage = useRef<HTMLDivElement>(null), playing = useRef<Playing | null>(null), isRunning = before !== null, ops = before ?? game.ops;
    const played = school.played(game.unit, game.ops), shown = useMemo(() => (before === null ? played : school.played(game.unit, before)), [before, played]);
    const readings = useMemo(() => readingsOf(core, game.unit, ops, shown.results), [ops, shown]), at = useMemo(() => latest(readings), [readings]), moved = useMemo(() => movedBy(ops), [ops]);
    const last = ops[ops.length - 1], lastResult = shown.results[ops.length - 1], lastReading = readings[readings.length - 1]?.i === ops.length - 1 ? readings[readings.length - 1]! : null;
    const said = last === undefined || lastResult === undefined ? null : lastWords(tools, last, lastResult, lastReading, shown.scene), tape = tapeAt(game.unit, ops, shown.results, ops.length);
    const held: Held | null = lastReading === null || isRunning ? null : { name: lastReading.name, side: lastReading.side, place: lastReading.place, text: tools.bare(lastReading.name, lastReading.nano) };
    const drawn: Drawn = { scene: shown.scene, moved, held, readings: at, isRunning };
    useLayoutEffect(() => { if (!isRunning) pose(stage.current, shown.scene.at); });
    useEffect(() => () => playing.current?.stop(), []);
    const onOp = async (op: Op) => {
        if (isRunning) return;
        setRefused('');
        const was = game.ops, run = opName(op) === 'run' && !isCalm() ? (() => { try { return trace(core, game.unit, was, op[3], 0.05).samples; } catch { return null; } })() : null;
        if (run !== null && run.length > 1) setBefore(was);
        const refusal = await school.act(game, op);
        if (refusal !== null) { setBefore(null); return setRefused(refusal); }
        setView(viewOf(op));
        if (run !== null && run.length > 1) playing.current = playRun(stage.current, run, times, () => { playing.current = null; setBefore(null); });
    };
    const undo = () => { setRefused(''); void school.undo(game); };
    const faster = () => { const n = times === 1 ? 4 : 1; setTimes(n); playing.current?.speed(n); };
    const words = sceneWords(tools, shown.scene, moved, tape), title = titleOf(tools, { set, exercise }), minutes = Math.round(shown.score.seconds / 60), over = exercise?.limits != null && minutes > exercise.limits.minutes;
    const tabs: readonly (readonly [Tab, string])[] = [['tools', p('tools')], ['notebook', `${p('notebook')}${at.size > 0 ? ` ${at.size}` : ''}`], ['advice', p('advice')], ['task', p('task')]];
    const foot = (
        <div class="practice-foot">
            <div class="said" role="status" data-said>
                {isRunning ? <p>{p('running')}</p> : refused !== '' ? <p class="stop-text" data-refused={refused}>{refused === 'not-kept' ? `${p('not-kept')} ${school.trouble}` : p(`r-${refused}` as Key)}</p>
                    : said === null ? <p>{p('begin-words')}</p> : <p class={said.isBad ? 'stop-text' : ''}>{said.text} {said.figure !== '' && <b class="figure">{said.figure}</b>}</p>}
                {!isRunning && refused === '' && said !== null && said.cautions.map((c) => <p key={c} class="skipped stop-text" data-skipped><b>{p('skipped-word')}</b> {c}</p>)}
            </div>
            <p class={`clock${over ? ' stop-text' : ''}`} data-clock={shown.score.seconds}><b>{clock(shown.score.seconds)}</b> <small>{p(shown.score.moves === 1 ? 'moves-1' : 'moves', { n: shown.score.moves })}</small></p>
            {isRunning ? (
                <div class="pair"><button type="button" class="second" data-act="faster" aria-pressed={times > 1} onClick={faster}>{p('faster', { n: 4 })}</button><button type="button" class="act" data-act="to-end" onClick={() => playing.current?.stop()}>{p('to-end')}</button></div>
            ) : isEnding ? (
                <div class="pair"><button type="button" class="second" data-act="go-on" onClick={() => setEnding(false)}>{p('go-on')}</button><button type="button" class="act" data-act="finish-now" onClick={() => void school.finish(game)}>{p('finish-now')}</button></div>
            ) : (
                <div class="pair">{game.mode === 'practice' ? <button type="button" class="second" data-act="undo" aria-disabled={game.ops.length === 0 ? 'true' : undefined} onClick={undo}>{p('undo')}</button> : <p class="small exam-word">{p('exam')}</p>}
                    <button type="button" class="act" data-act="finish" onClick={() => setEnding(true)}>{p('finish')}</button></div>
            )}
        </div>
    );
    return (
        <Frame title={title} back="practice" kind="practice" where={<><b>{title}</b>{set === null ? p('practice') : textIn(set.title, tools.language, set.language)}</>} invented foot={foot}>
            <div class="play" data-ops={game.ops.length} data-running={isRunning}>
                <div class="stage" ref={stage}>
                    <Title>{title}</Title>
                    <div class="view-picker" role="group" aria-label={p('drawing')}>
                        {(['outside', 'above', 'racks'] as const).map((v) => <button type="button" key={v} data-pick-view={v} aria-pressed={v === view} onClick={() => setView(v)}>{p(`pick-${v}`)}</button>)}
                    </div>
                    <div class="views" data-show={view}>
                        <div class="v-outside"><Elevation {...drawn} /></div>
                        <div class="v-above"><Plan {...drawn} /></div>
                        <div class="v-racks">{[[0, 1], [0, 0], [1, 1], [1, 0]].map(([s, k]) => <Detail key={`${s}${k}`} side={s!} place={k!} d={drawn} />)}</div>
                    </div>
                </div>
                <div class="panel">
                    <div class="tabs" role="group" aria-label={p('sheets')}>{tabs.map(([k, label]) => <button type="button" key={k} data-tab={k} aria-pressed={k === tab} onClick={() => setTab(k)}>{label}</button>)}</div>
                    {tab === 'tools' && <ToolBox scene={shown.scene} off={isRunning} onOp={(op) => void onOp(op)} />}
                    {tab === 'notebook' && <Notebook readings={readings} />}
                    {tab === 'advice' && <Advice readings={readings} moved={moved} />}
                    {tab === 'task' && <Told set={set} exercise={exercise} game={game} />}
                </div>
                <p class="scene-words small" aria-live="polite" data-scene>{isRunning ? p('running') : words.join(' ')}</p>
            </div>
        </Frame>
    );
}
