// app: everything the screens show, and the only way to change it. Owns the order "write, then show": no event, photo or
// setting is on the screen before it is in the phone's store. Computes nothing; asks the core, the bulletin and the replay.
import { Core } from '../core/core';
import { Bulletin, isBulletin } from '../bulletin/types';
import { checkEvent, Event, EventFile, EventType, mergeEvents, Payload, writeEvents } from '../job/events';
import { Job, replay } from '../job/replay';
import { Db, JobRecord, PhotoRecord, Settings } from './db';

export interface OpenJob { record: JobRecord; events: Event[]; job: Job; bulletin: Bulletin }
/** A bag on its way to the server: detail is how far, why it waits, why it was refused, or the claim. day goes into the bag. */
export interface Outgoing { state: 'waiting' | 'sent' | 'refused'; day: string; detail: string }
/** storage-full, store: an entry was not recorded; typing-full, typing: what was typed is on the screen and not yet on the disk. */
export interface Trouble { kind: 'storage-full' | 'store' | 'typing-full' | 'typing'; detail: string }

/** By the ends of their names, which the bulletin's check holds to these; and PICTURE_MAX of the program (desk/pictures.h). */
const PICTURE_TYPES: Record<string, string> = { png: 'image/png', jpg: 'image/jpeg', jpeg: 'image/jpeg', svg: 'image/svg+xml' }, PICTURE_MAX = 3 << 20;

const TRY_AGAIN_MS = 3000, CLOCK_SET_MS = 60000;
const isFull = (e: unknown): boolean => e instanceof DOMException && e.name === 'QuotaExceededError';

export const SOFTWARE = 'mendwright bench 0.1.0';

const DEFAULTS: Settings = { technician: '', shop: '', system: 'mm', language: 'en', mirrored: false, key: null };

function firstLanguage(): string {
    const known = ['en', 'es', 'fr'];
    return navigator.languages.map((l) => l.split('-')[0]!).find((l) => known.includes(l)) ?? 'en';
}

/** By name; of one bulletin the newest revision first, for whoever looks for it by name alone must find that one. */
const byName = (a: Bulletin, b: Bulletin): number => (a.bulletin.id === b.bulletin.id ? b.bulletin.revision - a.bulletin.revision : a.bulletin.id < b.bulletin.id ? -1 : 1);

export class App {
    settings: Settings = DEFAULTS;
    bulletins: Bulletin[] = [];
    jobs: OpenJob[] = [];
    trouble: Trouble | null = null;
    update: (() => void) | null = null; // a newer version of the pages waits; calling this takes it
    /** When the server was last heard: its time less this phone's, and what the clock and the page's own stopwatch showed then. */
    private heard: { ahead_ms: number; wall_ms: number; run_ms: number } | null = null;
    /** How many pictures have come since these pages were opened: a screen that waits for one looks again. */
    pictures = 0;
    private writes = 0;
    /** Typed, dropped or ticked, and not (yet) on the disk: it stands in memory and is tried again until it is. */
    private readonly unkept = new Map<string, string>();
    private again = 0; // the timer of the next try; 0: nothing has failed
    private drafts = new Map<string, string>();
    private atWork = ''; // the job whose task is on the screen
    private held = new Map<string, Event[]>(); // from other phones: in the store, not yet on the screen
    private readonly listeners = new Set<() => void>();
    private readonly channel = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel('mendwright');

    private constructor(readonly core: Core, readonly db: Db) {
        addEventListener('beforeunload', (e) => { if (this.again !== 0) e.preventDefault(); }); // the browser asks before it forgets
        if (this.channel !== null) this.channel.onmessage = () => void this.load().then(() => this.tell());
    }

    static async start(core: Core, db: Db): Promise<App> {
        const app = new App(core, db);
        await app.load();
        return app;
    }

