// Random jobs through the page's replay and the program's: same events, same job. Expected: `mendwright job --json`.
// usage: replay.test PROGRAM ROOT [SEED]
import { spawnSync } from 'node:child_process';
import { readFileSync, mkdtempSync, writeFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { tmpdir } from 'node:os';
import { end, ok, seeded, difference, Random, same } from '../tap.mjs';
import { Event, EVENT_TYPES, EventType, TYPE_NAMES, fieldsOf, mergeEvents, readEvents, writeEvents, EventError, compareEvents } from '../../src/job/events';
import { jobJson, replay } from '../../src/job/replay';

const [program, root, seed = '1'] = process.argv.slice(2) as [string, string, string?];
const JOBS = 200;
const SHA = 'a'.repeat(64);
const folder = mkdtempSync(join(tmpdir(), 'jobs-'));

const ALPHABET = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
function ulid(r: Random, ms: number): string {
    let time = '', chance = '';
    for (let i = 0, t = ms; i < 10; i++, t = Math.floor(t / 32)) time = ALPHABET[t % 32] + time;
    for (let i = 0; i < 16; i++) chance += ALPHABET[r.int(0, 31)];
    return time + chance;
}

function field(r: Random, kind: string, f: { name: string; least?: number; most?: number; choices?: readonly string[]; notZero?: boolean }): Record<string, unknown> {
    const words = ['inboard', 'outboard', 'tape', 'a-1', 'upper'];
    switch (kind) {
        case 'integer': return { [f.name]: r.of([f.least === 0 ? 1 : f.least!, 5, 1203500000 < f.most! ? 1203500000 : 7, f.most!]) };
        case 'choice': return { [f.name]: r.of(f.choices!) };
        case 'date': return { [f.name]: '2024-03-25' };
        case 'pairs': return { [f.name]: r.of([{ relief: 'upper' }, { hand: 'left', relief: 'lower' }]) };
        case 'amount': return r.of<Record<string, unknown>>([{ value_nm: r.int(-9, 9) * 100000 }, { value: r.of([24, 13.1, 0, -0.25]), unit: r.of(['V', 'A', 'N m', '1']) }]);
        case 'sha256': return { [f.name]: SHA };
        case 'path': return { [f.name]: 'photos/a.jpg' };
        case 'line': case 'text': return { [f.name]: r.of(['WD40 2024-W13', 'una línea', '中 𝄞', "it's"]) };
        default: return { [f.name]: r.of(words) };
    }
}

function event(r: Random, before: Event[], base: number): Event {
    const type = r.of<EventType>([...TYPE_NAMES, 'reading_taken', 'moved', 'rack_measured', 'note']);
    const rule = EVENT_TYPES[type].station;
    const at_ms = base + r.int(0, 40) * 1000;
    const payload = Object.assign({}, ...fieldsOf(type).map((f) => (f.needed || r.int(0, 1) ? field(r, f.kind, f) : {}))) as Record<string, string>;
    if (type === 'expense_claimed' && payload['what'] !== 'parts') delete payload['part'];
    const station = rule === 'none' ? undefined : rule === 'must' || r.int(0, 1) ? r.of(['fore', 'aft', 'zed']) : undefined;
    const target = before.length > 0 && r.int(0, 3) === 0 ? r.of(before) : undefined;
    const corrects = r.int(0, 40) === 0 ? ulid(r, base) : target?.id;
    const isSame = target !== undefined && r.int(0, 2) > 0 && target.type !== 'opened';
    const made: Event = {
        id: r.int(0, 30) === 0 && before.length > 0 ? r.of(before).id : ulid(r, at_ms + r.int(-5000, 5000)), type: isSame ? target.type : type, at_ms,
        technician: r.of(['ines', 'olu']), shop: r.of(['fern-mobile-2', 'other']),
        ...(isSame ? (target.station === undefined ? {} : { station: target.station }) : station === undefined ? {} : { station }),
        ...(corrects === undefined ? {} : { corrects }), payload: isSame ? target.payload : payload,
    };
    return made;
}

function program_says(events: Event[], name: string): Record<string, unknown> {
    const path = join(folder, `${name}.json`);
    writeFileSync(path, writeEvents({ mendwright_events: 1, bulletin: { id: 'OV-26-03', revision: 2, sha256: SHA }, vin: 'ZZZFM24T5R0001234', events }));
    const run = spawnSync(program, ['job', path, '--json'], { encoding: 'utf8' });
    if (run.stdout === '') throw new Error(run.stderr);
    return JSON.parse(run.stdout) as Record<string, unknown>;
}

/** The members of the program's answer that the replay owns; its findings carry a sentence too. */
function ours(theirs: Record<string, unknown>): Record<string, unknown> {
    const { finished, first_ms, last_ms, finished_ms, events, corrected, stations, unit, findings, findings_in_all } = theirs;
    const bare = (findings as { kind: string; event: string; other: string | null }[]).map(({ kind, event: e, other }) => ({ kind, event: e, other }));
    return { finished, first_ms, last_ms, finished_ms, events, corrected, stations, unit, findings: bare, findings_in_all };
}

const r = seeded(Number(seed));
console.log(`# seed ${seed}`);
let findings = 0, corrected = 0;
for (let j = 0; j < JOBS; j++) {
    const events: Event[] = [];
    const n = r.int(1, 45), base = 1777878720880;
    for (let i = 0; i < n; i++) events.push(event(r, events, base));
    if (r.int(0, 3) === 0 && n > 0) events.push(r.of(events));
    const theirs = ours(program_says(events, String(j)));
    const job = replay([...events].sort(() => r.share() - 0.5));
    const at = difference(JSON.parse(JSON.stringify(jobJson(job))), theirs, 'job');
    findings += job.findings_in_all;
    corrected += job.corrected.length;
    ok(at === null, `random job ${j}: ${events.length} events, as the program replays them`, at);
}
ok(findings > 200 && corrected > 200, `the jobs held ${findings} findings and ${corrected} corrections, so both were tried`);

const example = readEvents(readFileSync(join(root, 'examples/jobs/ov-26-03-a/events.json'), 'utf8'));
same(JSON.parse(JSON.stringify(jobJson(replay(example.events)))), ours(program_says(example.events, 'example')), 'the whole example job, as the program replays it');
const half = example.events.filter((_, i) => i % 2 === 0), other = example.events.filter((_, i) => i % 3 === 0 || i % 2 === 1);
same(mergeEvents(half, other), [...example.events].sort(compareEvents), 'two lists of one job merge into all of it, each event once');
same(mergeEvents(other, half), mergeEvents(half, other), 'whichever comes first');

// The table of types against the published schema.
const schema = JSON.parse(readFileSync(join(root, 'doc/events.schema.json'), 'utf8')) as { $defs: Record<string, any> };
for (const type of TYPE_NAMES) {
    const def = schema.$defs[type];
    const bodies = def?.properties.payload.oneOf ?? [def?.properties.payload];
    const listed = new Set(bodies.flatMap((b: any) => Object.keys(b?.properties ?? {})));
    const here = new Set(fieldsOf(type).flatMap((f): string[] => (f.kind === 'amount' ? ['value_nm', 'value', 'unit'] : [f.name])));
    same([...here].sort(), [...listed].sort(), `${type} holds what the published schema lists`);
    const needs = def?.required.includes('station') ? 'must' : 'station' in (def?.properties ?? {}) ? 'may' : 'none';
    ok(EVENT_TYPES[type].station === needs, `${type} names a station as the schema says: ${needs}`);
}
const published = Object.keys(schema.$defs).filter((k) => 'type' in (schema.$defs[k].properties ?? {}));
same([...TYPE_NAMES].sort(), published.sort(), 'the types are those of the published schema');

// What the program refuses, the page refuses.
const good = JSON.parse(writeEvents(example)) as Record<string, any>;
const spoil: [string, (f: Record<string, any>) => void][] = [
    ['a format of 2', (f) => { f['mendwright_events'] = 2; }], ['a VIN with the letter O', (f) => { f['vin'] = 'OZZFM24T5R0001234'; }],
    ['an unknown member', (f) => { f['events'][3].speed = 1; }], ['an unknown type', (f) => { f['events'][3].type = 'painted'; }],
    ['a length of 1.5 nm', (f) => { f['events'].find((e: any) => e.type === 'rack_measured').payload.length_nm = 1.5; }],
    ['a day that does not exist', (f) => { f['events'][1].payload.built_first = '2024-02-30'; }],
    ['days in the wrong order', (f) => { f['events'][1].payload.built_first = '2024-12-30'; }],
    ['a path that climbs', (f) => { f['events'].find((e: any) => e.type === 'photo_taken').payload.path = '../x.png'; }],
    ['no station where one is needed', (f) => { delete f['events'][1].station; }], ['a small ULID', (f) => { f['events'][1].id = f['events'][1].id.toLowerCase(); }],
    ['no steps', (f) => { f['events'].find((e: any) => e.type === 'moved').payload.steps = 0; }],
];
for (const [what, change] of spoil) {
    const bad = structuredClone(good);
    change(bad);
    const source = JSON.stringify(bad), path = join(folder, 'bad.json');
    writeFileSync(path, source);
    const theirs = spawnSync(program, ['job', path, '--json'], { encoding: 'utf8' }).status;
    let mine = 0;
    try { readEvents(source); } catch (e) { mine = e instanceof EventError ? 2 : 3; }
    ok(theirs === 2 && mine === 2, `${what} is refused by both`, `program ${theirs}, page ${mine}`);
}
rmSync(folder, { recursive: true, force: true });
end();
