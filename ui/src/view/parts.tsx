// parts: the few things that every screen is made of: frame, verdict, caution, tick row, figure, strip.
import { ComponentChildren, JSX } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import type { Bulletin, Caution, Hazard, Step } from '../bulletin/types';
import type { Shown } from '../core/amounts';
import { Task } from '../job/plan';
import { OpenJob } from '../store/app';
import { go, jobPath, useApp } from './context';
import { Banners } from './banners';

// ---- frame ----

interface FrameProps {
    title: string; where?: ComponentChildren; back?: string; foot?: ComponentChildren; children: ComponentChildren; tape?: ComponentChildren; aside?: ComponentChildren;
    invented?: boolean; list?: string; /** a class more, of pages that lay themselves out */ kind?: string;
}

/** One task a screen: what it belongs to above, the primary action below, where the thumb is. The title is announced on arrival. */
export function Frame(p: FrameProps): JSX.Element {
    const { app, t, system } = useApp();
    const other = system === 'mm' ? 'in' : 'mm';
    useEffect(() => { document.title = `${p.title} \u00b7 ${t('app')}`; }, [p.title]);
    return (
        <div class={`frame${p.aside === undefined ? '' : ' wide'}${p.kind === undefined ? '' : ` ${p.kind}`}`}>
            <header class="head">
                <div class="head-row">
                    {p.back !== undefined && <a class="icon" href={'#/' + p.back} aria-label={t('back')}><Arrow /></a>}
                    <div class="where">{p.where}</div>
                    <button type="button" class="units" aria-label={t('units-switch', { now: t(system === 'mm' ? 'millimetres' : 'inches'), other: t(other === 'mm' ? 'millimetres' : 'inches') })}
                        onClick={() => void app.saveSettings({ system: other })}>
                        {system === 'mm' ? <><b>mm</b> in</> : <>mm <b>in</b></>}
                    </button>
                    {p.list !== undefined ? <a class="icon" href={'#/' + p.list} aria-label={t('task-list')}><Lines /></a>
                        : <a class="icon" href="#/settings" aria-label={t('settings')}><Gear /></a>}
                </div>
                {p.tape}
                <Banners />
                {p.invented && <div class="invented">{t('invented')}</div>}
            </header>
            {p.aside !== undefined && <nav class="aside" aria-label={t('task-list')}>{p.aside}</nav>}
            <main id="main">{p.children}</main>
            <footer class="foot">{p.foot}</footer>
        </div>
    );
}

/** The first heading of a screen takes the focus when the screen opens, so that it is read out and the keyboard starts there. */
export function Title({ children }: { children: ComponentChildren }): JSX.Element {
    const ref = useRef<HTMLHeadingElement>(null);
    useEffect(() => { if (document.activeElement === document.body || document.activeElement === null) ref.current?.focus({ preventScroll: true }); }, []);
    return <h1 ref={ref} tabIndex={-1}>{children}</h1>;
}

export function Act(p: { children: ComponentChildren; onClick: () => void; hint?: string | undefined; off?: boolean; id?: string }): JSX.Element {
    return (
        <>
            {p.hint !== undefined && <p class="hint" aria-live="polite">{p.hint}</p>}
            <button type="button" class="act" data-act={p.id ?? ''} aria-disabled={p.off ? 'true' : undefined} onClick={() => { if (!p.off) p.onClick(); }}>{p.children}</button>
        </>
    );
}

// ---- small drawings ----

const Arrow = () => <svg width="24" height="24" aria-hidden="true"><path d="M15 4L7 12l8 8" class="d-line" stroke-width="2" /></svg>;
const Lines = () => <svg width="24" height="24" aria-hidden="true"><path d="M4 7h16M4 12h16M4 17h10" class="d-line" stroke-width="2" /></svg>;
const Gear = () => <svg width="24" height="24" aria-hidden="true"><path d="M4 8h9M17 8h3M4 16h3M11 16h9" class="d-line" stroke-width="2" /><circle cx="15" cy="8" r="2.4" class="d-line" /><circle cx="9" cy="16" r="2.4" class="d-line" /></svg>;

/** The hatching that stands for "not here": used by strips and drawings. */
export const Hatch = () => (
    <svg width="0" height="0" aria-hidden="true" class="visually"><defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V5" class="hatch-line" /></pattern></defs></svg>
);

export type Shape = 'inside' | 'outside' | 'uncertain' | 'work' | 'stop';

