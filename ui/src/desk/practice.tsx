// practice: the owner's page on practice: who needs help, which exercise and which question is hard, where readings disagree, and the sets of
// exercises that phones are given.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Trouble } from './api';
import type { PageProps } from './pages';
import { Sure } from './people';
import * as calls from './practice_data';
import { textOf } from './practice_data';
import { moment } from './show';
import { t, word } from './text';
import './people.css';
import './practice.css';

const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));
const SHOWN = 16; // gaps that differ most
const mm = (nm: number, digits = 2): string => `${(nm / 1e6).toFixed(digits)} mm`;
const percent = (share: number): string => `${share < 9.95 ? share.toFixed(1) : share.toFixed(0)} %`;
const share = (part: number, all: number): number => (all === 0 ? 1 : part / all);
const of = (n: number, all: number): string => t('prc-of', { n, all });

/** Titles and limits by the sets that are here. */
interface Book { title: (set: string, exercise: string) => string; head: (set: string, exercise: string) => calls.ExerciseHead | null; question: (set: string, exercise: string, question: string) => string }
function bookOf(sets: readonly calls.SetHead[]): Book {
    const head = (set: string, exercise: string) => sets.find((s) => s.set === set)?.exercises.find((x) => x.id === exercise) ?? null;
    const own = (set: string) => sets.find((s) => s.set === set)?.language ?? '';
    return {
        head,
        title: (set, exercise) => { const x = head(set, exercise); return x === null ? exercise : textOf(x.title, own(set)); },
        question: (set, exercise, question) => { const q = head(set, exercise)?.questions.find((x) => x.id === question); return q === undefined ? question : textOf(q.text, own(set)); },
    };
}

export const byNeed = (a: calls.PersonSum, b: calls.PersonSum): number => share(a.passed, a.tried) - share(b.passed, b.tried) || b.tried - a.tried || (a.person < b.person ? -1 : 1);
export const byHardness = (a: calls.ExerciseSum, b: calls.ExerciseSum): number => share(a.passed, a.people) - share(b.passed, b.people) || b.people - a.people || (a.exercise < b.exercise ? -1 : 1);
const byWrong = (a: calls.QuestionSum, b: calls.QuestionSum): number => share(a.right, a.answered) - share(b.right, b.answered) || b.answered - a.answered;

// ---- what it comes to ----

function Verdict({ r, book }: { r: calls.Results; book: Book }): JSX.Element {
    const neediest = [...r.people].sort(byNeed)[0], hardest = [...r.exercises].sort(byHardness)[0];
    if (neediest === undefined || hardest === undefined) return <p class="said-first">{t('prc-none')}</p>;
    return (
        <p class="said-first">
            {r.looked_at === 1 ? t('prc-said-one') : t('prc-said', { n: r.looked_at, people: r.people.length })}{' '}
            {neediest.passed === neediest.tried ? t('prc-all-good') : t('prc-needs', { person: neediest.person, passed: neediest.passed, tried: neediest.tried })}{' '}
            {hardest.passed < hardest.people && t('prc-hardest', { title: book.title(hardest.set, hardest.exercise), passed: hardest.passed, people: hardest.people })}
        </p>
    );
}

/** A table that scrolls by itself, under a heading. */
function Sheet(p: { id: string; title: string; why?: string; head: JSX.Element; children: JSX.Element[] }): JSX.Element {
    return (
        <section class="practice-part" id={p.id}>
            <h2 id={`${p.id}-title`}>{p.title}</h2>
            {p.why !== undefined && <p class="small">{p.why}</p>}
            <div class="sheet-box" tabIndex={0} role="region" aria-labelledby={`${p.id}-title`}><table><thead>{p.head}</thead><tbody>{p.children}</tbody></table></div>
        </section>
    );
}

