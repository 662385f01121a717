// sender: the way of a bag from this phone to the server. What waits to be sent is written down in the phone's store before anything is
// sent (app.outbox), so it survives reloads and an empty battery; it is tried again whenever the network comes back, and every half
// minute while the pages are open. Sent in pieces that go on where they broke off; sent twice, the server says it is there already.
import { packJob, today } from '../bag/pack';
import type { App, Outgoing } from '../store/app';
import type { Relay } from './relay';

export interface Session { role: string; name?: string; shop?: string | null; csrf?: string }
const PIECE = 1 << 20, EVERY_MS = 30000;

class Refused extends Error {}
class Later extends Error {}

export class Sender {
    /** null: no server has answered. */
    session: Session | null = null;
    relay: Relay | null = null;
    private busy = false;
    private readonly listeners = new Set<() => void>();

    constructor(private readonly app: App, private readonly origin: string) {}

    start(): void {
        addEventListener('online', () => void this.run());
        document.addEventListener('visibilitychange', () => { if (document.visibilityState === 'visible') void this.run(); });
        setInterval(() => { if (this.waiting().length > 0) void this.run(); }, EVERY_MS);
        void this.run();
    }

    subscribe(f: () => void): () => void {
        this.listeners.add(f);
        return () => this.listeners.delete(f);
    }
    private tell(): void { this.listeners.forEach((f) => f()); }
    private waiting(): string[] { return this.app.outgoing().filter(([, o]) => o.state === 'waiting').map(([id]) => id); }

    /** Who is signed in here; with no answer what was known stays. Fills in who works here where nobody has said so yet. */
    async look(): Promise<void> {
        try {
            const answer = await fetch(new URL('/api/v1/session', this.origin), { cache: 'no-store' });
            const told: unknown = answer.ok ? await answer.json() : null;
            if (typeof told !== 'object' || told === null || typeof (told as Session).role !== 'string') return;
            this.session = told as Session;
            const { name, shop } = this.session, { technician } = this.app.settings;
            if (technician === '' && this.session.role === 'technician' && name !== undefined && typeof shop === 'string') await this.app.saveSettings({ technician: name.toLowerCase(), shop });
            this.tell();
        } catch {
            // no network, or no server behind these pages
        }
    }

    async enqueue(job: string): Promise<void> {
        if (await this.app.setOutgoing(job, { state: 'waiting', day: today(), detail: '' })) await this.run();
    }

    /** Sends what waits, one bag after the other. */
    async run(): Promise<void> {
        if (this.busy) return;
        this.busy = true;
        try {
            await this.look();
            for (const job of this.waiting()) await this.one(job);
        } finally {
            this.busy = false;
            this.tell();
        }
    }

    private async one(job: string): Promise<void> {
        const open = this.app.find(job), was = this.app.outgoingOf(job);
        if (open === null || was === null) return;
        try {
            if (this.session === null) throw new Later('');
            if (this.session.csrf === undefined) throw new Later('sign-in');
            // What other phones have for it first; their photos may still be on the way.
            const missing = await this.relay?.gather(job) ?? 0;
            if (missing > 0 && this.relay?.isShared(job)) throw new Later(`photos ${missing}`);
            const bag = await packJob(this.app, open, was.day), claim = await this.send(bag.blob, bag.sha256, (done) => void this.app.setOutgoing(job, { ...was, detail: `${Math.floor(100 * done)} %` }));
            await this.app.setOutgoing(job, { state: 'sent', day: was.day, detail: claim });
            this.relay?.sent();
        } catch (e) {
            const detail = e instanceof Error ? e.message : String(e);
            await this.app.setOutgoing(job, { state: e instanceof Later || e instanceof TypeError ? 'waiting' : 'refused', day: was.day, detail: e instanceof TypeError ? '' : detail } as Outgoing);
        }
    }

    /** The claim's id. A TypeError (no network) and Later mean: again; Refused is for good. */
    private async send(blob: Blob, sha256: string, step: (done: number) => void): Promise<string> {
        const url = new URL(`/api/v1/bags/${sha256}`, this.origin);
        let at = await this.received(url);
        if (at >= blob.size) at = 0;
        for (let tries = 0; tries < 3;) {
            const last = Math.min(at + PIECE, blob.size) - 1;
            step(at / blob.size);
            const answer = await fetch(url, {
                method: 'PUT', body: blob.slice(at, last + 1), cache: 'no-store',
                headers: { 'Content-Type': 'application/zip', 'Content-Range': `bytes ${at}-${last}/${blob.size}`, 'X-Mendwright-Csrf': this.session!.csrf! },
            });
            const told = await answer.json() as { claim?: string; detail?: string };
            if (answer.status === 200 || answer.status === 201) return told.claim ?? '';
            if (answer.status === 202) at = last + 1;
            else if (answer.status === 409) { at = await this.received(url); tries++; }
            else if (answer.status === 401) throw new Later('sign-in');
            else if (answer.status === 429 || answer.status >= 500) throw new Later(told.detail ?? '');
            else throw new Refused(told.detail ?? String(answer.status));
        }
        throw new Later('');
    }

    private async received(url: URL): Promise<number> {
        const answer = await fetch(url, { cache: 'no-store' });
        if (answer.status === 401) throw new Later('sign-in');
        return answer.ok ? Number((await answer.json() as { received: number }).received) : 0;
    }
}
