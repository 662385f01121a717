// studies: the questions that the campaign's figures can answer: the list, one study with what it assumes, and what is kept for the report. Every figure is the
// server's, which is the command's (mendwright study KIND --json); nothing is worked out here.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import './studies.css';
import { Session, Trouble } from './api';
import type { PageProps } from './pages';
import { moment } from './show';
import { Answer, question } from './studies_answer';
import * as calls from './studies_calls';
import { Answered, Kind, KeptHead, Known, Listed, Task, Values } from './studies_calls';
import { Assume, toldOf } from './studies_form';
import { Key, en, t } from './text';

const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));

// ---- the address ----

interface At { kind: string; values: Values }
function atOf(hash: string): At {
    const [path = '', query = ''] = hash.replace(/^#\/studies\/?/, '').split('?');
    return { kind: /^[a-z]{1,20}$/.test(path) ? path : '', values: Object.fromEntries([...new URLSearchParams(query)].filter(([, v]) => v !== '')) };
}
const hashOf = (kind: string, values: Values): string => `#/studies/${kind}${Object.keys(values).length > 0 ? `?${new URLSearchParams(values)}` : ''}`;

function useAt(): At {
    const [hash, set] = useState(location.hash);
    useEffect(() => {
        const look = () => { if (location.hash.startsWith('#/studies')) set(location.hash); };
        addEventListener('hashchange', look);
        return () => removeEventListener('hashchange', look);
    }, []);
    return atOf(hash);
}

// ---- kept for the report ----

function Kept({ k, who, gone, failed }: { k: KeptHead; who: Session; gone: () => void; failed: (why: string) => void }): JSX.Element {
    const [isSure, ask] = useState(false), [run, set] = useState<Answered | null>(null), box = useRef<HTMLLIElement>(null);
    const open = (e: Event) => { if ((e.currentTarget as HTMLDetailsElement).open && run === null) calls.kept(k.id).then(set, (x: unknown) => failed(words(x))); };
    const out = () => { calls.drop(who, k.id).then(gone, (x: unknown) => { ask(false); failed(words(x)); }); };
    useEffect(() => { if (isSure) box.current?.querySelector<HTMLElement>('[data-act="out-yes"]')?.focus(); }, [isSure]);
    return (
        <li ref={box} data-kept={k.id}>
            <p class="small">{question(k.study)}</p>
            <p class={k.tone === 'stop' ? 'said stop-text' : 'said'}>{k.sentence}</p>
            {k.note !== '' && <p>{k.note}</p>}
            <p class="small">{t('st-kept-by', { when: moment(k.at_ms), person: k.person })}{Object.keys(k.options).length > 0 && <>, {t('st-with', { options: toldOf(k.study, k.options) })}</>}. <a href={hashOf(k.study, k.options)}>{t('st-today')}</a></p>
            <details onToggle={open}><summary>{t('st-kept-how')}</summary>{run !== null && <Answer of={run} level={3} />}</details>
            {(who.role === 'owner' || who.name === k.person) && (isSure
                ? <p class="buttons"><span>{t('st-out-sure')}</span> <button type="button" data-act="out-yes" onClick={out}>{t('st-out-yes')}</button> <button type="button" data-act="out-no" onClick={() => ask(false)}>{t('st-leave')}</button></p>
                : <p class="buttons"><button type="button" data-act="out" aria-label={`${t('st-out')}: ${k.sentence}`} onClick={() => ask(true)}>{t('st-out')}</button></p>)}
        </li>
    );
}

function KeptList({ kept, who, changed, level }: { kept: KeptHead[]; who: Session; changed: () => void; level: 2 | 3 }): JSX.Element {
    const [said, say] = useState(''), [why, fail] = useState(''), head = useRef<HTMLHeadingElement>(null), Head = level === 2 ? 'h2' : 'h3';
    return (
        <section class="kept" aria-labelledby="kept-head">
            <Head id="kept-head" ref={head} tabIndex={-1}>{t('st-kept-list')}</Head>
            {kept.length === 0 && <p class="small">{t('st-kept-none')}</p>}
            <ul class="plain">{kept.map((k) => <Kept key={k.id} k={k} who={who} failed={(x) => { say(''); fail(x); }} gone={() => { fail(''); say(t('st-out-done')); changed(); head.current?.focus(); }} />)}</ul>
            <p class="stop-text" role="alert">{why}</p>
            <p class="small done" role="status">{said}</p>
        </section>
    );
}

// ---- the list ----

function Card({ kind, listed }: { kind: Kind; listed: Listed }): JSX.Element {
    const last = listed.last[kind.kind];
    return (
        <li data-study={kind.kind}>
            <h2><a href={hashOf(kind.kind, {})}>{question(kind.kind)}</a></h2>
            {last === undefined ? <p class="small">{t(`st-${kind.kind}-is` as Key)}</p> : (
                <>
                    <p class={last.tone === 'stop' ? 'said stop-text' : 'said'}>{last.sentence}</p>
                    <p class="small">{t('st-ran', { when: moment(last.at_ms), person: last.person })}{Object.keys(last.options).length > 0 && <>, <a href={hashOf(kind.kind, last.options)}>{t('st-with', { options: toldOf(kind.kind, last.options) })}</a></>}</p>
                </>)}
        </li>
    );
}

const All = ({ listed, who, changed }: { listed: Listed; who: Session; changed: () => void }): JSX.Element => (
    <>
        <h1>{t('st')}</h1>
        <p class="lead">{t('st-why')}</p>
        <ul class="questions">{listed.kinds.map((k) => <Card key={k.kind} kind={k} listed={listed} />)}</ul>
        <KeptList kept={listed.kept} who={who} changed={changed} level={2} />
    </>
);

// ---- how far ----

function Working({ task, stop }: { task: Task; stop: () => void }): JSX.Element {
    const began = useRef({ what: '', at: 0, done: 0 }), isOn = task.state === 'running' && task.all > 0;
    if (began.current.what !== task.what) began.current = { what: task.what, at: Date.now(), done: task.done };
    const s = (Date.now() - began.current.at) / 1000, n = task.done - began.current.done, left = s < 1 || n <= 0 ? null : ((task.all - task.done) * s) / n;
    return (
        <div class="working">
            <p role="status">{isOn ? t('st-progress', { what: task.what, share: Math.floor((100 * task.done) / task.all) }) : task.state === 'waiting' ? t('st-waiting') : t('st-asking')}{left !== null && <>, {left < 90 ? t('st-left-s', { n: Math.ceil(left) }) : t('st-left-min', { n: Math.ceil(left / 60) })}</>}</p>
            <progress max={task.all || 1} value={task.done} aria-label={t('st-asking')} />
            <button type="button" data-act="stop" onClick={stop}>{t('st-stop')}</button>
        </div>
    );
}

// ---- after the answer ----

function Command({ of }: { of: Answered }): JSX.Element {
    const [said, say] = useState('');
    const copy = () => { navigator.clipboard?.writeText(of.command).then(() => say(t('st-copied')), () => say(t('st-copy-failed'))) ?? say(t('st-copy-failed')); };
    return (
        <section class="command" aria-labelledby="command-head">
            <h2 id="command-head">{t('st-command')}</h2>
            <p><code>{of.command}</code></p>
            <p class="buttons"><button type="button" data-act="copy" onClick={copy}>{t('st-copy')}</button> <span class="small" role="status">{said}</span></p>
            <p class="small">{t(of.study === 'gauge' ? 'st-command-rows' : 'st-command-why')} {t('st-digest')} <code class="digest">{of.answer_sha256}</code></p>
        </section>
    );
}

function Keep({ task, who, saved, nobody }: { task: string; who: Session; saved: () => void; nobody: () => void }): JSX.Element {
    const [said, say] = useState(''), [why, fail] = useState(''), [isBusy, busy] = useState(false), note = useRef<HTMLInputElement>(null);
    useEffect(() => { say(''); fail(''); }, [task]);
    const go = (e: Event) => {
        e.preventDefault();
        busy(true);
        fail('');
        calls.keep(who, task, note.current!.value.trim()).then(() => { say(t('st-kept')); note.current!.value = ''; saved(); }, (x: unknown) => { if (x instanceof Trouble && x.status === 401) nobody(); fail(words(x)); }).finally(() => busy(false));
    };
    return (
        <form class="keep" onSubmit={go} aria-labelledby="keep-head">
            <h2 id="keep-head">{t('st-keep')}</h2>
            <p class="small" id="keep-why">{t('st-keep-why')}</p>
            <div class="field"><label for="keep-note">{t('st-note')}</label><input ref={note} id="keep-note" name="note" maxLength={300} autocomplete="off" /></div>
            <p class="buttons"><button type="submit" data-act="keep" disabled={isBusy} aria-describedby="keep-why">{t('st-keep-yes')}</button></p>
            <p class="stop-text" role="alert">{why}</p>
            <p class="small done" role="status">{said}</p>
        </form>
    );
}

// ---- one study ----

/** Whether it can be asked at all: what it must be told is never guessed. */
function lacks(kind: Kind, values: Values, rows: string): Key | null {
    if (kind.columns !== null && rows.trim() === '') return 'st-needs-rows';
    const has = (...names: string[]) => names.every((n) => values[n] !== undefined);
    return kind.kind === 'audit' && !has('aql', 'lq') && !has('sample', 'accept') && Object.keys(values).length === 0 ? 'st-needs-audit' : null;
}

interface Came { key: string; task: string; run: Answered }
/** What was answered while this page was open, so that going back shows it at once. */
const came = new Map<string, Came>(), rowsOf = new Map<string, string>(), CAME_MAX = 20;

function One({ kind, values, listed, who, nobody, changed }: { kind: Kind; values: Values; listed: Listed; who: Session; nobody: () => void; changed: () => void }): JSX.Element {
    const [task, step] = useState<Task | null>(null), [shown, show] = useState<Came | null>(null), [why, fail] = useState(''), [turn, again] = useState(0);
    const [known, know] = useState<Known>({ bulletins: [], variants: [], isInvented: false }), meant = values['bulletin'] ?? '';
    useEffect(() => { calls.known(meant).then(know, () => undefined); }, [meant]); // without them an id is typed
    const rows = rowsOf.get(kind.kind) ?? '', key = JSON.stringify([kind.kind, values, rows, turn]), lack = lacks(kind, values, rows), box = useRef<HTMLDivElement>(null), isAsked = useRef(false);
    useEffect(() => {
        let isGone = false;
        const old = came.get(key);
        fail('');
        step(null);
        if (old !== undefined) { show(old); return; }
        if (lack !== null) { show(null); return; }
        const end = (now: Task) => {
            step(null);
            if (now.answer === undefined) { show(null); fail(now.state === 'stopped' ? t('st-stopped') : t('st-failed', { detail: [now.fault?.path, now.fault?.message].filter((x) => x).join(': ') })); return; }
            const got: Came = { key, task: now.task, run: now.answer };
            came.set(key, got);
            if (came.size > CAME_MAX) came.delete(came.keys().next().value!);
            show(got);
            changed();
        };
        calls.answered(who, kind.kind, values, kind.columns === null ? null : rows, (now) => { if (!isGone) step(now); }, () => isGone).then((now) => { if (!isGone) end(now); }, (e: unknown) => {
            if (isGone) return;
            if (e instanceof Trouble && e.status === 401) nobody();
            step(null);
            show(null);
            fail(t('st-failed', { detail: words(e) }));
        });
        return () => { isGone = true; };
    }, [key]);
    // Whoever pressed Run is led to the sentence, wherever on the page they were.
    useEffect(() => { if (shown !== null && isAsked.current) { isAsked.current = false; box.current?.querySelector<HTMLElement>('.sentence')?.focus(); } }, [shown]);
    const run = (next: Values, nextRows: string) => {
        isAsked.current = true;
        rowsOf.set(kind.kind, nextRows);
        const to = hashOf(kind.kind, next);
        if (to === location.hash) again((n) => n + 1);
        else location.hash = to;
    };
    const is = lack !== null ? t(lack) : '', own = listed.kept.filter((k) => k.study === kind.kind);
    return (
        <div class="study">
            <p class="small"><a class="back" href="#/studies">{t('st-all')}</a></p>
            <h1>{question(kind.kind)}</h1>
            <p class="small">{t(`st-${kind.kind}-is` as Key)} <button type="button" class="jump" onClick={() => document.getElementById('assume')?.focus()}>{t('st-change')}</button></p>
            {known.isInvented && kind.columns === null && <p class="invented">{t('invented')}</p>}
            <div class="beside">
                <div ref={box} class="told" aria-busy={task !== null}>
                    {task !== null && <Working task={task} stop={() => void calls.stop(who, task.task)} />}
                    <p class="stop-text failed" role="alert">{why}</p>
                    {is !== '' && <p class="lead">{is}</p>}
                    {shown !== null && <div class={task === null ? '' : 'older'}><Answer of={shown.run} level={2} /></div>}
                </div>
                <div class="asks">
                    <Assume kind={kind} values={values} rows={rows} known={known} isBusy={task !== null} why="" run={run} reset={() => { isAsked.current = true; location.hash = hashOf(kind.kind, {}); }} />
                    {shown !== null && task === null && <Keep task={shown.task} who={who} saved={changed} nobody={nobody} />}
                    {own.length > 0 && <KeptList kept={own} who={who} changed={changed} level={2} />}
                    {shown !== null && <Command of={shown.run} />}
                </div>
            </div>
        </div>
    );
}

export function StudiesPage({ who, nobody }: PageProps): JSX.Element {
    const at = useAt(), [listed, set] = useState<Listed | null>(null), [why, fail] = useState('');
    const look = () => { calls.list().then((l) => { set(l); fail(''); }, (e: unknown) => { if (e instanceof Trouble && e.status === 401) nobody(); else fail(words(e)); }); };
    useEffect(look, [at.kind, who.csrf]);
    const kind = listed?.kinds.find((k) => k.kind === at.kind && Object.hasOwn(en, `st-${k.kind}`));
    useEffect(() => { document.title = `${kind === undefined ? t('st') : question(kind.kind)} \u00b7 ${t('app')}`; }, [kind]);
    return (
        <div class="studies">
            {why !== '' && <p class="stop-text" role="alert">{t('failed', { detail: why })} <button type="button" onClick={look}>{t('again')}</button></p>}
            {listed === null ? why === '' && <p class="small">{t('loading')}</p> : kind === undefined ? <All listed={listed} who={who} changed={look} /> : <One key={kind.kind} kind={kind} values={at.values} listed={listed} who={who} nobody={nobody} changed={look} />}
        </div>
    );
}