    private async load(): Promise<void> {
        const [settings, bulletins, jobs, events, drafts] = await Promise.all([this.db.settings(), this.db.bulletins(), this.db.jobs(), this.db.events(), this.db.drafts()]);
        this.settings = { ...DEFAULTS, language: firstLanguage(), system: navigator.language === 'en-US' ? 'in' : 'mm', ...settings };
        this.bulletins = bulletins.sort(byName);
        this.drafts = drafts;
        for (const [key, value] of this.unkept) if (value === '') drafts.delete(key); else drafts.set(key, value);
        this.held.clear();
        this.jobs = jobs.flatMap((record) => {
            const bulletin = bulletins.find((b) => b.sha256 === record.bulletin.sha256);
            const list = events.get(record.id) ?? [];
            return bulletin === undefined ? [] : [{ record, events: list, job: replay(list), bulletin }];
        }).sort((a, b) => b.record.opened_ms - a.record.opened_ms);
    }

    subscribe(f: () => void): () => void {
        this.listeners.add(f);
        return () => this.listeners.delete(f);
    }
    private tell(): void { this.listeners.forEach((f) => f()); }

    /** Runs a write; a failure is shown and nothing moves on. */
    private async written(act: () => Promise<void>): Promise<boolean> {
        this.busy(1);
        try {
            await act();
        } catch (e) {
            this.trouble = { kind: isFull(e) ? 'storage-full' : 'store', detail: String(e) };
            this.busy(-1);
            this.tell();
            return false;
        }
        this.busy(-1);
        this.trouble = null;
        if (this.again !== 0) this.keepDrafts();
        this.channel?.postMessage('changed');
        this.tell();
        return true;
    }

    /** A write that nobody here asked for: it neither tells of a failure, as if an entry were lost, nor takes such a word off the screen. */
    private async quietly(act: () => Promise<void>): Promise<boolean> {
        this.busy(1);
        const good = await act().then(() => true, () => false);
        this.busy(-1);
        if (good) this.channel?.postMessage('changed');
        this.tell();
        return good;
    }

    /** How many writes are under way, on the page's root: for whoever watches from outside. */
    private busy(by: number): void {
        this.writes += by;
        document.documentElement.dataset['writes'] = String(this.writes);
    }

    setUpdate(take: () => void): void {
        this.update = take;
        this.tell();
    }

    // ---- settings, drafts, what was read on this phone ----

    saveSettings(change: Partial<Settings>): Promise<boolean> {
        const next = { ...this.settings, ...change };
        return this.written(async () => {
            await this.db.putSettings(next);
            this.settings = next;
        });
    }

    draft(key: string): string { return this.drafts.get(key) ?? ''; }
    /** Kept at once in memory, and in the store before anything else is asked of it; not told to the screens. */
    setDraft(key: string, value: string): void {
        if (value === '') this.drafts.delete(key);
        else this.drafts.set(key, value);
        this.unkept.set(key, value);
        this.keepDrafts([key]);
    }
    dropDrafts(prefix: string): void {
        const keys = [...this.drafts.keys()].filter((k) => k.startsWith(prefix));
        if (keys.length === 0) return;
        keys.forEach((k) => { this.drafts.delete(k); this.unkept.set(k, ''); });
        this.keepDrafts(keys);
        this.tell();
    }
    /** Whether what is wrong is about what is typed, not about an entry, which matters more. */
    private get isTyping(): boolean { return this.trouble?.kind === 'typing' || this.trouble?.kind === 'typing-full'; }
    /** Writes what is not on the disk yet; what fails stays, is told, and is tried again by itself. */
    private keepDrafts(keys: Iterable<string> = [...this.unkept.keys()]): void {
        const rows = [...keys].flatMap((key): [string, string][] => (this.unkept.has(key) ? [[key, this.unkept.get(key)!]] : []));
        this.busy(1);
        void this.db.putDrafts(rows).then(() => {
            for (const [key, value] of rows) if (this.unkept.get(key) === value) this.unkept.delete(key);
            if (this.again === 0 || this.unkept.size > 0) return;
            clearTimeout(this.again);
            this.again = 0;
            if (this.isTyping) this.trouble = null;
            this.tell();
        }, (e: unknown) => {
            if (this.trouble === null || this.isTyping) this.trouble = { kind: isFull(e) ? 'typing-full' : 'typing', detail: String(e) };
            clearTimeout(this.again);
            this.again = window.setTimeout(() => this.keepDrafts(), TRY_AGAIN_MS);
            this.tell();
        }).finally(() => this.busy(-1));
    }
    acks(job: string): Set<string> {
        const prefix = `ack/${job}/`;
        return new Set([...this.drafts.keys()].filter((k) => k.startsWith(prefix)).map((k) => k.slice(prefix.length)));
    }
    ack(job: string, what: string, is = true): void {
        this.setDraft(`ack/${job}/${what}`, is ? '1' : '');
        this.tell();
    }

