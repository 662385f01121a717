// keep: where games and results of the practice pages lie on this phone: a database of their own, so that the first load knows nothing of it. A write that
// has returned survives the browser being killed. Knows nothing of what the records mean.
import type { GameRecord, ResultRecord } from './game';

const STORES = { games: 'key', results: 'id', sets: 'key' } as const;
type Store = keyof typeof STORES;

function asked<T>(request: IDBRequest<T>): Promise<T> {
    return new Promise((resolve, reject) => {
        request.onsuccess = () => resolve(request.result);
        request.onerror = () => reject(request.error ?? new Error('the store failed'));
    });
}

export class Keep {
    private constructor(private readonly idb: IDBDatabase) {}

    static async open(): Promise<Keep> {
        const request = indexedDB.open('mendwright-practice', 1);
        request.onupgradeneeded = () => { for (const [name, keyPath] of Object.entries(STORES)) request.result.createObjectStore(name, { keyPath }); };
        const idb = await asked(request);
        idb.onversionchange = () => idb.close();
        return new Keep(idb);
    }

    private write(store: Store, act: (s: IDBObjectStore) => void): Promise<void> {
        return new Promise((resolve, reject) => {
            const t = this.idb.transaction(store, 'readwrite', { durability: 'strict' });
            t.oncomplete = () => resolve();
            t.onerror = t.onabort = () => reject(t.error ?? new Error('the store failed'));
            act(t.objectStore(store));
        });
    }
    private all<T>(store: Store): Promise<T[]> { return asked(this.idb.transaction(store, 'readonly').objectStore(store).getAll() as IDBRequest<T[]>); }

    games(): Promise<GameRecord[]> { return this.all('games'); }
    results(): Promise<ResultRecord[]> { return this.all('results'); }
    /** Sets that a server gave, as it gave them. */
    async sets(): Promise<unknown[]> { return (await this.all<{ key: string; list: unknown[] }>('sets')).flatMap((r) => r.list); }
    putGame(g: GameRecord): Promise<void> { return this.write('games', (s) => { s.put(g); }); }
    dropGame(key: string): Promise<void> { return this.write('games', (s) => { s.delete(key); }); }
    putResult(r: ResultRecord): Promise<void> { return this.write('results', (s) => { s.put(r); }); }
    putSets(list: unknown[]): Promise<void> { return this.write('sets', (s) => { s.put({ key: 'server', list }); }); }
}