/** A strip in small: the wedge between the bars, beyond one, or on one. */
export function ShapeMark({ shape }: { shape: Shape }): JSX.Element {
    const x = shape === 'inside' ? 20 : shape === 'uncertain' ? 34 : 44;
    return (
        <svg viewBox="0 0 48 40" aria-hidden="true">
            <path d="M6 26H34M6 18V34M34 18V34" class="shape-line" />
            {shape === 'uncertain' && <rect x="27" y="21" width="14" height="10" class="shape-soft" />}
            {shape === 'work' ? <path d="M10 6h20M24 1l7 5-7 5" class="shape-line" /> : <path d={`M${x - 7} 4h14l-7 11z`} class="shape-mark" transform={x > 40 ? 'translate(-3 0)' : ''} />}
        </svg>
    );
}

export function VerdictLine(p: { shape: Shape; word: string; children?: ComponentChildren }): JSX.Element {
    return (
        <div class={`verdict${p.shape === 'outside' || p.shape === 'stop' ? ' stop' : ''}`} aria-live="polite">
            <ShapeMark shape={p.shape} />
            <div><Title>{p.word}</Title>{p.children}</div>
        </div>
    );
}

const HAZARD_MARK: Record<Hazard, string> = {
    cutting: 'M3 18L17 4M3 18l5-1M17 4l2 6-4 3', lifting: 'M3 4h16v6H3zM11 10v5M7 15h8M5 19h12', 'stored-energy': 'M4 18c0-3 12-3 12-6s-12-3-12-6M16 4v3M4 18v2', electrical: 'M12 2L6 12h5l-2 8 8-11h-6z', pinch: 'M3 5l8 6-8 6M19 5l-8 6 8 6',
};
export function CautionBox({ b, caution }: { b: Bulletin; caution: Caution }): JSX.Element {
    const { t, say, langOf } = useApp();
    return (
        <section class="caution" aria-label={`${t('lead', { name: t('caution') })} ${t(`h-${caution.hazard}`)}`}>
            <div>
                <p class="hazard"><svg viewBox="0 0 22 22" aria-hidden="true"><path d={HAZARD_MARK[caution.hazard]} class="d-stop-line" /></svg>{t(`h-${caution.hazard}`)}</p>
                <p lang={langOf(b, caution.text)}>{say(b, caution.text)}</p>
            </div>
        </section>
    );
}

export function TickRow(p: { on: boolean; onChange: (on: boolean) => void; children: ComponentChildren; lang?: string | undefined }): JSX.Element {
    return (
        <label class="tick-row" lang={p.lang}>
            <input type="checkbox" checked={p.on} onChange={(e) => p.onChange(e.currentTarget.checked)} /><span>{p.children}</span>
        </label>
    );
}

/** An amount with its unit; fractions as fractions. */
export function Figure({ s, u }: { s: Shown; u?: string | undefined }): JSX.Element {
    const found = /^(\u2212?\d*) ?(\d+)\/(\d+)$/.exec(s.text);
    return (
        <span class="figure">
            {found === null ? s.text : <span class="frac"><span class="visually">{s.text}</span><span aria-hidden="true">{found[1]}<sup>{found[2]}</sup>{'\u2044'}<sub>{found[3]}</sub></span></span>}
            {s.unit !== '' && <span class="u">{'\u00a0' + s.unit}</span>}{u !== undefined && <span class="u">{' \u00b1' + u}</span>}
        </span>
    );
}

// ---- the strip ----

export { Strip } from './strip';
export type { StripProps } from './strip';

// ---- the tape: where in the job ----

export function Tape({ tasks, at }: { tasks: Task[]; at: number }): JSX.Element {
    const { t } = useApp();
    const W = 360, x = (i: number) => 4 + (W - 8) * (tasks.length < 2 ? 0 : i / (tasks.length - 1));
    const done = tasks.filter((k) => k.done).length;
    return (
        <svg class="tape" viewBox={`0 0 ${W} 26`} preserveAspectRatio="none" role="img" aria-label={t('of', { n: Math.min(at + 1, tasks.length), m: tasks.length })}>
            <path class="line" d={`M4 20H${W - 4}`} />
            {done > 0 && <path class="done" d={`M4 20H${x(done - 1)}`} />}
            {tasks.map((k, i) => <path key={k.key} class="tick" d={`M${x(i)} 20V${i === 0 || tasks[i - 1]!.station !== k.station ? 10 : 15}`} />)}
            <path class="wedge" d={`M${x(at)} 17l6 -11h-12z`} />
        </svg>
    );
}

// ---- words of a task ----

export function useTaskTitle(): (job: OpenJob, task: Task) => string {
    const { t, say, stationName } = useApp();
    return ({ bulletin: b }, task) => {
        const where = stationName(b, task.station);
        switch (task.kind) {
            case 'label': return t('label-title', { station: where });
            case 'prepare': return t('prepare');
            case 'kit': return t('kit-title', { station: where });
            case 'finish': return t('finish');
            case 'step': return say(b, (task.step as Step).title);
        }
    };
}

export const openTask = (job: OpenJob, task: Task): void => go(jobPath(job, task.key));
