// look: one screen of the Bench as a technician will see it, shown beside a draft in the Desk's editor (a frame of the same origin): the same
// components over a job that is nowhere kept. Nothing here can be pressed, and nothing is written. The Desk posts {look}, which is a Looked;
// this page posts {looked: 'ready' | 'shown' | 'failed'} to it.
import { JSX, render } from 'preact';
import { useEffect, useErrorBoundary, useLayoutEffect, useMemo, useState } from 'preact/hooks';
import type { Bulletin } from '../bulletin/types';
import type { Event } from '../job/events';
import { Task, tasksOf } from '../job/plan';
import { replay } from '../job/replay';
import type { App, OpenJob } from '../store/app';
import { AppContext } from './context';
import { Hatch } from './parts';
import { PhotoPage } from './photo';
import { photosHere, StepPage } from './step';

export type LookedPhase = 'cautions' | 'do' | 'readings' | 'photos';
export interface Looked { bulletin: Bulletin; step: string; phase: LookedPhase }

const VIN = 'ZZZZZZZZZZZZZZZZZ', AT_MS = Date.UTC(2026, 0, 1), tell = (looked: string, step = ''): void => parent.postMessage({ looked, step }, location.origin);

/** A job of the draft that was just opened, every station of it in scope. */
function jobOf(b: Bulletin): OpenJob {
    const id = (i: number): string => `01KQS2CMMEFQ7X44TTBNM${String(i).padStart(5, '0')}`, event = (i: number, type: Event['type'], station: string | null, payload: Event['payload']): Event => ({ id: id(i), type, at_ms: AT_MS + i, technician: 'draft', shop: 'draft', ...(station === null ? {} : { station }), payload } as Event);
    const events = [event(0, 'opened', null, { software: 'draft' }), ...b.scope.stations.map((s, i) => event(i + 1, 'scope_found', s.id, { verdict: 'in', reason: '' }))];
    return { record: { id: 'draft', vin: VIN, bulletin: { id: b.bulletin.id, revision: b.bulletin.revision, sha256: b.sha256 }, invented: b.bulletin.invented, opened_ms: AT_MS }, events, job: replay(events), bulletin: b };
}

/** The app as the screens know it, but for what would be written. */
function idle(app: App, open: OpenJob, acks: ReadonlySet<string>): App {
    const none = () => undefined, typed = new Map<string, string>();
    return Object.assign(Object.create(app) as App, { find: () => open, acks: () => new Set(acks), ack: none, record: () => Promise.resolve(true), saveSettings: () => Promise.resolve(true), workOn: none, draft: (key: string) => typed.get(key) ?? '', setDraft: none, dropDrafts: none, outgoingOf: () => null });
}

function Screen({ app, look }: { app: App; look: Looked }): JSX.Element | null {
    const { bulletin: b, phase } = look, open = useMemo(() => jobOf(b), [b]), task: Task | undefined = tasksOf(b, open.job, new Set(['prepare'])).find((k) => k.kind === 'step' && k.step?.id === look.step);
    const here = `${look.step}/${task?.station ?? ''}`, acks = new Set(['prepare', ...(phase === 'cautions' ? [] : [`read/${here}`]), ...(phase === 'readings' || phase === 'photos' ? [`done/${here}`] : [])]);
    const [failed] = useErrorBoundary(() => tell('failed', look.step));
    useEffect(() => { if (failed === undefined) tell('shown', look.step); });
    useLayoutEffect(() => scrollTo(0, 0), [look.step, phase]);
    if (failed !== undefined || task === undefined) return null;
    const p = { open, task, onward: () => undefined }, photos = photosHere(open, task.step!, task.station);
    return <AppContext.Provider value={idle(app, open, acks)}>{phase === 'photos' && photos.length > 0 ? <PhotoPage {...p} photos={photos} onDone={() => undefined} /> : <StepPage {...p} />}</AppContext.Provider>;
}

function LookPage({ app }: { app: App }): JSX.Element {
    const [look, set] = useState<Looked | null>(null);
    useEffect(() => {
        const come = (e: MessageEvent) => { if (e.origin === location.origin && e.source === parent && (e.data as { look?: Looked } | null)?.look !== undefined) set((e.data as { look: Looked }).look); };
        addEventListener('message', come);
        tell('ready');
        return () => removeEventListener('message', come);
    }, []);
    return <div inert>{look !== null && <Screen key={`${look.bulletin.sha256} ${look.step} ${look.phase}`} app={app} look={look} />}</div>;
}

/** Whether this page was opened to be looked at, in a frame of our own pages. */
export const isLook = (): boolean => parent !== window && location.hash === '#/look';
export function startLook(app: App, at: HTMLElement): void {
    render(<><Hatch /><LookPage app={app} /></>, at);
}