    // ---- what is on its way to the server ----

    outgoingOf(job: string): Outgoing | null {
        const text = this.draft(`outbox/${job}`);
        return text === '' ? null : JSON.parse(text) as Outgoing;
    }
    outgoing(): [string, Outgoing][] {
        return [...this.drafts.keys()].filter((k) => k.startsWith('outbox/')).map((k) => [k.slice(7), JSON.parse(this.drafts.get(k)!) as Outgoing]);
    }
    /** Kept in the phone's store before this comes back. */
    setOutgoing(job: string, value: Outgoing): Promise<boolean> { return this.keepRow(`outbox/${job}`, JSON.stringify(value)); }
    private keepRow(key: string, text: string): Promise<boolean> {
        return this.written(async () => {
            await this.db.putDrafts([[key, text]]);
            this.drafts.set(key, text);
        });
    }
    /** A draft that nobody here typed, in the phone's store before this comes back. */
    keepQuietly(key: string, text: string): Promise<boolean> {
        return this.quietly(async () => {
            await this.db.putDrafts([[key, text]]);
            this.drafts.set(key, text);
        });
    }

    // ---- bulletins ----

    async addBulletin(value: unknown): Promise<boolean> {
        if (!isBulletin(value)) return false;
        return this.written(async () => {
            await this.db.putBulletin(value);
            this.bulletins = [...this.bulletins.filter((b) => b.sha256 !== value.sha256), value].sort(byName);
        });
    }

    /** Bulletins that a server offers, by its interface where there is one and the reader may, else as plain files beside the pages;
     * with no network those that are kept stay as they are. false: something is missing that may come when it is
     * asked for again. */
    async fetchBulletins(base: string): Promise<boolean> {
        const json = async (url: URL): Promise<unknown> => {
            const answer = await fetch(url, { cache: 'no-cache', headers: { accept: 'application/json' } });
            if (answer.status === 429 || answer.status >= 500) throw new TypeError(`${url.pathname}: ${answer.status}`);
            return answer.ok ? answer.json() : null;
        };
        type Index = { bulletins: { sha256: string; file?: string; id?: string; revision?: number }[] } | null;
        try {
            let isWhole = true;
            const api = (await json(new URL('/api/v1/bulletins', base)).catch(() => { isWhole = false; return null; })) as Index, index = api ?? ((await json(new URL('bulletins/index.json', base))) as Index);
            for (const each of index?.bulletins ?? []) {
                const place = each.file === undefined ? new URL(`/api/v1/bulletins/${encodeURIComponent(each.id ?? '')}/${each.revision ?? 0}`, base) : new URL(`bulletins/${each.file}`, base);
                if (!this.bulletins.some((b) => b.sha256 === each.sha256)) await this.addBulletin(await json(place));
                const bulletin = this.bulletins.find((b) => b.sha256 === each.sha256);
                if (bulletin === undefined) isWhole = false;
                else await this.fetchPictures(bulletin, each.file === undefined ? `${place.href}/pictures/` : new URL(`bulletins/${each.sha256}/`, base).href);
            }
            return isWhole;
        } catch {
            return false; // no network, or a server without bulletins: nothing is lost by that
        }
    }

    /** Whether that bulletin is here. One that is not is asked for: it may have come out since, or its list was lost on the way. */
    async seekBulletin(sha256: string, base: string): Promise<boolean> {
        const isHere = () => this.bulletins.some((b) => b.sha256 === sha256);
        if (!isHere()) await this.fetchBulletins(base);
        return isHere();
    }

