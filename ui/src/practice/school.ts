// school: the sets, games and results that the practice pages show, and the only way to change them. Owns the order "write, then show", and the way of a
// result to the server where somebody is signed in.
import type { Core } from '../core/core';
import { CoreError } from '../core/core';
import { Op, opName, opOf, play, Played, Unit } from '../core/practice';
import type { Session } from '../send/sender';
import { drawnUnit, Exercise, ExerciseSet, FREE, GameRecord, isFinished, isOp, Mode, resultOf, ResultRecord, setsOf, outcomeOf } from './game';
import { Keep } from './keep';

const isGame = (g: GameRecord): boolean => typeof g.key === 'string' && Array.isArray(g.ops) && g.ops.every(isOp) && typeof g.unit === 'object';
const now = () => new Date().toISOString();

export class School {
    sets: ExerciseSet[] = [];
    games = new Map<string, GameRecord>();
    results: ResultRecord[] = [];
    /** What could not be kept; '' when all is well. */
    trouble = '';
    session: Session | null = null;
    private last: { unit: Unit; ops: readonly Op[]; played: Played }[] = [];
    private readonly listeners = new Set<() => void>();

    private constructor(readonly core: Core, private readonly keep: Keep, private readonly base: string) {}

    static async open(core: Core, base: string): Promise<School> {
        const school = new School(core, await Keep.open(), base);
        const [games, results] = await Promise.all([school.keep.games(), school.keep.results()]);
        school.games = new Map(games.filter(isGame).map((g) => [g.key, g]));
        school.results = results;
        await school.loadSets();
        return school;
    }

    subscribe(f: () => void): () => void {
        this.listeners.add(f);
        return () => this.listeners.delete(f);
    }
    private tell(): void { this.listeners.forEach((f) => f()); }

    /** Those that came with the pages, then those that a server gave, when it could be asked and as it last answered. */
    private async loadSets(): Promise<void> {
        const own = await fetch(new URL('practice/sets.json', this.base)).then((r) => (r.ok ? r.json() : []), () => []).catch(() => []) as unknown, kept = await this.keep.sets().catch(() => []);
        const list = [...setsOf(own), ...setsOf(kept)];
        this.sets = list.filter((s, i) => list.findIndex((o) => o.set === s.set && o.sha256 === s.sha256) === i);
    }

    /** Once somebody is known to be signed in: newer sets, and results that wait. */
    async hear(session: Session | null): Promise<void> {
        this.session = session;
        if (session === null || session.csrf === undefined) return;
        try {
            const answer = await fetch(new URL('/api/v1/practice/sets', this.base), { cache: 'no-store' }), told: unknown = answer.ok ? await answer.json() : null;
            const list = Array.isArray(told) ? told : typeof told === 'object' && told !== null && Array.isArray((told as { sets?: unknown }).sets) ? (told as { sets: unknown[] }).sets : null;
            if (list !== null && setsOf(list).length > 0) { await this.keep.putSets(list); await this.loadSets(); }
            for (const r of this.results) if (r.state === 'waiting') await this.send(r);
        } catch {
            // no network, or a server without practice: what waits goes on waiting
        }
        this.tell();
    }

    find(set: string, id: string): { set: ExerciseSet | null; exercise: Exercise | null } {
        const found = this.sets.find((s) => s.set === set) ?? null;
        return { set: found, exercise: found?.exercises.find((e) => e.id === id) ?? null };
    }

    /** The same unit and operations are played once. */
    played(unit: Unit, ops: readonly Op[]): Played {
        const known = this.last.find((x) => x.unit === unit && x.ops === ops);
        if (known !== undefined) return known.played;
        const played = play(this.core, unit, ops);
        this.last = [{ unit, ops, played }, ...this.last.slice(0, 3)];
        return played;
    }

    private async written(act: () => Promise<void>): Promise<boolean> {
        try {
            await act();
            this.trouble = '';
            return true;
        } catch (e) {
            this.trouble = String(e);
            return false;
        } finally {
            this.tell();
        }
    }
    private put(g: GameRecord): Promise<boolean> { return this.written(async () => { await this.keep.putGame(g); this.games.set(g.key, g); }); }

