// relay: the way of an open job between the phones of one shop, through the server: new entries and photos go up, the others' come down and are
// merged as a file of theirs would be. It waits for nothing and nothing waits for it: with no network the work goes on, and what was not passed
// on is passed on later. What the server has is written down in the phone's store (a draft, relay/JOB), so a reload asks for nothing twice.
import { lostPhotos } from '../bag/pack';
import { sha256 } from '../bag/bag';
import { JOB_NAME } from '../job/address';
import { Event, EventFile, readEvents, writeEvents } from '../job/events';
import type { App, OpenJob } from '../store/app';
import type { Sender } from './sender';

export interface Other { phone: string; person: string; seen_ms: number }
/** after: events of the server that were seen; known: names of entries that it has; photos: that it has. trouble: '', or why nothing is passed on. */
export interface Shared {
    job: string; after: number; known: string[]; photos: string[]; others: Other[]; tag: string; at_ms: number; claim: string | null; claim_by: string; unclaimed: number;
    trouble: '' | 'other-shop' | 'refused'; detail: string;
}
export interface Offered { job: string; vin: string; bulletin: { id: string; revision: number; sha256: string }; touched_ms: number; claim: string | null; people: string[] }
export type JoinFault = 'sign-in' | 'not-there' | 'no-network' | 'need-bulletin' | 'refused';
interface Told {
    job: string; vin: string; bulletin: EventFile['bulletin']; invented: boolean; claim: string | null; claim_by: string | null; unclaimed: number; phones: Other[]; photos: string[]; events: unknown[]; next: number; more: boolean;
    tag: string; // of the answer's head
}

const LOT = 200, LOT_BYTES = 400000, SOON_MS = 1500, NEAR_MS = 12000, FAR_MS = 60000, ALL_MS = 300000, WAIT_MAX_MS = 300000, OLD_MS = 60 * 86400000;

const EMPTY: Shared = { job: '', after: 0, known: [], photos: [], others: [], tag: '', at_ms: 0, claim: null, claim_by: '', unclaimed: 0, trouble: '', detail: '' };

class NoWay extends Error {} // no network, nobody signed in, a server that cannot now: again later
class Refused extends Error {}

const utf8 = (text: string): number => new TextEncoder().encode(text).length;

export class Relay {
    /** Whether the last call came through. */
    isReached = true;
    private busy = false;
    private again = false;
    private wait = 0; // since the last failure, doubling
    private timer: ReturnType<typeof setTimeout> | undefined;
    private lastAll = 0;
    private readonly told = new Map<string, number>(); // when, to which job, that this phone is there
    private readonly read = new Map<string, { text: string; shared: Shared | null }>();
    private readonly listeners = new Set<() => void>();

    constructor(private readonly app: App, private readonly sender: Sender, private readonly origin: string, private readonly base: string) {}

    start(): void {
        const now = () => { this.wait = 0; this.soon(200); };
        addEventListener('online', now);
        document.addEventListener('visibilitychange', () => { if (document.visibilityState === 'visible') now(); });
        addEventListener('hashchange', () => this.soon(SOON_MS));
        let before = this.count();
        this.app.subscribe(() => { const n = this.count(); if (n !== before) { before = n; this.soon(SOON_MS); } });
        this.soon(SOON_MS);
    }

    subscribe(f: () => void): () => void {
        this.listeners.add(f);
        return () => this.listeners.delete(f);
    }

    // ---- what is known ----

    of(id: string): Shared | null {
        const text = this.app.draft(`relay/${id}`), read = this.read.get(id);
        if (read?.text === text) return read.shared;
        const shared = text === '' ? null : JSON.parse(text) as Shared;
        this.read.set(id, { text, shared });
        return shared;
    }
    /** Entries that the server does not have yet. */
    unsent(open: OpenJob): Event[] {
        const known = new Set(this.of(open.record.id)?.known ?? []);
        return open.events.filter((e) => !known.has(e.id));
    }
    /** This phone's name among the phones. */
    private async phone(): Promise<string> {
        const kept = this.app.draft('phone');
        if (kept !== '') return kept;
        const made = this.app.core.ulidNext('', Date.now(), crypto.getRandomValues(new Uint8Array(10)));
        await this.app.keepQuietly('phone', made);
        return made;
    }
    private count(): number { return this.app.jobs.reduce((n, j) => n + j.events.length, 0); }