    /** The pictures of its steps that are not here yet. One that cannot be had is asked for again next time. */
    private async fetchPictures(b: Bulletin, folder: string): Promise<void> {
        for (const file of new Set(b.steps.flatMap((s) => (s.picture === null ? [] : [s.picture.file])))) {
            if ((await this.db.picture(b.sha256, file)) !== null) continue;
            const answer = await fetch(folder + encodeURIComponent(file), { cache: 'no-cache' }), type = PICTURE_TYPES[file.split('.').pop()!];
            if (!answer.ok || type === undefined) continue;
            const bytes = await answer.arrayBuffer();
            if (bytes.byteLength <= PICTURE_MAX) await this.written(async () => {
                await this.db.putPicture({ bulletin: b.sha256, file, type, bytes });
                this.pictures++;
            });
        }
    }

    // ---- jobs ----

    find(id: string): OpenJob | null { return this.jobs.find((j) => j.record.id === id) ?? null; }

    private lastOwn: { id: string; at_ms: number } | null = null;
    /** Name and time of the next event: both never before those of the last one made here, whatever the clock does. */
    private stamp(): { id: string; at_ms: number } {
        if (this.lastOwn === null)
            for (const e of this.jobs.flatMap((j) => j.events).filter((x) => x.technician === this.settings.technician && x.shop === this.settings.shop))
                if (this.lastOwn === null || e.id > this.lastOwn.id) this.lastOwn = { id: e.id, at_ms: e.at_ms };
        const now = Date.now(), at_ms = Math.max(now, this.lastOwn?.at_ms ?? 0);
        const id = this.core.ulidNext(this.lastOwn?.id ?? '', at_ms, crypto.getRandomValues(new Uint8Array(10)));
        this.lastOwn = { id, at_ms };
        return { id, at_ms };
    }
    /** By how much this phone's clock now shows an earlier time than the last event made here, milliseconds; 0 when it does not. */
    clockBehind(): number {
        const last = this.jobs.flatMap((j) => j.events).filter((e) => e.technician === this.settings.technician && e.shop === this.settings.shop)
            .reduce((m, e) => Math.max(m, e.at_ms), 0);
        return Math.max(0, last - Date.now());
    }

    /** Asks the server what time it is, by the Date of any answer (RFC 9110, 6.6.1: whole seconds). With no network what was known stays. */
    async hearServer(base: string): Promise<void> {
        try {
            const answer = await fetch(new URL('manifest.webmanifest', base), { method: 'HEAD', cache: 'no-store' }), at = Date.parse(answer.headers.get('date') ?? '');
            if (Number.isNaN(at)) return;
            this.heard = { ahead_ms: at + 500 - Date.now(), wall_ms: Date.now(), run_ms: performance.now() };
            this.tell();
        } catch {
            // no network
        }
    }

    /** The server's time less this phone's, milliseconds; null: not known. It is not once the clock was set since (or the phone slept, which
     * looks the same): then clock and stopwatch no longer agree. */
    get serverAhead_ms(): number | null {
        if (this.heard === null) return null;
        const set = Date.now() - this.heard.wall_ms - (performance.now() - this.heard.run_ms);
        return Math.abs(set) < CLOCK_SET_MS ? this.heard.ahead_ms : null;
    }

    private make(type: EventType, payload: Payload, station: string | null, corrects: string | null): Event {
        const { id, at_ms } = this.stamp();
        return checkEvent({
            id, type, at_ms, technician: this.settings.technician, shop: this.settings.shop, ...(station === null ? {} : { station }),
            ...(corrects === null ? {} : { corrects }), payload,
        });
    }

    private put(job: OpenJob, events: Event[]): void {
        const merged = mergeEvents(job.events, events);
        const next: OpenJob = { ...job, events: merged, job: replay(merged) };
        this.jobs = this.jobs.map((j) => (j.record.id === job.record.id ? next : j));
    }

