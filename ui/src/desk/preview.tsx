// preview: beside the text of a draft, what the technician will see of what stands at the cursor, by the Bench itself in a frame, and the page of
// the job sheet on which it stands. It follows the text a moment later; while the text has faults the last good one stays, and that is said.
import { JSX } from 'preact';
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Bulletin } from '../bulletin/types';
import { placesOf } from '../job/plan';
import type { Looked, LookedPhase } from '../view/look';
import { Session, Trouble } from './api';
import * as calls from './draft';
import { Key, t } from './text';

const FOLLOW_MS = 300, AGAIN_MS = 5000;
export interface At { path: string; item: number }

/** The step, and which of its screens, that a place in the text belongs to: of a point the step that reads it, of a photo the one that takes it, of kits
 * and racks the one that cuts. */
export function placeOf(b: Bulletin, { path, item }: At): { step: string; phase: LookedPhase } {
    const section = path.split(/[.[]/, 1)[0]!, keys = path.split('.'), first = b.steps[0]?.id ?? '', places = placesOf(b);
    const reads = (id: string | undefined) => b.steps.find((s) => id !== undefined && s.readings.includes(id))?.id, takes = (id: string | undefined) => b.steps.find((s) => id !== undefined && s.photos.includes(id))?.id;
    if (section === 'steps') {
        const phase = keys.some((k) => k.startsWith('cautions')) ? 'cautions' : keys.some((k) => k.startsWith('readings')) ? 'readings' : keys.some((k) => k.startsWith('photos')) ? 'photos' : 'do';
        return { step: b.steps[item]?.id ?? first, phase };
    }
    if (section === 'points') return { step: reads(b.points[item]?.id) ?? places.truing ?? first, phase: 'readings' };
    if (section === 'adjusters') return { step: places.truing ?? first, phase: 'do' };
    if (section === 'timing') return { step: places.timing ?? first, phase: 'do' };
    if (section === 'kits' || section === 'parts' || section === 'racks') return { step: places.cut ?? places.kit ?? first, phase: 'do' };
    if (path.startsWith('proof.photos')) return { step: takes(b.proof.photos[item]?.id) ?? first, phase: 'photos' };
    return { step: first, phase: 'do' };
}

const PHASES: readonly LookedPhase[] = ['cautions', 'do', 'readings', 'photos'];
/** Which screens the step has. */
const has = (b: Bulletin, step: string, phase: LookedPhase): boolean => {
    const s = b.steps.find((x) => x.id === step);
    return s !== undefined && (phase === 'do' || (phase === 'cautions' ? s.cautions.length > 0 : phase === 'readings' ? s.readings.length > 0 : s.photos.length > 0));
};

/** The Bench itself; it is sent what to show, and says when that stands. */
function BenchFrame({ look, title }: { look: Looked; title: string }): JSX.Element {
    const frame = useRef<HTMLIFrameElement>(null), [ready, set] = useState(false), [shown, tell] = useState('');
    // Listened for before the frame can have loaded: an effect would begin later, and its first word might be missed.
    useLayoutEffect(() => {
        const come = (e: MessageEvent) => {
            if (e.origin !== location.origin || e.source !== frame.current?.contentWindow) return;
            const told = e.data as { looked?: string; step?: string };
            if (told.looked === 'ready') set(true);
            else if (told.looked !== undefined) tell(`${told.looked} ${told.step ?? ''}`);
        };
        addEventListener('message', come);
        return () => removeEventListener('message', come);
    }, []);
    useEffect(() => { if (ready) frame.current?.contentWindow?.postMessage({ look }, location.origin); }, [ready, look.bulletin, look.step, look.phase]);
    return (
        <>
            <iframe ref={frame} class="bench-frame" src="/bench/#/look" title={title} data-shown={shown} />
            {shown.startsWith('failed') && <p class="stop-text">{t('pre-failed')}</p>}
        </>
    );
}

/** What `ask` answers, `after_ms` from now; null is no answer. The last one stands until there is another, and after a failure, which is told, it is
 * asked again if the server was busy, or away. */
function useAnswer<T>(ask: () => Promise<T | null>, after_ms: number, of: readonly unknown[]): [T | null, string] {
    const [seen, set] = useState<T | null>(null), [why, say] = useState('');
    useEffect(() => {
        let isLate = false, timer = 0;
        const turn = () => void ask().then((got) => {
            if (isLate || got === null) return;
            say('');
            set(() => got);
        }, (e: unknown) => {
            if (isLate) return;
            say(e instanceof Error ? e.message : String(e));
            if (!(e instanceof Trouble) || e.status === 0 || e.status === 429 || e.status >= 500) timer = window.setTimeout(turn, AGAIN_MS);
        });
        if (after_ms > 0) timer = window.setTimeout(turn, after_ms); else turn();
        return () => { isLate = true; clearTimeout(timer); };
    }, of);
    return [seen, why];
}

function Paper({ who, text, step }: { who: Session; text: string; step: string }): JSX.Element {
    const [turned, turn] = useState(0);
    useEffect(() => turn(0), [step]);
    const [seen, why] = useAnswer(async () => ({ ...await calls.page(who, text, turned === 0 ? step : '', turned), step }), 0, [text, step, turned]);
    const url = useMemo(() => (seen === null ? '' : URL.createObjectURL(seen.png)), [seen]);
    useEffect(() => () => URL.revokeObjectURL(url), [url]);
    if (seen === null) return <p class="small" role="status">{why === '' ? t('pre-drawing') : why}</p>;
    const at = { n: seen.page, m: seen.pages };
    return (
        <div data-page={seen.page} data-step={seen.step}>
            <p class="row-of"><button type="button" data-act="page-before" disabled={seen.page <= 1} onClick={() => turn(seen.page - 1)}>{t('pre-before')}</button><span class="small">{t('pre-page', at)}</span><button type="button" data-act="page-next" disabled={seen.page >= seen.pages} onClick={() => turn(seen.page + 1)}>{t('pre-next')}</button></p>
            <img class="paper-page" src={url} alt={t('pre-page-of', at)} />
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
        </div>
    );
}

export function Preview({ who, check, text, at }: { who: Session; check: calls.Check; text: string; at: At }): JSX.Element {
    const [chosen, choose] = useState<{ of: string; phase: LookedPhase } | null>(null);
    const [good, why] = useAnswer(async () => {
        const b = check.valid ? (await calls.check(who, text, true)).bulletin : undefined;
        return b === undefined ? null : { text, b };
    }, FOLLOW_MS, [text, check.valid]);
    if (good === null) return <p class="small" role="status">{why !== '' ? why : check.valid ? t('pre-drawing') : t('bul-sound-first')}</p>;
    const place = placeOf(good.b, at), of = `${place.step} ${place.phase}`, wanted = chosen !== null && chosen.of === of ? chosen.phase : place.phase, phase = has(good.b, place.step, wanted) ? wanted : 'do';
    const step = good.b.steps.find((s) => s.id === place.step), title = step === undefined ? '' : step.title[good.b.bulletin.language] ?? Object.values(step.title)[0] ?? step.id;
    return (
        <div class="preview" data-preview={place.step} data-phase={phase}>
            <p class={`small${check.valid ? '' : ' stop-text'}`} role="status" data-good={check.valid && good.text === text}>{check.valid ? t('pre-of', { step: title }) : t('pre-last-good', { step: title })}</p>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            <div class="preview-two">
                <section aria-labelledby="pre-bench">
                    <h2 id="pre-bench">{t('bul-bench')}</h2>
                    <p class="row-of">{PHASES.filter((p) => has(good.b, place.step, p)).map((p) => <button type="button" key={p} data-phase={p} aria-pressed={p === phase} onClick={() => choose({ of, phase: p })}>{t(`pre-${p}` as Key)}</button>)}</p>
                    <BenchFrame look={{ bulletin: good.b, step: place.step, phase }} title={t('pre-frame', { step: title })} />
                </section>
                <section aria-labelledby="pre-paper">
                    <h2 id="pre-paper">{t('bul-sheet')}</h2>
                    <Paper who={who} text={good.text} step={place.step} />
                </section>
            </div>
        </div>
    );
}
