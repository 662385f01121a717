// pack: a job of this phone as a bag: its entries and every photo they name. The same job, day and key give the same bytes.
import { OpenJob, App, SOFTWARE } from '../store/app';
import { Bag, makeBag, signerOf } from './bag';

/** Throws with the names of photos that the entries name and the phone's store does not hold. day: YYYY-MM-DD. */
export async function packJob(app: App, open: OpenJob, day: string): Promise<Bag> {
    const photos = await app.db.photosOf(open.record.id), signer = await signerOf(app.settings.key), now = app.find(open.record.id)!;
    const taken = new Set(now.events.filter((e) => e.type === 'photo_taken').map((e) => String(e.payload['path'])));
    const lost = [...taken].filter((path) => !photos.some((p) => p.path === path));
    if (lost.length > 0) throw new Error(lost.join(', '));
    const files = [
        { path: 'events.json', bytes: new Uint8Array(new TextEncoder().encode(app.eventsText(now))) },
        ...photos.filter((p) => taken.has(p.path)).map((p) => ({ path: p.path, bytes: new Uint8Array(p.bytes) })),
    ];
    return makeBag(files, day, SOFTWARE, signer);
}

export const today = (): string => new Date().toISOString().slice(0, 10);
