// scan: the scanning screen: the live picture, what is seen in it, and the ways round it (a photo, typing). What is read goes into the
// same field that typing fills and is checked there; nothing is taken in here.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { readLabel } from '../bulletin/adapt';
import type { Bulletin } from '../bulletin/types';
import { Camera, CameraError, CameraFault, Frame as Picture, greyPicture } from '../scan/camera';
import type { Reader } from '../scan/codes';
import { Code, Meaning, meaningOf, shownCode, Twice } from '../scan/meaning';
import type { OpenJob } from '../store/app';
import type { Key } from '../text';
import { FileButton } from './home';
import { Act, Frame, Title, VerdictLine } from './parts';
import { go, Tools, useApp } from './context';

/** Rest between two looks, so that a slow phone still answers to the finger. */
const REST_MS = 120;
/** A photo is looked at in these sizes, longer side in pixels, until something is found. */
const PHOTO_SIDES = [1600, 1000, 600];

type State = 'starting' | 'looking' | 'no-reader' | CameraFault;

/** What a code is to whoever scans: taken (the screen is left), or why not. */
interface Wanted {
    title: string; hint: string; back: string; invented: boolean;
    /** '': taken; else what to say of it. */
    take(code: Code): string;
    /** Takes it all the same; null: it cannot be. */
    insist: ((code: Code) => void) | null;
}

/** Whether a scanned text stands in this field still, and what is said beside it then. */
export interface Scanned { text: string; kind: Code['kind']; isImport: boolean; bulletin: string }
export function scannedIn(tools: Tools, key: string, text: string): Scanned | null {
    const kept = tools.app.draft(key);
    if (kept === '' || text === '') return null;
    const scanned = JSON.parse(kept) as Scanned;
    return scanned.text === text ? scanned : null;
}
export function ScannedNote({ scanned }: { scanned: Scanned | null }): JSX.Element | null {
    const { t } = useApp();
    return scanned === null ? null : <p class="small" data-scanned role="status">{t('scanned', { kind: scanned.kind })}{scanned.isImport && ` ${t('scanned-import')}`}</p>;
}

/** No step back into the camera: the scanning screen's place in the history is given to where it leads. */
const leave = (path: string): void => location.replace('#/' + path);

/** The bulletin that a code names: its revision when it is here, else the newest that is. list: the app's, the newest of a name first. */
function bulletinOf(list: Bulletin[], meaning: Extract<Meaning, { is: 'job' }>): Bulletin | undefined {
    const same = list.filter((b) => b.bulletin.id === meaning.bulletin);
    return same.find((b) => b.bulletin.revision === meaning.revision) ?? same[0];
}

function wantsJob(tools: Tools): Wanted {
    const { app, t } = tools;
    return {
        title: t('scan-open'), hint: `${t('scan-open-what')} ${t('scan-hold')}`, back: 'open', invented: false, insist: null,
        take: (code) => {
            const meaning = meaningOf(code.text, location.origin);
            if (meaning.is === 'other') return t('scan-not-vin', { text: shownCode(code.text) });
            if (meaning.is === 'join') {
                leave(meaning.path);
                return '';
            }
            const bulletin = meaning.is === 'job' ? bulletinOf(app.bulletins, meaning) : undefined;
            const isMissing = meaning.is === 'job' && meaning.bulletin !== '' && bulletin === undefined;
            if (meaning.vin !== '') app.setDraft('open/vin', meaning.vin);
            if (bulletin !== undefined) app.setDraft('open/bulletin', bulletin.sha256);
            const note: Scanned = { text: meaning.vin, kind: code.kind, isImport: meaning.is === 'vin' && meaning.isImport, bulletin: isMissing && meaning.is === 'job' ? meaning.bulletin : '' };
            app.setDraft('open/scanned', JSON.stringify(note));
            leave('open');
            return '';
        },
    };
}

