// photo: the photos of a step, one at a time: take it, hear at once whether it will do, keep it.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { shoot, Shot } from '../photo/photo';
import type { PhotoRecord } from '../store/db';
import type { Key } from '../text';
import { Act, ShapeMark, Title } from './parts';
import { FileButton } from './home';
import { JobFrame, TaskProps } from './job';
import { NotePart } from './step';
import { useApp } from './context';

interface Wanted { id: string; station: string | null; has: boolean }
interface Taken { shot: Shot; url: string; seen: string | null }

export function PhotoPage({ open, task, photos, onDone }: TaskProps & { photos: Wanted[]; onDone: () => void }): JSX.Element {
    const { app, t, say, langOf } = useApp(), { bulletin: b, record } = open, step = task.step!;
    const wanted = photos.find((x) => !x.has) ?? null, photo = wanted === null ? null : b.proof.photos.find((x) => x.id === wanted.id) ?? null;
    const [taken, setTaken] = useState<Taken | null>(null), [state, setState] = useState<'idle' | 'working' | 'bad'>('idle');
    useEffect(() => () => { if (taken !== null) URL.revokeObjectURL(taken.url); }, [taken]);
    const take = async (file: File) => {
        setState('working');
        try {
            const shot = await shoot(app.core, file);
            const like = shot.look.isFlat ? undefined : (await app.db.photos()).find((x) => !x.isFlat && x.hashes.length === 4 && app.core.photosAlike(shot.look.hashes, x.hashes.map(BigInt)));
            const same = like === undefined || (like.job === record.id && plain(like.path) === baseOf(wanted!)) ? null : plain(like.path).replace(/^photos\//, '');
            setTaken({ shot, url: URL.createObjectURL(new Blob([shot.bytes], { type: 'image/jpeg' })), seen: same });
            setState('idle');
        } catch {
            setState('bad');
        }
    };
    const baseOf = (w: Wanted) => `photos/${w.station === null ? '' : w.station + '-'}${w.id}`, plain = (path: string) => path.replace(/(-[0-9a-f]{8})?\.jpg$/, '');
    const keep = async () => {
        // Named by its content as well: two phones may each take the same photo of one job.
        const { shot } = taken!, w = wanted!, path = `${baseOf(w)}-${shot.sha256.slice(0, 8)}.jpg`;
        const row: PhotoRecord = { job: record.id, path, sha256: shot.sha256, bytes: shot.bytes.buffer, hashes: shot.look.hashes.map(String), isFlat: shot.look.isFlat };
        if (!(await app.record(record.id, [{ type: 'photo_taken', station: w.station, payload: { photo: w.id, path, sha256: shot.sha256 } }], [row]))) return;
        setTaken(null);
        if (photos.filter((x) => !x.has).length === 1) onDone();
    };
    if (wanted === null)
        return <JobFrame open={open} task={task} title={t('photo-of')} foot={<Act id="photos-done" onClick={onDone}>{t('go-on')}</Act>}><Title>{t('photo-kept')}</Title></JobFrame>;
    const advice = taken === null ? null : taken.seen !== null ? 'seen' : taken.shot.advice, good = advice === 'good';
    const name = photo === null ? wanted.id : say(b, photo.name);
    return (
        <JobFrame open={open} task={task} title={`${t('lead', { name: t('photo-of') })} ${name}`} foot={taken === null
            ? <FileButton primary id={wanted.id} capture label={t('take-photo')} accept="image/*" onFile={(f) => void take(f)} />
            : <>
                {good ? <Act id="keep" onClick={() => void keep()}>{t('keep-photo')}</Act> : <FileButton primary id={wanted.id} capture label={t('take-another')} accept="image/*" onFile={(f) => void take(f)} />}
                {good ? <FileButton id={wanted.id} capture label={t('take-another')} accept="image/*" onFile={(f) => void take(f)} /> : <button type="button" class="second" data-act="keep-anyway" onClick={() => void keep()}>{t('keep-anyway')}</button>}
            </>}>
            <Title><span lang={photo === null ? undefined : langOf(b, photo.name)}>{name}</span></Title>
            <p class="small">{t('photos-to-go', { n: photos.filter((x) => !x.has).length })} {'\u00b7'} {say(b, step.title)}</p>
            {state === 'working' && <p role="status">{t('photo-working')}</p>}
            {state === 'bad' && <p class="stop-text" role="alert">{t('photo-unreadable')}</p>}
            {taken === null ? <PhotoFrame /> : <img class="photo-now" src={taken.url} alt={name} />}
            {advice !== null && (
                <div class={`row${good ? '' : ' stop'}`} style={{ justifyContent: 'flex-start', flexWrap: 'nowrap' }} role="status" data-advice={advice}>
                    <span style={{ flex: '0 0 40px' }}><ShapeMark shape={good ? 'inside' : 'outside'} /></span>
                    <span style={{ textAlign: 'left', marginLeft: 0 }}><b class={good ? '' : 'stop-text'}>{t(`photo-${advice}` as Key)}</b>{!good && <><br />{t(`photo-${advice}-next` as Key, { what: taken?.seen ?? '' })}</>}<br /><small>{t('photo-advice')}</small></span>
                </div>
            )}
            <p class="small">{t('photo-private')}</p>
            <NotePart open={open} station={task.station} />
        </JobFrame>
    );
}

/** The empty frame that waits for the picture. */
function PhotoFrame(): JSX.Element {
    return (
        <svg class="drawing" viewBox="0 0 320 180" aria-hidden="true">
            <path d="M24 40V20H44M276 20H296V40M296 140V160H276M44 160H24V140" class="d-line" stroke-width="2" />
            <path d="M150 90h20M160 80v20" class="d-fine" />
        </svg>
    );
}
