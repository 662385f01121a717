// bulletin_panels: what stands beside the text of a draft: faults, what is different, what would follow, how it looks, issuing.
import { ComponentChildren, JSX } from 'preact';
import { useRef, useState } from 'preact/hooks';
import type { Bulletin } from '../bulletin/types';
import { Db } from '../store/db';
import type { Session } from './api';
import * as calls from './draft';
import { hashOf } from './address';
import { At, Preview } from './preview';
import { money } from './show';
import { Key, t } from './text';

type Tab = 'faults' | 'changes' | 'follow' | 'show' | 'issue';
const TABS: readonly Tab[] = ['faults', 'changes', 'follow', 'show', 'issue'];
const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));
const verdict = (v: calls.Was): string => t(v);

export interface PanelsProps { who: Session; check: calls.Check | null; text: string; at: At; goTo: (f: calls.Fault) => void; issued: () => void }

/** Tabs by the pattern of ARIA: one stop for Tab, arrows between them. */
export function Panels(p: PanelsProps): JSX.Element {
    const [tab, set] = useState<Tab>('faults'), bar = useRef<HTMLDivElement>(null);
    const key = (e: KeyboardEvent) => {
        const by = { ArrowRight: 1, ArrowLeft: -1, Home: -TABS.length, End: TABS.length }[e.key];
        if (by === undefined) return;
        e.preventDefault();
        const next = TABS[Math.max(0, Math.min(TABS.length - 1, TABS.indexOf(tab) + by))]!;
        set(next);
        bar.current?.querySelector<HTMLElement>(`[data-tab="${next}"]`)?.focus();
    };
    const count = p.check === null ? {} : { faults: p.check.faults.length + p.check.more_faults, changes: p.check.changes.length + p.check.more_changes } as Partial<Record<Tab, number>>;
    return (
        <section class="panels">
            <div role="tablist" aria-label={t('bul-draft')} ref={bar} onKeyDown={key}>
                {TABS.map((name) => (
                    <button type="button" role="tab" key={name} id={`tab-${name}`} data-tab={name} aria-selected={tab === name} aria-controls="panel" tabIndex={tab === name ? 0 : -1} onClick={() => set(name)}>
                        {t(`bul-tab-${name}` as Key)}{count[name] !== undefined && <span class="soft-text"> {count[name]}</span>}
                    </button>
                ))}
            </div>
            <div role="tabpanel" id="panel" aria-labelledby={`tab-${tab}`} tabIndex={0}>
                {p.check === null ? <p class="small">{t('bul-checking')}</p>
                    : tab === 'faults' ? <Faults check={p.check} goTo={p.goTo} />
                        : tab === 'changes' ? <Changes check={p.check} />
                            : tab === 'show' ? <><Preview who={p.who} check={p.check} text={p.text} at={p.at} /><Looks who={p.who} check={p.check} text={p.text} /></>
                                : tab === 'issue' ? <Issue key={p.text} {...p} check={p.check} /> : null}
                <div hidden={tab !== 'follow' || p.check === null}>{p.check !== null && <Follow who={p.who} check={p.check} text={p.text} />}</div>
            </div>
        </section>
    );
}

// ---- faults ----

function FaultList({ faults, goTo }: { faults: readonly calls.Fault[]; goTo: (f: calls.Fault) => void }): JSX.Element {
    return (
        <ul class="faults">
            {faults.map((f, i) => (
                <li key={i}>
                    <button type="button" data-line={f.line} onClick={() => goTo(f)}>{t('bul-line', { line: f.line })}</button>
                    <p>{f.path !== '' && <><code>{f.path}</code><br /></>}{f.message}</p>
                </li>
            ))}
        </ul>
    );
}

function Faults({ check, goTo }: { check: calls.Check; goTo: (f: calls.Fault) => void }): JSX.Element {
    const n = check.faults.length + check.more_faults;
    return (
        <>
            <p role="status" class={check.valid ? 'sound' : 'sound stop-text'}>{check.valid ? t('bul-sound', { id: check.id ?? '', revision: check.revision ?? '' }) : n === 1 ? t('bul-not-sound-one') : t('bul-not-sound', { n })}</p>
            <FaultList faults={check.faults} goTo={goTo} />
            {check.more_faults > 0 && <p>{t('bul-more', { n: check.more_faults })}</p>}
            {!check.valid && !check.meaning_checked && <p class="small">{t('bul-form-first')}</p>}
            {check.warnings.length > 0 && <><h2>{t('bul-warnings')}</h2><FaultList faults={check.warnings} goTo={goTo} />{check.more_warnings > 0 && <p>{t('bul-more', { n: check.more_warnings })}</p>}</>}
        </>
    );
}