    async openJob(bulletin: Bulletin, vin: string): Promise<string | null> {
        const known = this.jobs.find((j) => j.record.vin === vin && j.bulletin.sha256 === bulletin.sha256);
        if (known !== undefined) return known.record.id;
        const event = this.make('opened', { software: SOFTWARE }, null, null);
        const record: JobRecord = {
            id: `${vin}-${event.id}`, vin, bulletin: { id: bulletin.bulletin.id, revision: bulletin.bulletin.revision, sha256: bulletin.sha256 },
            invented: bulletin.bulletin.invented, opened_ms: event.at_ms,
        };
        const good = await this.written(async () => {
            await this.db.add(record, record.id, [event]);
            this.jobs = [{ record, events: [event], job: replay([event]), bulletin }, ...this.jobs];
        });
        return good ? record.id : null;
    }

    /** Records events of one moment together. station null: the whole unit. */
    record(id: string, list: { type: EventType; payload: Payload; station?: string | null; corrects?: string | null }[], photos: PhotoRecord[] = []): Promise<boolean> {
        const job = this.find(id);
        if (job === null) return Promise.resolve(false);
        const events = list.map((e) => this.make(e.type, e.payload, e.station ?? null, e.corrects ?? null));
        return this.written(async () => {
            await this.db.add(null, id, events, photos);
            this.put(this.find(id)!, [...events, ...this.unheld(id)]);
        });
    }

    /** Takes an event back by a later one; nothing is erased. */
    takeBack(id: string, event: Event, why: string): Promise<boolean> {
        return this.record(id, [{ type: 'note', payload: { text: why }, station: event.station ?? null, corrects: event.id }]);
    }

    file(job: OpenJob): EventFile {
        return { mendwright_events: 1, ...(job.record.invented ? { invented: true } : {}), bulletin: job.record.bulletin, vin: job.record.vin, events: job.events };
    }
    eventsText(job: OpenJob): string { return writeEvents(this.file(job)); }

    // ---- what other phones did ----

    /** Tells which job's task is on the screen ('': none). What other phones did in that job is kept at once and shown at the next
     * step, so that no field changes under the hand that types into it. */
    workOn(job: string): void {
        this.atWork = job;
        for (const id of [...this.held.keys()]) this.showHeld(id);
    }
    heldOf(id: string): readonly Event[] { return this.held.get(id) ?? []; }
    showHeld(id: string): void {
        const events = this.unheld(id), job = this.find(id);
        if (events.length === 0 || job === null) return;
        this.put(job, events);
        this.tell();
    }
    private unheld(id: string): Event[] {
        const events = this.held.get(id) ?? [];
        this.held.delete(id);
        return events;
    }

    /** A photo whose entry came before it. One that is there under that name stays. */
    async keepPhoto(photo: PhotoRecord): Promise<boolean> {
        if ((await this.db.photosOf(photo.job)).some((p) => p.path === photo.path)) return false;
        return this.quietly(() => this.db.add(null, photo.job, [], [photo]));
    }

    /** Another phone's events of the same unit and bulletin, or a job that is not here yet. Returns its id; null: no such bulletin here.
     * isQuiet: nobody here asked for it just now. */
    async merge(file: EventFile, photos: Omit<PhotoRecord, 'job'>[] = [], isQuiet = false): Promise<string | null> {
        const bulletin = this.bulletins.find((b) => b.sha256 === file.bulletin.sha256);
        if (bulletin === undefined) return null;
        const known = this.jobs.find((j) => j.record.vin === file.vin && j.bulletin.sha256 === file.bulletin.sha256);
        const first = file.events.reduce((m, e) => Math.min(m, e.at_ms), Infinity);
        const record: JobRecord = known?.record ?? {
            id: `${file.vin}-${file.events[0]!.id}`, vin: file.vin, bulletin: file.bulletin, invented: file.invented ?? bulletin.bulletin.invented, opened_ms: first,
        };
        const act = async () => {
            await this.db.add(record, record.id, file.events, photos.map((p) => ({ ...p, job: record.id })));
            if (known === undefined) this.jobs = [{ record, events: [], job: replay([]), bulletin }, ...this.jobs];
            if (isQuiet && this.atWork === record.id) this.held.set(record.id, mergeEvents(this.heldOf(record.id) as Event[], file.events));
            else this.put(this.find(record.id)!, file.events);
        };
        return (isQuiet ? await this.quietly(act) : await this.written(act)) ? record.id : null;
    }
}
