// db: the phone's own store (IndexedDB). Owns what is kept where, and one promise: when a write has returned, it survives the
// browser being killed. Knows nothing of what the records mean.
import type { Bulletin } from '../bulletin/types';
import type { Event } from '../job/events';

export interface JobRecord {
    id: string; vin: string; bulletin: { id: string; revision: number; sha256: string }; invented: boolean; opened_ms: number;
}
export interface PhotoRecord { job: string; path: string; sha256: string; bytes: ArrayBuffer; hashes: string[]; isFlat: boolean }
export interface ShopKey { shop: string; publicHex: string; pkcs8: ArrayBuffer }
export interface Settings {
    technician: string; shop: string; system: 'mm' | 'in'; language: string; mirrored: boolean; key: ShopKey | null;
}

/** A picture of a bulletin's step, as the server keeps it. bulletin: its digest. */
export interface PictureRecord { bulletin: string; file: string; type: string; bytes: ArrayBuffer }

const STORES = ['jobs', 'events', 'photos', 'bulletins', 'settings', 'drafts', 'pictures'] as const;
type Store = (typeof STORES)[number];

function asked<T>(request: IDBRequest<T>): Promise<T> {
    return new Promise((resolve, reject) => {
        request.onsuccess = () => resolve(request.result);
        request.onerror = () => reject(request.error ?? new Error('the store failed'));
    });
}

export class Db {
    private constructor(private readonly idb: IDBDatabase) {}

    static async open(name = 'mendwright'): Promise<Db> {
        const request = indexedDB.open(name, 2);
        request.onupgradeneeded = () => {
            const db = request.result, keys: Record<Store, IDBObjectStoreParameters> = {
                jobs: { keyPath: 'id' }, events: { keyPath: ['job', 'event.id', 'event.at_ms'] }, photos: { keyPath: ['job', 'path'] }, bulletins: { keyPath: 'sha256' }, settings: {}, drafts: {},
                pictures: { keyPath: ['bulletin', 'file'] },
            };
            for (const store of STORES) if (!db.objectStoreNames.contains(store)) db.createObjectStore(store, keys[store]); // an older phone has fewer
        };
        const idb = await asked(request);
        // Another tab brings a newer layout: step aside rather than hold it up.
        idb.onversionchange = () => idb.close();
        return new Db(idb);
    }

    /** strict: returned only when the bytes are on the disk, as far as the browser can know. */
    private write(stores: Store[], act: (get: (s: Store) => IDBObjectStore) => void): Promise<void> {
        return new Promise((resolve, reject) => {
            const t = this.idb.transaction(stores, 'readwrite', { durability: 'strict' });
            t.oncomplete = () => resolve();
            t.onerror = t.onabort = () => reject(t.error ?? new Error('the store failed'));
            act((s) => t.objectStore(s));
        });
    }

    private all<T>(store: Store): Promise<T[]> {
        return asked(this.idb.transaction(store, 'readonly').objectStore(store).getAll() as IDBRequest<T[]>);
    }

    jobs(): Promise<JobRecord[]> { return this.all('jobs'); }
    async events(): Promise<Map<string, Event[]>> {
        const by = new Map<string, Event[]>();
        for (const row of await this.all<{ job: string; event: Event }>('events')) by.set(row.job, [...(by.get(row.job) ?? []), row.event]);
        return by;
    }
    bulletins(): Promise<Bulletin[]> { return this.all('bulletins'); }
    photosOf(job: string): Promise<PhotoRecord[]> {
        return asked(this.idb.transaction('photos', 'readonly').objectStore('photos').getAll(IDBKeyRange.bound([job, ''], [job, '\uffff'])) as IDBRequest<PhotoRecord[]>);
    }
    photos(): Promise<PhotoRecord[]> { return this.all('photos'); }
    settings(): Promise<Settings | undefined> {
        return asked(this.idb.transaction('settings', 'readonly').objectStore('settings').get('all') as IDBRequest<Settings | undefined>);
    }
    async drafts(): Promise<Map<string, string>> {
        const store = this.idb.transaction('drafts', 'readonly').objectStore('drafts');
        const [keys, values] = await Promise.all([asked(store.getAllKeys()), asked(store.getAll() as IDBRequest<string[]>)]);
        return new Map(keys.map((k, i) => [String(k), values[i]!]));
    }

    /** A job, its events and photos: all of it or nothing. */
    add(job: JobRecord | null, id: string, events: readonly Event[], photos: readonly PhotoRecord[] = []): Promise<void> {
        return this.write(['jobs', 'events', 'photos'], (get) => {
            if (job !== null) get('jobs').put(job);
            for (const event of events) get('events').put({ job: id, event });
            for (const photo of photos) get('photos').put(photo);
        });
    }
    putBulletin(b: Bulletin): Promise<void> { return this.write(['bulletins'], (get) => { get('bulletins').put(b); }); }
    putPicture(p: PictureRecord): Promise<void> { return this.write(['pictures'], (get) => { get('pictures').put(p); }); }
    async picture(bulletin: string, file: string): Promise<PictureRecord | null> {
        return (await asked(this.idb.transaction('pictures', 'readonly').objectStore('pictures').get([bulletin, file]) as IDBRequest<PictureRecord | undefined>)) ?? null;
    }
    dropBulletins(sha256s: readonly string[]): Promise<void> { return this.write(['bulletins'], (get) => { for (const sha256 of sha256s) get('bulletins').delete(sha256); }); }
    putSettings(s: Settings): Promise<void> { return this.write(['settings'], (get) => { get('settings').put(s, 'all'); }); }
    /** What stands in a field that is not yet an event; '' forgets it. */
    putDrafts(rows: readonly (readonly [string, string])[]): Promise<void> {
        return this.write(['drafts'], (get) => { for (const [key, value] of rows) if (value === '') get('drafts').delete(key); else get('drafts').put(value, key); });
    }
}