function People({ r }: { r: calls.Results }): JSX.Element {
    const head = <tr><th scope="col">{t('prc-person')}</th><th scope="col" class="right">{t('prc-passed')}</th><th scope="col" class="right">{t('prc-answers')}</th><th scope="col" class="right wider">{t('prc-hints')}</th><th scope="col" class="right wider">{t('prc-cautions')}</th><th scope="col" class="right wider">{t('prc-exams')}</th><th scope="col" class="right wider">{t('prc-results')}</th><th scope="col" class="wider">{t('prc-last')}</th></tr>;
    return (
        <Sheet id="prc-by-people" title={t('prc-people')} why={t('prc-why')} head={head}>
            {[...r.people].sort(byNeed).map((p) => (
                <tr key={p.person} data-person={p.person}>
                    <th scope="row">{p.person}<span class="small"> {p.shop}</span></th>
                    <td class={`right nowrap ${p.passed < p.tried ? 'stop-text' : ''}`}>{of(p.passed, p.tried)}</td>
                    <td class="right nowrap">{p.questions === 0 ? '–' : of(p.right, p.questions)}</td>
                    <td class="right wider">{p.hints}</td><td class="right wider">{p.cautions}</td><td class="right wider">{p.exams}</td><td class="right wider">{p.results}</td><td class="nowrap wider">{moment(p.last_ms)}</td>
                </tr>
            ))}
        </Sheet>
    );
}

function Exercises({ r, book }: { r: calls.Results; book: Book }): JSX.Element {
    const head = <tr><th scope="col">{t('prc-exercise')}</th><th scope="col" class="wider">{t('prc-level')}</th><th scope="col" class="right">{t('prc-passed')}</th><th scope="col" class="right">{t('prc-minutes')}</th><th scope="col" class="right wider">{t('prc-moves')}</th><th scope="col" class="right wider">{t('prc-hints')}</th><th scope="col" class="right wider">{t('prc-cautions')}</th></tr>;
    return (
        <Sheet id="prc-by-exercise" title={t('prc-exercises')} head={head}>
            {[...r.exercises].sort(byHardness).map((x) => {
                const h = book.head(x.set, x.exercise);
                return (
                    <tr key={`${x.set} ${x.exercise}`} data-exercise={x.exercise}>
                        <th scope="row">{book.title(x.set, x.exercise)}<span class="small"> {h === null ? t('prc-gone') : x.set}</span></th>
                        <td class="wider">{h === null ? '' : word('prc-level-', h.level)}</td>
                        <td class={`right nowrap ${x.passed < x.people ? 'stop-text' : ''}`}>{of(x.passed, x.people)}</td>
                        <td class="right nowrap">{Math.ceil(x.mean_s / 60)}{h !== null && <span class="small"> {t('prc-limit', { n: h.limits.minutes })}</span>}</td>
                        <td class="right wider">{x.mean_moves.toFixed(1)}</td><td class="right wider">{x.hints}</td><td class="right wider">{x.cautions}</td>
                    </tr>
                );
            })}
        </Sheet>
    );
}

function Questions({ r, book }: { r: calls.Results; book: Book }): JSX.Element {
    if (r.questions.length === 0) return <section class="practice-part"><h2>{t('prc-questions')}</h2><p>{t('prc-no-questions')}</p></section>;
    const head = <tr><th scope="col">{t('prc-question')}</th><th scope="col" class="wider">{t('prc-exercise')}</th><th scope="col" class="right">{t('prc-right')}</th></tr>;
    return (
        <Sheet id="prc-by-question" title={t('prc-questions')} head={head}>
            {[...r.questions].sort(byWrong).map((q) => (
                <tr key={`${q.set} ${q.exercise} ${q.question}`} data-question={q.question}>
                    <th scope="row">{book.question(q.set, q.exercise, q.question)}</th><td class="wider">{book.title(q.set, q.exercise)}</td>
                    <td class={`right nowrap ${q.right < q.answered ? 'stop-text' : ''}`}>{of(q.right, q.answered)}</td>
                </tr>
            ))}
        </Sheet>
    );
}