function wantsLabel(tools: Tools, open: OpenJob, station: string): Wanted {
    const { app, t, stationName } = tools, b = open.bulletin, back = `j/${open.record.id}/label/${station}`, key = `${open.record.id}/label/${station}`;
    const fill = (code: Code) => {
        const text = shownCode(code.text).toUpperCase();
        app.setDraft(key, text);
        app.setDraft(`${key}/scanned`, JSON.stringify({ text, kind: code.kind, isImport: false, bulletin: '' } satisfies Scanned));
        leave(back);
    };
    return {
        title: t('label-title', { station: stationName(b, station) }), hint: t('scan-hold'), back, invented: open.record.invented, insist: fill,
        take: (code) => {
            try {
                readLabel(app.core, b, shownCode(code.text).toUpperCase());
            } catch {
                return t('scan-not-label', { text: shownCode(code.text) });
            }
            fill(code);
            return '';
        },
    };
}

/** rest: "open", or "label/JOB/STATION". */
export function ScanPage({ rest }: { rest: string[] }): JSX.Element | null {
    const tools = useApp(), open = rest[0] === 'label' ? tools.app.find(decodeURIComponent(rest[1] ?? '')) : null;
    const station = open?.bulletin.scope.stations.find((s) => s.id === rest[2]);
    if (open !== null && station !== undefined) return <Finder wanted={wantsLabel(tools, open, station.id)} />;
    return <Finder wanted={wantsJob(tools)} />;
}

/** The reader's bundle, once. Some browsers keep a failed import for as long as the page lives: trying again loads the page anew. */
let reader: Promise<Reader> | null = null;
function theReader(): Promise<Reader> {
    reader ??= import('../scan/codes').then((m) => m.Reader.load()).catch((e: unknown) => { reader = null; throw e; });
    return reader;
}

interface Watch { camera: Camera | null; state: State; device: string; setDevice: (device: string) => void; again: () => void }

/** Keeps the camera on while the screen is seen and off otherwise, and hands every look to `see`, which says whether to go on. */
function useCamera(video: { current: HTMLVideoElement | null }, see: (codes: Code[]) => boolean): Watch {
    const [state, setState] = useState<State>('starting'), [camera, setCamera] = useState<Camera | null>(null), [device, setDevice] = useState(''), [turn, setTurn] = useState(0);
    const look = useRef(see);
    look.current = see;
    useEffect(() => {
        let isOver = false, timer = 0, open: Camera | null = null;
        const off = () => { isOver = true; clearTimeout(timer); open?.stop(); setCamera(null); };
        const hidden = () => { if (document.visibilityState === 'hidden') off(); else if (isOver) setTurn((n) => n + 1); };
        const round = async (codes: Reader): Promise<void> => {
            const frame = open?.grab() ?? null;
            const found = frame === null ? [] : await codes.read(frame.grey, frame.width, frame.height);
            if (!isOver && look.current(found)) timer = window.setTimeout(() => void round(codes).catch(() => setState('failed')), REST_MS);
        };
        const start = async () => {
            setState('starting');
            let codes: Reader;
            try { codes = await theReader(); } catch { if (!isOver) setState('no-reader'); return; }
            if (isOver) return;
            try {
                open = await Camera.open(video.current!, device, () => { if (!isOver) { off(); setState('busy'); } });
            } catch (e) {
                if (!isOver) setState(e instanceof CameraError ? e.fault : 'failed');
                return;
            }
            if (isOver) return open.stop();
            setCamera(open);
            setState('looking');
            await round(codes);
        };
        document.addEventListener('visibilitychange', hidden);
        addEventListener('pagehide', off);
        if (document.visibilityState !== 'hidden') void start().catch(() => setState('failed'));
        return () => {
            document.removeEventListener('visibilitychange', hidden);
            removeEventListener('pagehide', off);
            off();
        };
    }, [device, turn]);
    return { camera, state, device, setDevice, again: () => setTurn((n) => n + 1) };
}