// ---- what is different ----

function Changes({ check }: { check: calls.Check }): JSX.Element {
    if (!check.valid) return <p>{t('bul-sound-first')}</p>;
    if (check.against === null) return <p>{t('bul-first')}</p>;
    if (check.changes.length === 0) return <p>{t('bul-no-changes', { n: check.against })}</p>;
    return (
        <>
            <p>{t('bul-changes', { n: check.against })}</p>
            <dl class="changes">
                {check.changes.map((c) => (
                    <div key={c.where}>
                        <dt>{c.where}</dt>
                        {c.was === null ? <dd><b>{t('bul-new')}:</b> {c.now}</dd> : c.now === null ? <dd><b>{t('bul-gone')}:</b> <del>{c.was}</del></dd>
                            : <dd><del>{c.was}</del><span aria-hidden="true"> {'\u2192'} </span><ins>{c.now}</ins></dd>}
                    </div>
                ))}
            </dl>
            {check.more_changes > 0 && <p>{t('bul-more', { n: check.more_changes })}</p>}
        </>
    );
}

// ---- what would follow ----

function Scope({ what }: { what: calls.WhatIf }): JSX.Element {
    const row = (title: Key, s: calls.ScopeMove) => (
        <tr><th scope="row">{t(title)}</th><td class="right">{s.in_before ?? '\u2013'}</td><td class="right">{s.in_now}</td><td class="right">{s.in_before === null ? '\u2013' : s.swept_in}</td><td class="right">{s.in_before === null ? '\u2013' : s.let_out}</td><td class="right">{s.unknown_now}</td></tr>
    );
    const head = (key: Key) => <th scope="col" class="right">{t(key)}</th>;
    return (
        <div class="sheet-box" tabIndex={0} role="region" aria-label={t('bul-units')}>
            <table class="sheet">
                <thead><tr><td />{head('bul-in-before')}{head('bul-in-now')}{head('bul-swept')}{head('bul-let-out')}{head('bul-unknown')}</tr></thead>
                <tbody>{row('bul-units', what.units)}{row('bul-stations', what.stations_in_scope)}</tbody>
            </table>
        </div>
    );
}

/** By which findings the claims of one move go there: "late 3, no finding any more 1"; of a single one the number stands before the move. */
const reasons = (because: readonly { finding: string | null; n: number }[]): string =>
    because.map((x) => `${x.finding ?? t('bul-no-finding')}${because.length === 1 ? '' : ` ${x.n}`}`).join(', ');

function Outcome({ what }: { what: calls.WhatIf }): JSX.Element {
    const { claims, money: m } = what, cash = (minor: number) => money(minor, m.currency, m.currency_digits), moved = claims.moves.reduce((n, x) => n + x.n, 0);
    return (
        <>
            <Scope what={what} />
            <p class="said">{claims.changed === 0 ? t('bul-claims-none', { n: claims.n }) : t('bul-claims', { k: claims.changed, n: claims.n })}</p>
            <ul class="plain">
                {claims.moves.map((x) => <li key={x.was + x.now}>{t('bul-move', { n: x.n, was: verdict(x.was), now: verdict(x.now) })}: <span class="soft-text">{reasons(x.because)}</span></li>)}
                {claims.changed > moved && <li>{claims.changed - moved}: {t('bul-moved-money')}</li>}
                {claims.overruled > 0 && <li class="soft-text">{t('bul-claims-words', { n: claims.overruled })}</li>}
            </ul>
            {claims.n > 0 && <p class="said">{t('bul-money')}: <del>{cash(m.was_minor)}</del><span aria-hidden="true"> {'\u2192'} </span><ins>{cash(m.now_minor)}</ins></p>}
            {m.owed_back_minor > 0 && <p class="stop-text">{t('bul-back', { money: cash(m.owed_back_minor) })}</p>}
            {claims.dearest.length > 0 && (
                <>
                    <h2>{t('bul-dearest')}</h2>
                    <table class="sheet"><tbody>
                        {claims.dearest.slice(0, 20).map((c) => (
                            <tr key={c.claim}><th scope="row"><a class="code" href={hashOf({ claim: c.claim })}>{c.claim}</a></th><td>{verdict(c.was)} {'\u2192'} {verdict(c.now)}</td><td class="right nowrap">{cash(c.was_minor)} {'\u2192'} {cash(c.now_minor)}</td></tr>
                        ))}
                    </tbody></table>
                </>
            )}
        </>
    );
}

