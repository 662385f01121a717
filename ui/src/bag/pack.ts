// pack: a job of this phone as a bag: its entries and every photo they name. The same job, day and key give the same bytes.
import { OpenJob, App, SOFTWARE } from '../store/app';
import type { PhotoRecord } from '../store/db';
import { Bag, makeBag, signerOf } from './bag';

/** Photos that entries which stand name and the phone's store does not hold, by path. One that was taken back is no loss. */
export function lostPhotos(open: OpenJob, photos: readonly PhotoRecord[]): string[] {
    const wanted = open.job.order.filter((o) => o.event.type === 'photo_taken').map((o) => o.event.payload);
    return wanted.filter((w) => !photos.some((p) => p.path === w['path'] && p.sha256 === w['sha256'])).map((w) => String(w['path']));
}

/** Throws with the names of lost photos. day: YYYY-MM-DD. */
export async function packJob(app: App, open: OpenJob, day: string): Promise<Bag> {
    app.showHeld(open.record.id);
    const photos = await app.db.photosOf(open.record.id), signer = await signerOf(app.settings.key), now = app.find(open.record.id)!;
    const taken = new Set(now.events.filter((e) => e.type === 'photo_taken').map((e) => String(e.payload['path']))), lost = lostPhotos(now, photos);
    if (lost.length > 0) throw new Error(lost.join(', '));
    const files = [
        { path: 'events.json', bytes: new Uint8Array(new TextEncoder().encode(app.eventsText(now))) },
        ...photos.filter((p) => taken.has(p.path)).map((p) => ({ path: p.path, bytes: new Uint8Array(p.bytes) })),
    ];
    return makeBag(files, day, SOFTWARE, signer);
}

export const today = (): string => new Date().toISOString().slice(0, 10);
