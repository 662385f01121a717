// units_bring: a list is chosen, its columns are told, it is looked through, and brought in.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Session, Trouble } from './api';
import { Key, t } from './text';
import * as calls from './units_calls';
import { Columns, FIELDS, Kind, Looked, Task, Tried } from './units_calls';

const KINDS = ['builds', 'failures', 'shops'] as const, MB = 1e6;
const whole = (n: number): string => String(n).replace(/\B(?=(\d{3})+$)/g, '\u202f');
const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));

// ---- the columns ----

function Mapping(p: { looked: Looked; kind: Kind; columns: Columns; choose: (kind: Kind, columns: Columns) => void }): JSX.Element {
    const { looked, kind, columns } = p;
    return (
        <>
            <fieldset>
                <legend>{t('un-kind')}</legend>
                {KINDS.map((k) => (
                    <label key={k} class="choice"><input type="radio" name="kind" value={k} checked={k === kind} onChange={() => p.choose(k, looked.guess[k])} /> <span><b>{t(`un-${k}`)}</b> <span class="small">{t(`un-${k}-why`)}</span></span></label>
                ))}
            </fieldset>
            <fieldset>
                <legend>{t('un-columns')}</legend>
                <p class="small">{t('un-guess')}</p>
                <div class="mapping">{FIELDS[kind].map((f) => (
                    <div key={kind + f.name}>
                        <label for={`map-${f.name}`}><code>{f.name}</code>{!f.isNeeded && <span class="small"> {t('un-may-none')}</span>}</label>
                        <select id={`map-${f.name}`} name={f.name} aria-describedby={`why-${f.name}`} value={columns[f.name] ?? ''} onChange={(e) => p.choose(kind, { ...columns, [f.name]: e.currentTarget.value === '' ? null : e.currentTarget.value })}>
                            <option value="">{t(f.isNeeded ? 'un-choose' : 'un-no-column')}</option>
                            {looked.columns.map((c) => <option key={c} value={c}>{c}</option>)}
                        </select>
                        <p class="small" id={`why-${f.name}`}>{t(`un-f-${f.name}` as Key)}</p>
                    </div>))}
                </div>
            </fieldset>
            <div class="sheet-box" tabIndex={0} role="region" aria-label={t('un-first-rows')}><table class="sheet first-rows">
                <caption>{t('un-first-rows')}</caption>
                <thead><tr>{looked.columns.map((c) => { const ours = FIELDS[kind].find((f) => columns[f.name] === c); return <th key={c} scope="col">{c}{ours !== undefined && <> <span aria-hidden="true">{'\u2192'}</span> <code>{ours.name}</code></>}</th>; })}</tr></thead>
                <tbody>{looked.first.map((r, i) => <tr key={i}>{r.map((cell, k) => <td key={k}>{cell}</td>)}</tr>)}</tbody>
            </table></div>
        </>
    );
}

// ---- how far ----

/** Seconds left at the pace so far of what is under way. */
function useLeft(task: Task): number | null {
    const began = useRef({ what: '', at: 0, done: 0 });
    if (began.current.what !== task.what) began.current = { what: task.what, at: Date.now(), done: task.done };
    const { at, done } = began.current, s = (Date.now() - at) / 1000, n = task.done - done;
    return s < 2 || n <= 0 ? null : ((task.all - task.done) * s) / n;
}

function Working({ task, stop }: { task: Task; stop: () => void }): JSX.Element {
    const left = useLeft(task), isOn = task.state === 'running' && task.all > 0, what = task.what === 'putting' ? t('un-putting') : t('un-checking');
    return (
        <div class="working">
            <p role="status">{isOn ? t('un-progress', { what, share: Math.floor((100 * task.done) / task.all) }) : task.state === 'waiting' ? t('un-waiting') : what}{left !== null && <>, {left < 90 ? t('un-left-s', { n: Math.ceil(left) }) : t('un-left-min', { n: Math.ceil(left / 60) })}</>}</p>
            <progress max={task.all || 1} value={task.done} aria-label={what} />
            {task.what !== 'putting' && <button type="button" data-act="stop" onClick={stop}>{t('un-stop')}</button>}
        </div>
    );
}

// ---- what came of it ----

function Faults({ it, list }: { it: Tried; list: string }): JSX.Element {
    return (
        <>
            <p>{t('un-faulty-why')}</p>
            <p><a data-act="faults" href={calls.faultsAt(list)} download="faulty-rows.csv">{t('un-download')}</a>{it.in_file < it.faulty && <span class="small"> {t('un-bound', { n: whole(it.in_file) })}</span>}</p>
            <div class="sheet-box" tabIndex={0} role="region" aria-label={t('un-faults')}><table class="sheet faults-table">
                <caption class="visually">{t('un-faults')}</caption>
                <thead><tr><th scope="col" class="right">{t('un-line')}</th><th scope="col">{t('un-column')}</th><th scope="col">{t('un-reason')}</th></tr></thead>
                <tbody>{it.faults.map((f) => <tr key={`${f.line} ${f.column}`}><th scope="row" class="right">{f.line}</th><td>{f.field ?? ''}</td><td>{f.reason}</td></tr>)}</tbody>
            </table></div>
            {it.more_faults > 0 && <p>{t('un-more-faults', { n: whole(it.more_faults) })}</p>}
        </>
    );
}