    begin(set: string, id: string, mode: Mode): Promise<boolean> {
        const found = this.find(set, id), unit = set === FREE ? drawnUnit(id) : found.exercise?.unit ?? null;
        if (unit === null) return Promise.resolve(false);
        return this.put({ key: `${set}/${id}`, set, sha256: found.set?.sha256 ?? '', exercise: id, mode, unit, ops: [], hints: 0, answers: {}, began: now(), ended: null });
    }

    /** Opens an exercise of an exam at the server, which notes it and tells it whole from then on; then begins it. */
    async beginExam(set: string, id: string): Promise<boolean> {
        if (this.session?.csrf !== undefined) {
            try {
                const answer = await fetch(new URL(`/api/v1/practice/sets/${set}/exercises/${id}`, this.base), { method: 'POST', cache: 'no-store', headers: { 'X-Mendwright-Csrf': this.session.csrf } });
                if (answer.ok) await this.hear(this.session);
            } catch {
                // no network: it stays closed, and the page says so
            }
        }
        return this.begin(set, id, 'exam');
    }

    /** null: done; else why not: the refusal. Refused operations are not kept: they cost nothing and change nothing. */
    async act(g: GameRecord, op: Op): Promise<string | null> {
        let refusal: string;
        try {
            refusal = play(this.core, g.unit, [...g.ops, op]).results[g.ops.length]!.refusal;
        } catch (e) {
            if (!(e instanceof CoreError)) throw e;
            refusal = 'no-range';
        }
        if (refusal !== 'fine') return refusal;
        const next = { ...g, ops: [...g.ops, op], ended: opName(op) === 'finish' ? now() : g.ended };
        return (await this.put(next)) ? null : 'not-kept';
    }
    async undo(g: GameRecord): Promise<boolean> { return g.mode === 'exam' || g.ops.length === 0 || isFinished(g) ? false : this.put({ ...g, ops: g.ops.slice(0, -1) }); }
    hint(g: GameRecord): Promise<boolean> { return this.put({ ...g, hints: g.hints + 1 }); }
    answer(g: GameRecord, question: string, choice: string): Promise<boolean> { return this.put({ ...g, answers: { ...g.answers, [question]: choice } }); }
    drop(key: string): Promise<boolean> { return this.written(async () => { await this.keep.dropGame(key); this.games.delete(key); }); }
    finish(g: GameRecord): Promise<string | null> { return this.act(g, opOf('finish')); }

    /** Once a finished game's questions are answered: its result is kept, and sent where somebody is signed in. */
    async record(g: GameRecord): Promise<void> {
        const id = `${g.key}@${g.began}`, { exercise } = this.find(g.set, g.exercise);
        if (this.results.some((r) => r.id === id)) return;
        const r: ResultRecord = { id, state: g.set === FREE ? 'kept' : 'waiting', detail: '', result: resultOf(g), inside: outcomeOf(exercise, g, this.played(g.unit, g.ops)).isGood, title: exercise?.title ?? {} };
        if (!(await this.written(async () => { await this.keep.putResult(r); this.results = [...this.results, r]; }))) return;
        if (this.session?.csrf !== undefined && r.state === 'waiting') await this.send(r).catch(() => undefined);
        this.tell();
    }

    private async send(r: ResultRecord): Promise<void> {
        const answer = await fetch(new URL('/api/v1/practice/results', this.base), {
            method: 'POST', cache: 'no-store', headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': this.session?.csrf ?? '' }, body: JSON.stringify(r.result),
        });
        const told = await answer.json().catch(() => ({})) as { detail?: string }, isLater = answer.status === 401 || answer.status === 404 || answer.status === 429 || answer.status >= 500;
        const next: ResultRecord = { ...r, state: answer.ok ? 'sent' : isLater ? 'waiting' : 'refused', detail: answer.ok ? '' : told.detail ?? '' };
        await this.keep.putResult(next);
        this.results = this.results.map((x) => (x.id === r.id ? next : x));
    }
}
