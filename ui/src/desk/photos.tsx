// photos: what a claim's photos show and say; one large, turned and enlarged; and beside an earlier one that looks alike, with their difference.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Claim, Finding, Photo, photoAt, claim as fetchClaim } from './api';
import { moment } from './show';
import { t } from './text';

/** What the picture says of itself: codes, the camera's clock, size, light, sharpness. */
export function readOut(p: Photo): [string, string][] {
    const found: [string, string][] = [];
    if (p.codes !== null) found.push([t('codes'), p.codes]);
    if (p.taken_ms !== null) found.push([t('taken'), `${moment(p.taken_ms)} UTC`]);
    if (p.width !== null && p.height !== null) found.push([t('size'), `${p.width} \u00d7 ${p.height}${p.bytes === null ? '' : `, ${Math.ceil(p.bytes / 1024)}\u00a0KiB`}`]);
    if (p.exposure !== null) found.push([t('light'), `${Math.round(p.exposure * 100)}\u00a0%`]);
    if (p.sharpness !== null) found.push([t('sharp'), p.sharpness.toFixed(1)]);
    return found;
}

export function Picture({ c, p, title, open, mark }: { c: Claim; p: Photo; title: string; open: () => void; mark?: string | undefined }): JSX.Element {
    const [isBroken, setBroken] = useState(false), found = readOut(p);
    return (
        <figure class={mark === undefined ? '' : 'found'}>
            <button type="button" class="picture" data-photo={p.name} onClick={open} aria-label={t('open-photo', { title })}>
                {isBroken ? <span class="no-picture">{t('no-picture')}</span>
                    : <img src={photoAt(c.claim, p.sha256)} alt="" loading="lazy" width={p.width ?? 640} height={p.height ?? 480} onError={() => setBroken(true)} />}
            </button>
            <figcaption>
                <b>{title}</b>
                {mark !== undefined && <span class="stop-text">{mark}</span>}
                {p.fault !== null && <span class="stop-text">{t('fault', { fault: p.fault })}</span>}
                <span class="soft-text">{found.length === 0 ? t('not-judged') : found.map(([k, v]) => `${k} ${v}`).join(' \u00b7 ')}</span>
            </figcaption>
        </figure>
    );
}

// ---- one, large ----

const ZOOMS = [1, 2, 4, 8] as const;

export function Viewer({ c, list, at, titleOf, go, close }: { c: Claim; list: Photo[]; at: number; titleOf: (p: Photo) => string; go: (at: number) => void; close: () => void }): JSX.Element {
    const p = list[at]!, [zoom, setZoom] = useState(0), [turn, setTurn] = useState(0), box = useRef<HTMLDialogElement>(null);
    useEffect(() => { const d = box.current!; if (!d.open) d.showModal(); return () => { if (d.open) d.close(); }; }, []);
    useEffect(() => { setZoom(0); setTurn(0); }, [at]);
    // What was in the middle stays there.
    useEffect(() => { const s = box.current?.querySelector('.stage'); s?.scrollTo((s.scrollWidth - s.clientWidth) / 2, (s.scrollHeight - s.clientHeight) / 2); }, [zoom, turn]);
    const bigger = (by: number) => setZoom(Math.max(0, Math.min(ZOOMS.length - 1, zoom + by)));
    const key = (e: KeyboardEvent) => {
        const deed: Record<string, () => void> = { '+': () => bigger(1), '=': () => bigger(1), '-': () => bigger(-1), 't': () => setTurn((turn + 90) % 360), '.': () => go(Math.min(list.length - 1, at + 1)), ',': () => go(Math.max(0, at - 1)) };
        const run = e.ctrlKey || e.metaKey || e.altKey ? undefined : deed[e.key];
        if (run !== undefined) { e.preventDefault(); run(); }
        e.stopPropagation(); // Escape closes the photo, not the claim
    };
    return (
        <dialog ref={box} class="viewer" aria-labelledby="viewer-title" onClose={close} onKeyDown={key} data-zoom={ZOOMS[zoom]} data-turn={turn}>
            <header>
                <h2 id="viewer-title">{titleOf(p)}</h2>
                <p class="buttons">
                    <button type="button" data-act="smaller" disabled={zoom === 0} onClick={() => bigger(-1)}>{t('smaller')} <kbd aria-hidden="true">-</kbd></button>
                    <button type="button" data-act="bigger" disabled={zoom === ZOOMS.length - 1} onClick={() => bigger(1)}>{t('bigger')} <kbd aria-hidden="true">+</kbd></button>
                    <button type="button" data-act="turn" onClick={() => setTurn((turn + 90) % 360)}>{t('turn')} <kbd aria-hidden="true">t</kbd></button>
                    <button type="button" data-act="photo-before" disabled={at === 0} onClick={() => go(at - 1)}>{t('photo-before')} <kbd aria-hidden="true">,</kbd></button>
                    <button type="button" data-act="photo-next" disabled={at === list.length - 1} onClick={() => go(at + 1)}>{t('photo-next')} <kbd aria-hidden="true">.</kbd></button>
                    <a href={photoAt(c.claim, p.sha256)} target="_blank" rel="noopener">{t('the-file')}</a>
                    <button type="button" data-act="viewer-close" onClick={() => box.current?.close()}>{t('close')} <kbd aria-hidden="true">Esc</kbd></button>
                </p>
            </header>
            <div class="stage" tabIndex={0} role="group" aria-label={titleOf(p)}><img src={photoAt(c.claim, p.sha256)} alt={titleOf(p)} class={`zoom-${ZOOMS[zoom]} turn-${turn}`} /></div>
            <div class="read-out" tabIndex={0} role="group" aria-label={t('its-name')}><dl class="facts">{readOut(p).map(([k, v]) => <><dt>{k}</dt><dd>{v}</dd></>)}<dt>{t('its-name')}</dt><dd class="code">{p.name}</dd><dt>SHA-256</dt><dd class="code">{p.sha256}</dd></dl></div>
        </dialog>
    );
}