function Finder({ wanted }: { wanted: Wanted }): JSX.Element {
    const { t } = useApp();
    const video = useRef<HTMLVideoElement>(null), twice = useRef(new Twice());
    const [other, setOther] = useState<{ code: Code; why: string } | null>(null), [said, setSaid] = useState('');
    /** The first code that is wanted; of several the others do not matter. */
    const takeOne = (codes: Code[]): boolean => {
        let last: { code: Code; why: string } | null = null;
        for (const code of codes) {
            const why = wanted.take(code);
            if (why === '') return true;
            last = { code, why };
        }
        if (last !== null) setOther(last);
        return false;
    };
    const watch = useCamera(video, (codes) => !takeOne(twice.current.believed(codes)));
    const photo = async (file: File) => {
        setSaid(t('photo-working'));
        setOther(null);
        let picture: ImageBitmap | null = null;
        try {
            picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
        } catch {
            return setSaid(t('photo-unreadable'));
        }
        try {
            const codes = await inPhoto(await theReader(), picture);
            setSaid(codes.length === 0 ? t('scan-photo-none') : '');
            takeOne(codes);
        } catch {
            setSaid(t('scan-no-reader'));
        } finally {
            picture.close();
        }
    };
    const isOn = watch.state === 'starting' || watch.state === 'looking';
    return (
        <Frame title={wanted.title} back={wanted.back} where={<b>{t('scan')}</b>} invented={wanted.invented} foot={
            <>
                {isOn ? null : <Act id="scan-type" onClick={() => leave(wanted.back)}>{t('scan-type')}</Act>}
                <FileButton id="scan-photo" label={t('scan-photo')} accept="image/*" onFile={(f) => void photo(f)} />
                {isOn ? <button type="button" class="second" data-act="scan-type" onClick={() => leave(wanted.back)}>{t('scan-type')}</button>
                    : <button type="button" class="second" data-act="scan-again" onClick={watch.state === 'no-reader' ? () => location.reload() : watch.again}>{t('scan-again')}</button>}
            </>
        }>
            {isOn ? <Title>{wanted.title}</Title> : (
                <VerdictLine shape="stop" word={t(`scan-${watch.state}` as Key)}><p>{t(`scan-${watch.state}-next` as Key)}</p></VerdictLine>
            )}
            <div class="finder" hidden={!isOn} data-camera={watch.state}>
                <video ref={video} muted playsInline autoplay aria-label={t('scan-live')} />
                <svg viewBox="0 0 320 240" preserveAspectRatio="none" aria-hidden="true">
                    <path d="M16 52V28H44M276 28H304V52M304 188V212H276M44 212H16V188" class="finder-line" />
                    <path d="M36 120h8M276 120h8" class="finder-line" />
                </svg>
            </div>
            {isOn && <Extras watch={watch} />}
            {isOn && <p class="say" role="status" data-scan>{watch.state === 'starting' ? t('scan-starting') : wanted.hint}</p>}
            {said !== '' && <p class="say" role="status" data-scan-photo>{said}</p>}
            {other !== null && <Stranger why={other.why} insist={wanted.insist === null ? null : () => wanted.insist!(other.code)} />}
        </Frame>
    );
}

/** A code that is not what is looked for: said, and the camera goes on. */
function Stranger(p: { why: string; insist: (() => void) | null }): JSX.Element {
    const { t } = useApp();
    return (
        <div class="rows" role="status" data-other><div>
            <p>{p.why}</p>
            {p.insist !== null && <button type="button" class="second" data-act="scan-insist" onClick={p.insist}>{t('scan-insist')}</button>}
        </div></div>
    );
}

/** The light, and the next camera, where there are such. */
function Extras({ watch: { camera, setDevice } }: { watch: Watch }): JSX.Element | null {
    const { t } = useApp(), [isLit, setLit] = useState(false);
    useEffect(() => setLit(false), [camera]);
    const next = camera?.next ?? null;
    if (camera === null || (!camera.hasLight && next === null)) return null;
    const light = () => void camera.light(!isLit).then((good) => { if (good) setLit(!isLit); });
    return (
        <div class="choices">
            {camera.hasLight && <button type="button" data-act="light" aria-pressed={isLit} onClick={light}>{t('scan-light')}</button>}
            {next !== null && <button type="button" data-act="next-camera" onClick={() => setDevice(next)}>{t('scan-other-camera')}</button>}
        </div>
    );
}

async function inPhoto(codes: Reader, picture: ImageBitmap): Promise<Code[]> {
    for (const side of PHOTO_SIDES) {
        const frame: Picture = greyPicture(picture, picture.width, picture.height, side), found = await codes.read(frame.grey, frame.width, frame.height);
        if (found.length > 0) return found;
    }
    return [];
}

/** The button beside a field that the camera can fill. */
export function ScanButton({ to }: { to: string }): JSX.Element {
    const { t } = useApp();
    return <button type="button" class="second" data-act="scan" onClick={() => go(`scan/${to}`)}>{t('scan-it')}</button>;
}