function Follow({ who, check, text }: { who: Session; check: calls.Check; text: string }): JSX.Element {
    const [what, set] = useState<{ of: string; what: calls.WhatIf } | null>(null), [said, say] = useState(''), [busy, setBusy] = useState(false);
    const run = async () => {
        setBusy(true);
        say('');
        try {
            const told = await calls.foresee(who, text, (task) => say(t('bul-follow-run', { what: task.what, done: task.done, all: task.all })));
            set({ of: text, what: told });
            say('');
        } catch (e) {
            say(words(e));
        } finally {
            setBusy(false);
        }
    };
    if (!check.valid) return <p>{t('bul-sound-first')}</p>;
    return (
        <>
            <p>{t('bul-follow-why')}</p>
            <p class="row-of"><button type="button" data-act="follow" disabled={busy} onClick={() => void run()}>{t(what === null ? 'bul-follow' : 'bul-follow-again')}</button><span role="status">{said}</span></p>
            {what !== null && what.of !== text && <p class="stop-text">{t('bul-follow-old')}</p>}
            {what !== null && <Outcome what={what.what} />}
        </>
    );
}

// ---- how it looks ----

function save(blob: Blob, name: string): void {
    const url = URL.createObjectURL(blob), a = document.createElement('a');
    a.href = url;
    a.download = name;
    a.click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
}

/** Onto this browser's Bench, in place of an earlier draft of the same bulletin; its title says that it is one. */
async function putOnBench(b: Bulletin): Promise<void> {
    const db = await Db.open(), mark = t('bul-draft-mark', { title: '' });
    const old = (await db.bulletins()).filter((x) => x.bulletin.id === b.bulletin.id && Object.values(x.bulletin.title).some((title) => title.startsWith(mark)));
    await db.dropBulletins(old.map((x) => x.sha256));
    const title = Object.fromEntries(Object.entries(b.bulletin.title).map(([language, text]) => [language, t('bul-draft-mark', { title: text })]));
    await db.putBulletin({ ...b, bulletin: { ...b.bulletin, title } });
}

function Looks({ who, check, text }: { who: Session; check: calls.Check; text: string }): JSX.Element {
    const [said, say] = useState(''), [there, setThere] = useState(false);
    const paper = (size: 'a4' | 'letter') => void calls.sheet(who, text, size).then((blob) => save(blob, `${check.id}-${check.revision}-${size}.pdf`), (e: unknown) => say(words(e)));
    const bench = async () => {
        try {
            const whole = await calls.check(who, text, true);
            if (whole.bulletin !== undefined) await putOnBench(whole.bulletin);
            setThere(true);
        } catch (e) {
            say(words(e));
        }
    };
    if (!check.valid) return <></>;
    return (
        <>
            <h2 class="later">{t('pre-take')}</h2>
            <p>{t('bul-sheet-why')}</p>
            <p class="row-of"><button type="button" data-act="a4" onClick={() => paper('a4')}>{t('bul-a4')}</button><button type="button" data-act="letter" onClick={() => paper('letter')}>{t('bul-letter')}</button></p>
            <p>{t('bul-bench-why')}</p>
            <p class="row-of"><button type="button" data-act="bench" onClick={() => void bench()}>{t('bul-bench-put')}</button>{there && <span role="status">{t('bul-bench-there')} <a href="/bench/" target="_blank" rel="noopener">{t('bul-bench-open')}</a></span>}</p>
            {said !== '' && <p class="stop-text" role="alert">{said}</p>}
        </>
    );
}

// ---- issuing ----

function Issue({ who, check, text, goTo, issued }: PanelsProps & { check: calls.Check }): JSX.Element {
    const [read, setRead] = useState(false), [said, say] = useState<ComponentChildren>(''), [done, setDone] = useState(false);
    const go = () => void calls.issue(who, text, check.against ?? 0).then((told) => { setDone(true); say(`${t('bul-done', told)} ${t('bul-issue-rule')}`); issued(); }, (e: unknown) => say(<span class="stop-text">{words(e)}</span>));
    const isSame = check.against !== null && check.changes.length === 0;
    return (
        <>
            <p>{t('bul-issue-why')}</p>
            {!check.valid ? <p class="stop-text">{t('bul-issue-not')}</p> : isSame ? <p>{t('bul-issue-same')}</p> : !done && (
                <>
                    {check.warnings.length > 0 && <><h2>{t('bul-warnings')}</h2><FaultList faults={check.warnings} goTo={goTo} /></>}
                    <p><label class="tick"><input type="checkbox" checked={read} onChange={(e) => setRead(e.currentTarget.checked)} /> {t('bul-issue-read')}</label></p>
                    <p><button type="button" class="act" data-act="issue" disabled={!read} onClick={go}>{t('bul-issue', { id: check.id ?? '', revision: check.revision ?? '' })}</button></p>
                </>
            )}
            <p role="status">{said}</p>
        </>
    );
}