// ---- readings ----

function pointName(point: string): string {
    const [side, height, travel] = point.split('-');
    return `${word('prc-side-', side ?? '')} ${word('prc-height-', height ?? '')}, ${word('prc-travel-', travel ?? '')}`;
}

function Disagree({ r, book }: { r: calls.Results; book: Book }): JSX.Element {
    const rows = [...r.disagree].sort((a, b) => b.range_nm - a.range_nm);
    if (rows.length === 0) return <section class="practice-part"><h2>{t('prc-disagree')}</h2><p>{t('prc-no-disagree')}</p></section>;
    const head = <tr><th scope="col">{t('prc-point')}</th><th scope="col" class="right">{t('prc-range')}</th><th scope="col" class="right wider">{t('prc-mean')}</th><th scope="col" class="right wider">{t('prc-spread')}</th><th scope="col">{t('prc-low')}</th><th scope="col">{t('prc-high')}</th></tr>;
    return (
        <>
            <Sheet id="prc-by-point" title={t('prc-disagree')} why={t('prc-disagree-why')} head={head}>
                {rows.slice(0, SHOWN).map((d) => (
                    <tr key={`${d.set} ${d.exercise} ${d.point}`} data-point={d.point}>
                        <th scope="row">{pointName(d.point)}<span class="small"> {book.title(d.set, d.exercise)}</span></th><td class="right nowrap">{mm(d.range_nm, 1)}</td>
                        <td class="right nowrap wider">{mm(d.mean_nm, 1)}</td><td class="right nowrap wider">{mm(d.sd_nm)}</td><td>{d.lowest}</td><td>{d.highest}</td>
                    </tr>
                ))}
            </Sheet>
            {rows.length > SHOWN && <p class="small">{t('prc-more', { n: rows.length - SHOWN })}</p>}
        </>
    );
}

function Study({ g, title }: { g: calls.Gauge; title: string | null }): JSX.Element {
    const verdict = g.percent_study < 10 ? 'prc-gauge-good' : g.percent_study > 30 ? 'prc-gauge-bad' : 'prc-gauge-care';
    const rows = [['prc-repeat', g.repeatability_sd_mm], ['prc-between', g.reproducibility_sd_mm], ['prc-together', g.gauge_sd_mm], ['prc-parts', g.part_sd_mm]] as const;
    const about = { people: g.operators, parts: g.parts, repeats: g.repeats };
    return (
        <div class="study" data-study={title === null ? 'class' : 'practised'}>
            <p class={g.percent_study > 30 ? 'stop-text' : ''}><strong>{t(verdict, { share: percent(g.percent_study) })}</strong></p>
            <p class="small">{title === null ? t('prc-gauge-class', about) : t('prc-gauge-of', { ...about, title })} {t('prc-gauge-rule')}</p>
            <table class="narrow"><thead><tr><th scope="col">{t('prc-spread')}</th><th scope="col" class="right">mm</th></tr></thead><tbody>
                {rows.map(([key, sd]) => <tr key={key}><th scope="row">{t(key)}</th><td class="right nowrap">{sd.toFixed(3)}</td></tr>)}
            </tbody></table>
            <ul class="small">{g.notes.map((n) => <li key={n}>{n}</li>)}</ul>
        </div>
    );
}

/** A file into the text field beside it. */
function FileInto({ into, accept }: { into: { current: HTMLTextAreaElement | null }; accept: string }): JSX.Element {
    const take = (e: Event) => { const file = (e.currentTarget as HTMLInputElement).files?.[0]; if (file !== undefined) void file.text().then((x) => { if (into.current !== null) into.current.value = x; }); };
    return <label class="stacked">{t('prc-file')}<input type="file" accept={accept} onChange={take} /></label>;
}