    // ---- when ----

    private soon(ms: number): void {
        clearTimeout(this.timer);
        this.timer = setTimeout(() => void this.round(), Math.max(ms, this.wait));
    }
    private jobAtHand(): string { return decodeURIComponent(/^#\/j\/([^/]+)/.exec(location.hash)?.[1] ?? ''); }

    private async round(): Promise<void> {
        if (this.busy) { this.again = true; return; }
        this.busy = true;
        this.again = false;
        try {
            await this.look();
            const isAll = Date.now() - this.lastAll > ALL_MS;
            for (const open of this.app.jobs) {
                if (Date.now() - open.record.opened_ms > OLD_MS) continue;
                const isAtHand = open.record.id === this.jobAtHand(), s = this.of(open.record.id);
                const isSettled = s !== null && s.claim !== null && s.unclaimed === 0 && this.unsent(open).length === 0;
                if (isAtHand || (!isSettled && (isAll || this.unsent(open).length > 0))) await this.sync(open.record.id);
            }
            if (isAll) this.lastAll = Date.now();
            this.wait = 0;
            this.isReached = true;
        } catch (e) {
            if (!(e instanceof NoWay || e instanceof TypeError)) console.warn(e);
            this.isReached = false;
            this.wait = Math.min(WAIT_MAX_MS, Math.max(5000, 2 * this.wait));
        } finally {
            this.busy = false;
            this.listeners.forEach((f) => f());
        }
        const s = this.of(this.jobAtHand());
        this.soon(this.again ? SOON_MS : document.visibilityState === 'visible' && (s?.others.length ?? 0) > 0 ? NEAR_MS : FAR_MS);
    }

    // ---- calls ----

    private async look(): Promise<void> {
        if (this.sender.session?.csrf === undefined) await this.sender.look();
        const session = this.sender.session;
        if (session === null || session.csrf === undefined || !session.shop) throw new NoWay('sign-in');
    }
    private async call(method: string, path: string, more: { body?: BodyInit; headers?: Record<string, string> } = {}): Promise<Response> {
        const csrf: Record<string, string> = method === 'GET' ? {} : { 'X-Mendwright-Csrf': this.sender.session?.csrf ?? '' };
        const answer = await fetch(new URL(`/api/v1/jobs${path}`, this.origin), { method, cache: 'no-store', ...more, headers: { ...csrf, ...more.headers } });
        if (answer.status === 401 || answer.status === 403) { // signed out, or anew, meanwhile
            await this.sender.look();
            throw new NoWay('sign-in');
        }
        if (answer.status === 429 || answer.status >= 500) throw new NoWay(String(answer.status));
        if (answer.status === 404 || answer.status < 400) return answer;
        throw new Refused(((await answer.json().catch(() => ({}))) as { detail?: string }).detail ?? String(answer.status));
    }

    /** The shop's open jobs. Throws when there is no way to the server. */
    async list(): Promise<Offered[]> {
        await this.look();
        return ((await (await this.call('GET', '')).json()) as { jobs: Offered[] }).jobs;
    }

    // ---- one job ----

    /** Passes on what is new both ways. Throws NoWay or TypeError when it cannot now. */
    async sync(id: string): Promise<void> {
        const open = this.app.find(id), session = this.sender.session;
        if (open === null) return;
        const first = open.events.find((e) => e.type === 'opened'), s: Shared = this.of(id) ?? { ...EMPTY, job: first?.id ?? '' };
        if (s.job === '') return;
        if (open.events.some((e) => e.shop !== session?.shop)) return this.keep(id, { ...s, trouble: 'other-shop', detail: '' });
        try {
            if (s.known.length > 0) await this.beThere(s.job);
            let now = await this.pull(id, { ...s, trouble: '', detail: '' });
            now = await this.push(id, now);
            await this.beThere(s.job);
            now = await this.photos(id, now);
            await this.keep(id, { ...now, at_ms: Date.now() });
        } catch (e) {
            if (!(e instanceof Refused)) throw e;
            await this.keep(id, { ...s, ...(this.of(id) ?? {}), trouble: 'refused', detail: e.message });
        }
    }

    private async keep(id: string, s: Shared): Promise<void> {
        const before = this.of(id);
        // The time alone is not worth a write of the whole.
        if (before !== null && JSON.stringify({ ...before, at_ms: 0 }) === JSON.stringify({ ...s, at_ms: 0 })) return;
        await this.app.keepQuietly(`relay/${id}`, JSON.stringify(s));
    }

    private async ask(job: string, after: number, tag: string): Promise<Told | 'same' | 'gone'> {
        const answer = await this.call('GET', `/${job}/events?after=${after}`, tag === '' ? {} : { headers: { 'If-None-Match': tag } });
        if (answer.status === 304) return 'same';
        if (answer.status === 404) return 'gone';
        return { ...((await answer.json()) as Told), tag: answer.headers.get('ETag') ?? '' };
    }

    /** That this phone is on the job: told once a minute, once the server has the job. */
    private async beThere(job: string): Promise<void> {
        if (Date.now() - (this.told.get(job) ?? 0) < FAR_MS) return;
        if ((await this.call('PUT', `/${job}/phones/${await this.phone()}`)).status !== 404) this.told.set(job, Date.now());
    }

    /** What others passed on, into the phone's store. */
    private async pull(id: string, s: Shared): Promise<Shared> {
        for (let isMore = true; isMore;) {
            const told = await this.ask(s.job, s.after, s.tag);
            if (told === 'same') return s;
            if (told === 'gone') return { ...s, after: 0, known: [], photos: [], others: [], tag: '' }; // never passed on, or forgotten: all of it goes again
            const open = this.app.find(id)!, file = fileOf(told);
            if (told.vin !== open.record.vin || told.bulletin.sha256 !== open.record.bulletin.sha256) throw new Refused('another unit, or another bulletin');
            const has = new Set([...open.events, ...this.app.heldOf(id)].map((e) => e.id)), fresh = file.events.filter((e) => !has.has(e.id));
            if (fresh.length > 0 && (await this.app.merge({ ...file, events: fresh }, [], true)) === null) throw new NoWay('store');
            const own = await this.phone(), known = new Set([...s.known, ...file.events.map((e) => e.id)]);
            s = {
                ...s, after: told.next, known: [...known], photos: told.photos, others: told.phones.filter((p) => p.phone !== own), tag: told.more ? '' : told.tag,
                claim: told.claim, claim_by: told.claim_by ?? '', unclaimed: told.unclaimed,
            };
            await this.keep(id, s);
            isMore = told.more;
        }
        return s;
    }

    private async push(id: string, s: Shared): Promise<Shared> {
        for (let isForgotten = false;;) {
            const open = this.app.find(id)!, known = new Set(s.known), lot = open.events.filter((e) => !known.has(e.id)).slice(0, LOT);
            if (lot.length === 0) return s;
            // The opening makes the job where it is not there: it goes first.
            const opening = open.events.find((e) => e.id === s.job);
            if (s.known.length === 0 && opening !== undefined && !lot.includes(opening)) lot[0] = opening;
            const body = (n: number) => writeEvents({ ...this.app.file(open), events: lot.slice(0, n) });
            while (lot.length > 1 && utf8(body(lot.length)) > LOT_BYTES) lot.length = Math.ceil(lot.length / 2);
            const answer = await this.call('POST', `/${s.job}/events`, { body: body(lot.length), headers: { 'Content-Type': 'application/json' } });
            if (answer.status === 404 && isForgotten) throw new Refused('the server does not know this job');
            isForgotten = answer.status === 404; // meanwhile: all of it goes again
            s = isForgotten ? { ...s, after: 0, known: [], photos: [], tag: '' } : { ...s, known: [...s.known, ...lot.map((e) => e.id)] };
            await this.keep(id, s);
        }
    }

    /** The others' photos down; this phone's up once another phone is there to want them. */
    private async photos(id: string, s: Shared): Promise<Shared> {
        const open = this.app.find(id)!, events = [...open.events, ...this.app.heldOf(id)].filter((e) => e.type === 'photo_taken'), own = await this.app.db.photosOf(id);
        for (const e of events) {
            const path = String(e.payload['path']), sum = String(e.payload['sha256']), has = own.find((p) => p.path === path);
            if (has === undefined && s.photos.includes(sum)) await this.fetchPhoto(id, s.job, path, sum);
            if (has === undefined || has.sha256 !== sum || s.photos.includes(sum) || s.others.length === 0 || !s.known.includes(e.id)) continue;
            const answer = await this.call('PUT', `/${s.job}/photos/${sum}`, { body: new Blob([has.bytes], { type: 'image/jpeg' }) });
            if (answer.status !== 404) s = { ...s, photos: [...s.photos, sum] };
        }
        return s;
    }
    private async fetchPhoto(id: string, job: string, path: string, sum: string): Promise<void> {
        const answer = await this.call('GET', `/${job}/photos/${sum}`);
        if (answer.status === 404) return;
        const bytes = await answer.arrayBuffer();
        if ((await sha256(new Uint8Array(bytes))) === sum) await this.app.keepPhoto({ job: id, path, sha256: sum, bytes, hashes: [], isFlat: true });
    }

    // ---- joining, sending ----

    /** Opens a job that another phone shares. The job's id on this phone, or why not. */
    async join(job: string): Promise<{ id: string } | { fault: JoinFault; detail: string }> {
        if (!JOB_NAME.test(job)) return { fault: 'not-there', detail: '' };
        const here = this.app.jobs.find((j) => this.of(j.record.id)?.job === job || j.events.some((e) => e.id === job && e.type === 'opened'));
        if (here !== undefined) {
            const id = here.record.id, s = this.of(id);
            if (s?.job !== job) await this.keep(id, { ...EMPTY, job });
            this.soon(50);
            return { id };
        }
        try {
            await this.look();
            await this.beThere(job);
            const told = await this.ask(job, 0, '');
            if (typeof told === 'string' || told.events.length === 0) return { fault: 'not-there', detail: '' };
            const file = fileOf(told);
            await this.app.seekBulletin(file.bulletin.sha256, this.base);
            const id = await this.app.merge(file);
            if (id === null) return { fault: 'need-bulletin', detail: `${file.bulletin.id} ${file.bulletin.revision}` };
            const own = await this.phone();
            await this.keep(id, {
                ...EMPTY, job, after: told.next, known: file.events.map((e) => e.id), photos: told.photos, others: told.phones.filter((p) => p.phone !== own), at_ms: Date.now(), claim: told.claim,
                claim_by: told.claim_by ?? '', unclaimed: told.unclaimed,
            });
            this.soon(50);
            return { id };
        } catch (e) {
            if (e instanceof NoWay && e.message === 'sign-in' && this.sender.session !== null) return { fault: 'sign-in', detail: '' };
            if (e instanceof NoWay || e instanceof TypeError) return { fault: 'no-network', detail: '' };
            return { fault: 'refused', detail: e instanceof Error ? e.message : String(e) };
        }
    }

    /** Whether another phone is, or was, on the job. */
    isShared(id: string): boolean { return (this.of(id)?.others.length ?? 0) > 0; }

    /** Before a shared job is packed: everything that the others passed on. How many of their photos are still missing. */
    async gather(id: string): Promise<number> {
        const s = this.of(id);
        if (s !== null && s.trouble === '' && (s.others.length > 0 || s.known.length > 0)) await this.sync(id).catch((e: unknown) => { if (!(e instanceof NoWay)) throw e; });
        this.app.showHeld(id);
        return lostPhotos(this.app.find(id)!, await this.app.db.photosOf(id)).length;
    }
    /** After a bag was sent: that it is a claim now. */
    sent(): void { this.soon(100); }
}

/** What the server told, through the reader that judges every file from outside. */
function fileOf(told: Told): EventFile {
    if (!Array.isArray(told.events) || typeof told.next !== 'number' || !Array.isArray(told.phones) || !Array.isArray(told.photos)) throw new Refused('not an answer of this server');
    const head = { mendwright_events: 1 as const, ...(told.invented ? { invented: true } : {}), bulletin: told.bulletin, vin: told.vin };
    if (told.events.length === 0) return { ...head, events: [] };
    return readEvents(JSON.stringify({ ...head, events: told.events }));
}