// ---- two that look alike ----

const SIDE = 480;

function load(src: string): Promise<HTMLImageElement> {
    return new Promise((done, failed) => {
        const i = new Image();
        i.onload = () => done(i);
        i.onerror = () => failed(new Error(t('no-picture')));
        i.src = src;
    });
}

/** How far two pictures are apart, point by point, both brought to one size and, colour by colour, to one mean light, so that a lighter copy is
 * no other picture: white for the same, the darker the farther. Returns the share of points that are farther apart than a tenth of full light. For
 * the eye alone: the rules have judged by their own comparison. */
function drawDifference(canvas: HTMLCanvasElement, a: HTMLImageElement, b: HTMLImageElement): number {
    const w = SIDE, h = Math.max(1, Math.round((SIDE * a.naturalHeight) / Math.max(1, a.naturalWidth))), of = (i: HTMLImageElement) => {
        const c = document.createElement('canvas');
        c.width = w;
        c.height = h;
        const g = c.getContext('2d', { willReadFrequently: true })!;
        g.drawImage(i, 0, 0, w, h);
        return g.getImageData(0, 0, w, h);
    };
    const x = of(a), y = of(b), out = new ImageData(w, h);
    let far = 0;
    const shift = [0, 0, 0], n = x.data.length / 4;
    for (let i = 0; i < x.data.length; i++) if (i % 4 < 3) shift[i % 4]! += (x.data[i]! - y.data[i]!) / n;
    for (let i = 0; i < x.data.length; i += 4) {
        const by = (k: number) => Math.abs(x.data[i + k]! - y.data[i + k]! - shift[k]!), d = Math.max(by(0), by(1), by(2));
        if (d > 25) far++;
        out.data[i] = out.data[i + 1] = out.data[i + 2] = 255 - d;
        out.data[i + 3] = 255;
    }
    canvas.width = w;
    canvas.height = h;
    canvas.getContext('2d')!.putImageData(out, 0, 0);
    return far / (x.data.length / 4);
}

/** The photo of this claim, the earlier one that the finding names, and their difference. */
export function Alike({ c, f }: { c: Claim; f: Finding }): JSX.Element | null {
    const mine = c.photos.find((p) => p.name === f.what), [theirs, setTheirs] = useState<{ claim: Claim; photo: Photo } | null>(null), [said, say] = useState(t('loading')), canvas = useRef<HTMLCanvasElement>(null);
    useEffect(() => {
        let isLate = false;
        const run = async () => {
            const other = await fetchClaim(f.other!), photo = other.photos.find((p) => p.name === f.other_what);
            if (isLate) return;
            if (photo === undefined || mine === undefined) { say(t('no-earlier')); return; }
            setTheirs({ claim: other, photo });
            const [a, b] = await Promise.all([load(photoAt(c.claim, mine.sha256)), load(photoAt(other.claim, photo.sha256))]);
            if (isLate || canvas.current === null) return;
            const far = drawDifference(canvas.current, a, b);
            say(mine.sha256 === photo.sha256 ? t('same-file') : t('differ', { share: far < 0.0005 ? '0' : (100 * far).toFixed(1) }));
        };
        run().catch((e: Error) => { if (!isLate) say(e.message); });
        return () => { isLate = true; };
    }, [c.claim, f.other, f.other_what]);
    if (mine === undefined) return null;
    return (
        <div class="alike" data-alike>
            <figure><img src={photoAt(c.claim, mine.sha256)} alt={t('this-photo')} /><figcaption>{t('this-photo')}<span class="soft-text">{mine.taken_ms !== null && `${t('taken')} ${moment(mine.taken_ms)}`}</span></figcaption></figure>
            <figure>{theirs !== null && <img src={photoAt(theirs.claim.claim, theirs.photo.sha256)} alt={t('earlier-photo', { claim: f.other! })} />}
                <figcaption><a href={`#/${f.other}`}>{t('earlier-photo', { claim: f.other! })}</a>{theirs !== null && <span class="soft-text">{theirs.claim.shop ?? t('unknown')}, {moment(theirs.claim.finished_ms)}</span>}</figcaption></figure>
            <figure><canvas ref={canvas} role="img" aria-label={t('difference')} width={SIDE} height={Math.round(SIDE * 0.75)} /><figcaption>{t('difference')}<span class="soft-text" role="status">{said}</span></figcaption></figure>
        </div>
    );
}