function GaugePart({ p, r, book, fail }: { p: PageProps; r: calls.Results; book: Book; fail: (e: unknown) => void }): JSX.Element {
    const [g, set] = useState<calls.Gauge | null>(null), text = useRef<HTMLTextAreaElement>(null);
    const go = (e: Event) => { e.preventDefault(); calls.gauge(p.who, text.current?.value ?? '').then(set, fail); };
    return (
        <section class="practice-part" id="prc-gauge">
            <h2>{t('prc-gauge')}</h2>
            {r.gauge === null ? <p>{t('prc-gauge-none')}</p> : <Study g={r.gauge} title={book.title(r.gauge.set ?? '', r.gauge.exercise ?? '')} />}
            <details class="whole">
                <summary>{t('prc-csv')}</summary>
                <form onSubmit={go} data-form="csv">
                    <FileInto into={text} accept=".csv,text/csv" />
                    <label class="stacked wide-field">{t('prc-csv-why')}<textarea ref={text} name="csv" class="code" rows={6} required spellcheck={false} /></label>
                    <p><button type="submit" data-act="csv">{t('prc-csv-go')}</button></p>
                </form>
                {g !== null && <Study g={g} title={null} />}
            </details>
        </section>
    );
}

// ---- sets ----

function FaultList({ c }: { c: calls.Checked }): JSX.Element {
    const list = (rows: readonly calls.FaultAt[]) => <ul class="said-faults">{rows.map((f) => <li key={`${f.line} ${f.column} ${f.message}`}><strong>{t('prc-at', { line: f.line, column: f.column })}</strong> <span class="code">{f.path}</span> {f.message}</li>)}</ul>;
    return (
        <div class="checked" role="status">
            <p class={c.valid ? '' : 'stop-text'}>{c.valid ? t('prc-valid', { set: c.set ?? '', n: c.exercises }) : c.faults.length + c.more_faults === 1 ? t('prc-fault-one') : t('prc-faults', { n: c.faults.length + c.more_faults })}</p>
            {c.faults.length > 0 && list(c.faults)}
            {c.warnings.length > 0 && <><p class="small">{t('prc-warnings')}</p>{list(c.warnings)}</>}
        </div>
    );
}

function Share({ p, fail, done }: { p: PageProps; fail: (e: unknown) => void; done: (set: string) => void }): JSX.Element {
    const [checked, set] = useState<calls.Checked | null>(null), text = useRef<HTMLTextAreaElement>(null);
    const check = () => calls.check(p.who, text.current?.value ?? '');
    const go = (e: Event) => {
        e.preventDefault();
        check().then(async (c) => {
            set(c);
            if (!c.valid || c.set === null) return;
            done((await calls.share(p.who, c.set, text.current?.value ?? '')).set);
        }).catch(fail);
    };
    return (
        <details class="whole">
            <summary>{t('prc-share')}</summary>
            <form onSubmit={go} data-form="share">
                <p class="small">{t('prc-share-why')} {t('prc-exam-why')}</p>
                <FileInto into={text} accept=".yaml,.yml" />
                <label class="stacked wide-field">{t('prc-text')}<textarea ref={text} name="text" class="code" rows={10} required spellcheck={false} /></label>
                <p class="row-of"><button type="button" data-act="check" onClick={() => void check().then(set, fail)}>{t('prc-check')}</button><button type="submit" class="first" data-act="share">{t('prc-share-go')}</button></p>
            </form>
            {checked !== null && <FaultList c={checked} />}
        </details>
    );
}