function Counts({ it }: { it: Tried }): JSX.Element {
    const rows = [['un-new', it.new], ['un-changed', it.changed], ['un-same', it.same], ...(it.kind === 'builds' ? [['un-repeated', it.repeated]] : [['un-gone', it.gone]])] as [Key, number][], w = it.first_wrong;
    return (
        <>
            <dl class="facts counts">{rows.map(([name, n]) => <div key={name} class={name === 'un-gone' && n > 0 ? 'stop-text' : ''}><dt>{t(name)}</dt><dd data-count={name.slice(3)}>{whole(n)}</dd></div>)}</dl>
            {w !== null && <p class="small">{t(it.wrong_check_digits === 1 ? 'un-check-one' : 'un-check', { n: whole(it.wrong_check_digits), vin: w.vin, line: w.line })}</p>}
        </>
    );
}

function Came({ it, list, put }: { it: Tried; list: string; put: () => void }): JSX.Element {
    const head = useRef<HTMLHeadingElement>(null);
    useEffect(() => head.current?.focus(), [it]);
    const title = it.put ? t(it.rows === 1 ? 'un-done-one' : 'un-done', { n: whole(it.rows) }) : it.faulty === 0 ? t('un-sound', { n: whole(it.rows) }) : t(it.faulty === 1 ? 'un-faulty-one' : 'un-faulty', { k: whole(it.faulty), n: whole(it.rows) });
    return (
        <section class="came" data-came={it.put ? 'put' : it.faulty === 0 ? 'sound' : 'faulty'}>
            <h3 ref={head} tabIndex={-1} class={it.faulty > 0 ? 'stop-text' : ''}>{title}</h3>
            {it.put ? <p>{t('un-done-is', { new: whole(it.new), changed: whole(it.changed), same: whole(it.same) })}{it.gone > 0 && <> {t('un-done-gone', { n: whole(it.gone) })}</>}</p> : <Counts it={it} />}
            {it.faulty > 0 && <Faults it={it} list={list} />}
            {!it.put && it.faulty === 0 && <button type="button" class="main-act" data-act="put" onClick={put}>{t(it.rows === 1 ? 'un-put-one' : 'un-put', { n: whole(it.rows) })}</button>}
        </section>
    );
}

// ---- the way ----

const EVERY_MS = 300;

export function Bring({ who }: { who: Session }): JSX.Element {
    const [looked, see] = useState<Looked | null>(null), [kind, setKind] = useState<Kind>('builds'), [columns, setColumns] = useState<Columns>({});
    const [sent, setSent] = useState<[number, number] | null>(null), [task, setTask] = useState<Task | null>(null), [came, setCame] = useState<Tried | null>(null), [why, say] = useState('');
    const file = useRef<HTMLInputElement>(null), isGone = useRef(false);
    useEffect(() => () => { isGone.current = true; }, []);
    const choose = (k: Kind, c: Columns) => { setKind(k); setColumns(c); setCame(null); };
    const begin = () => { see(null); setCame(null); setTask(null); say(''); };

    const look = async () => {
        const chosen = file.current?.files?.[0];
        if (chosen === undefined) return;
        begin();
        try {
            const got = await calls.send(who, chosen, (done, all) => setSent([done, all]));
            see(got);
            choose(got.kind, got.guess[got.kind]);
        } catch (e) {
            say(t('un-failed', { detail: words(e) }));
        }
        setSent(null);
    };
    const run = async (dry: boolean) => {
        if (looked === null) return;
        setCame(null);
        say('');
        try {
            let now: Task = { task: await calls.bring(who, looked.list, kind, columns, dry), state: 'waiting', what: '', done: 0, all: 0 };
            for (setTask(now); now.state === 'waiting' || now.state === 'running'; setTask(now)) {
                await new Promise((go) => setTimeout(go, EVERY_MS));
                if (isGone.current) return;
                now = await calls.task(now.task);
            }
            if (now.answer !== undefined) setCame(now.answer);
            else say(now.state === 'stopped' ? t('un-stopped') : t('un-failed', { detail: [now.fault?.path, now.fault?.message].filter((x) => x).join(': ') }));
        } catch (e) {
            say(t('un-failed', { detail: e instanceof Trouble ? e.message : String(e) }));
        }
        setTask(null);
    };
    const another = () => { if (looked !== null && came?.put !== true) void calls.leave(who, looked.list); begin(); if (file.current !== null) { file.current.value = ''; file.current.focus(); } };
    const isMapped = FIELDS[kind].every((f) => !f.isNeeded || (columns[f.name] ?? null) !== null), isDone = came?.put === true;
    return (
        <section class="bring" aria-labelledby="bring-in">
            <h2 id="bring-in">{t('un-bring')}</h2>
            <p class="small" id="bring-why">{t('un-bring-why')}</p>
            <p><label>{t('un-file')} <input ref={file} type="file" name="list" accept=".csv,text/csv" aria-describedby="bring-why" disabled={task !== null || sent !== null} onChange={() => void look()} /></label></p>
            {sent !== null && <p role="status">{t('un-sending', { done: (sent[0] / MB).toFixed(1), all: (sent[1] / MB).toFixed(1) })}</p>}
            {looked !== null && !isDone && <Mapping looked={looked} kind={kind} columns={columns} choose={choose} />}
            {looked !== null && task === null && !isDone && <p class="try-acts"><button type="button" data-act="try" disabled={!isMapped} onClick={() => void run(true)}>{t('un-try')}</button> <button type="button" data-act="leave" onClick={another}>{t('un-leave')}</button> <span class="small">{t('un-try-why')}</span></p>}
            {task !== null && <Working task={task} stop={() => void calls.stop(who, task.task)} />}
            <p class="stop-text" role="alert">{why}</p>
            {came !== null && looked !== null && task === null && <Came it={came} list={looked.list} put={() => void run(false)} />}
            {isDone && <button type="button" data-act="another" onClick={another}>{t('un-next')}</button>}
        </section>
    );
}