function Sets({ p, s, fail, done, gone }: { p: PageProps; s: calls.Sets; fail: (e: unknown) => void; done: (set: string) => void; gone: (set: string) => void }): JSX.Element {
    const head = <tr><th scope="col">{t('prc-set')}</th><th scope="col" class="right">{t('prc-count')}</th><th scope="col" class="wider">{t('prc-from')}</th><th scope="col"><span class="visually">{t('prc-withdraw')}</span></th></tr>;
    return (
        <>
            <Sheet id="prc-sets" title={t('prc-sets')} head={head}>
                {s.sets.map((x) => {
                    const kept = s.kept.find((k) => k.sha256 === x.sha256);
                    return (
                        <tr key={x.sha256} data-set={x.set}>
                            <th scope="row">{textOf(x.title, x.language)}<span class="small"> {x.set}{x.exam ? `, ${t('prc-exam')}` : ''}</span></th>
                            <td class="right">{x.exercises.length}</td>
                            <td class="wider">{kept === undefined ? t('prc-builtin') : t('prc-by', { by: kept.by, when: moment(kept.kept_ms) })}</td>
                            <td class="doings">{kept !== undefined && <Sure ask={t('prc-withdraw-sure', { set: x.set })} yes={t('prc-withdraw')} first={t('prc-withdraw')} act="withdraw" label={`${t('prc-withdraw')}: ${x.set}`} go={() => void calls.withdraw(p.who, x.set).then(() => gone(x.set), fail)} />}</td>
                        </tr>
                    );
                })}
            </Sheet>
            <Share p={p} fail={fail} done={done} />
        </>
    );
}

function Newest({ r, book }: { r: calls.Results; book: Book }): JSX.Element {
    const head = <tr><th scope="col" class="wider">{t('prc-when')}</th><th scope="col">{t('prc-person')}</th><th scope="col">{t('prc-exercise')}</th><th scope="col">{t('prc-passed')}</th><th scope="col" class="wider">{t('prc-mode')}</th><th scope="col" class="right wider">{t('prc-took')}</th></tr>;
    return (
        <Sheet id="prc-newest" title={t('prc-newest')} head={head}>
            {r.results.slice(0, 50).map((x, i) => (
                <tr key={i}>
                    <td class="nowrap wider">{moment(x.came_ms)}</td><th scope="row">{x.person}</th><td>{book.title(x.set, x.exercise)}</td><td class={x.passed ? '' : 'stop-text'}>{t(x.passed ? 'prc-yes' : 'prc-no')}</td>
                    <td class="wider">{word('prc-mode-', x.mode)}</td><td class="right wider">{Math.ceil(x.seconds / 60)}</td>
                </tr>
            ))}
        </Sheet>
    );
}

export function PracticePage(p: PageProps): JSX.Element {
    const [r, setResults] = useState<calls.Results | null>(null), [s, setSets] = useState<calls.Sets | null>(null), [why, setWhy] = useState(''), [said, say] = useState('');
    const fail = (e: unknown) => { say(''); if (e instanceof Trouble && e.status === 401) p.nobody(); else setWhy(words(e)); };
    const look = () => { calls.sets().then(setSets, fail); calls.results().then(setResults, fail); };
    useEffect(look, [p.who.csrf]);
    const after = (key: 'prc-was-shared' | 'prc-was-withdrawn') => (set: string) => { setWhy(''); say(t(key, { set })); look(); };
    const book = bookOf(s?.sets ?? []);
    return (
        <div class="people practice">
            <h1>{t('practice')}</h1>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            <p role="status" class={said === '' ? 'visually' : 'said'}>{said}</p>
            {r === null || s === null ? <p class="small">{t('loading')}</p> : (
                <>
                    <Verdict r={r} book={book} />
                    {r.results.length > 0 && <div class="pair"><People r={r} /><Exercises r={r} book={book} /></div>}
                    {r.results.length > 0 && <div class="pair"><Questions r={r} book={book} /><Disagree r={r} book={book} /></div>}
                    <div class="pair"><GaugePart p={p} r={r} book={book} fail={fail} /><div><Sets p={p} s={s} fail={fail} done={after('prc-was-shared')} gone={after('prc-was-withdrawn')} /></div></div>
                    {r.results.length > 0 && <Newest r={r} book={book} />}
                </>
            )}
        </div>
    );
}
