// Every number the pages show against the command line's --json for the same input: random units, labels, racks, rack ends and
// readings, on both example bulletins. Expected: what PROGRAM prints. Amounts are typed as a person would, in either system.
// usage: numbers.test PROGRAM MODULE.wasm ROOT [JOBS] [SEED]
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { end, ok, seeded, difference, Random } from '../tap.mjs';
import { Core, CoreError, UNITS, DIMS, Unit } from '../../src/core/core';
import { DIM_OF, shown, typed, System } from '../../src/core/amounts';
import { Bulletin, isBulletin } from '../../src/bulletin/types';
import { chooseCut, getsWork, judgeReadings, judgeScope, judgeTiming, rackIds, readAmount, readLabel, Sight, timedRacks, fixedValues, TruingProblem } from '../../src/bulletin/adapt';

const [program, module, root, jobs = '200', seed = '1'] = process.argv.slice(2) as [string, string, string, string?, string?];
const core = await Core.load(readFileSync(module));

interface Run { status: number; json: any; stderr: string }
function run(...args: string[]): Run {
    const r = spawnSync(program, [...args, '--json'], { encoding: 'utf8' });
    return { status: r.status ?? -1, json: r.stdout.trim() === '' ? null : JSON.parse(r.stdout), stderr: r.stderr };
}
const FILES = ['OV-26-03', 'FR-26-11'].map((id) => join(root, 'examples', `${id}.yaml`));
const bulletins = FILES.map((file) => {
    const b = JSON.parse(spawnSync(program, ['check', '--export', file], { encoding: 'utf8' }).stdout) as unknown;
    if (!isBulletin(b)) throw new Error(`${file} was not exported`);
    return { file, b };
});

const plain = (n: bigint) => Number(n);
const day = (is: boolean, d: number) => (is ? core.dateShow(d) : null);

// ---- one thing each: what was typed, what the page says, what the program says; null when the two agree ----

function vin(r: Random): string {
    const letters = 'ABCDEFGHJKLMNPRSTUVWXYZ0123456789';
    const body = Array.from({ length: 17 }, () => r.of([...letters])).join('');
    const checked = core.vinCheck(body);
    const good = checked.expected === '' ? body : body.slice(0, 8) + checked.expected + body.slice(9);
    return r.of([good, good, body, good.slice(0, 16), good.replace(/[18]/, 'I'), good.toLowerCase(), 'ZZZFM24T5R0001234']);
}

function vinTest(r: Random): string | null {
    const text = vin(r), theirs = run('vin', text).json, c = core.vinCheck(text);
    const repairs = c.fault === 'none' ? [] : core.vinRepair(text);
    return difference(
        { valid: c.fault === 'none', fault: c.fault === 'none' ? null : c.fault, expected: c.expected || null, years: c.years, repairs: repairs.map((x) => x.vin) },
        { valid: theirs.valid, fault: theirs.fault, expected: theirs.check_expected, years: theirs.model_years, repairs: theirs.repairs.map((x: any) => x.vin) }, `vin ${text}`);
}

function labelText(r: Random, b: Bulletin): string {
    const week = String(r.int(1, 53)).padStart(2, '0'), code = r.of(['WD40', 'WD40B', 'WD55-12', 'WD70', 'WD99', 'WO40']);
    if (b.bulletin.id === 'OV-26-03') return r.of([`${code} ${r.of([2024, 2024, 2023])}-W${week}`, `${code} WK ${week} 2024`]);
    return r.of([`${r.of(['LR48', 'LR60', 'LR60X', 'LR99'])} ${String(r.int(1, 365)).padStart(3, '0')}/2025`, `LR48 ${r.of(['Feb', 'Mar', 'Apr', 'Jun'])} 2025`]);
}

function scopeTest(r: Random, file: string, b: Bulletin): string | null {
    const text = r.of(['ZZZFM24T5R0001234', '1M8GDM9AXKP042788', vin(r)]), sights: Sight[] = [], args = ['scope', file, '--vin', text];
    for (const s of b.scope.stations) {
        if (r.int(0, 5) === 0) { sights.push({ state: 'unread' }); continue; }
        const label = labelText(r, b);
        try { sights.push(readLabel(core, b, label)); } catch (e) {
            if (!(e instanceof CoreError)) throw e;
            return run(...args, '--label', `${s.id}=${label}`).status === 2 ? null : `label ${label}: refused here (${e.message}), taken by the program`;
        }
        args.push('--label', `${s.id}=${label}`);
    }
    const theirs = run(...args).json, mine = judgeScope(core, b, text, sights);
    return difference(
        { unit: mine.unit, stations: mine.stations.map((s, i) => ({ verdict: s.verdict, code: s.reason, reason: s.why, settle: s.settle || null, variant: b.scope.variants[s.variant]?.id ?? null,
            built_first: day(s.hasDays, s.first), built_last: day(s.hasDays, s.last), work: getsWork(b, mine, i) })), warning: mine.hasVinWarning },
        { unit: theirs.unit, stations: theirs.stations.map(({ verdict, code, reason, settle, variant, built_first, built_last, work }: any) => ({ verdict, code, reason, settle, variant, built_first, built_last, work })),
            warning: theirs.vin.warning }, args.slice(2).join(' '));
}

/** A length typed in one system: the text, and what both must read from it. */
function lengthText(r: Random, low: number, high: number, system: System): string {
    if (system === 'mm') return `${(r.int(low * 10, high * 10) / 10)} mm`;
    const sixtyFourths = r.int(Math.round(low / 25.4 * 64), Math.round(high / 25.4 * 64)), whole = Math.floor(sixtyFourths / 64), part = sixtyFourths % 64;
    return part === 0 ? `${whole} in` : `${whole} ${part}/64 in`;
}

function cutTest(r: Random, file: string, b: Bulletin): string | null {
    const station = r.of(b.scope.stations), fixed = fixedValues(b, station), values: Record<string, string> = {};
    for (const a of b.scope.attributes) if (fixed[a.id] === undefined && r.int(0, 7) > 0) values[a.id] = r.of(a.values);
    const system = r.of<System>(['mm', 'in']), base = r.of([1200, 1180, r.int(930, 1490)]), apart = r.of([0.5, 2]);
    const lengths: [string, bigint][] = [], args = ['cut', file, '--station', station.id];
    for (const id of rackIds(b)) {
        const text = lengthText(r, base - apart, base + apart, system);
        args.push('--rack', `${id}=${text}`);
        lengths.push([id, readAmount(core, text, system)]);
    }
    for (const [k, v] of Object.entries(values)) args.push('--with', `${k}=${v}`);
    const theirs = run(...args), mine = chooseCut(core, b, station.id, values, lengths, 'mm');
    if (theirs.json === null) return `${args.join(' ')}: ${theirs.stderr}`;
    const not = mine.answer.kits.map((k, i) => ({ kit: b.kits[i]!.id, code: k.reason })).filter((k) => k.code !== 'chosen');
    return difference(
        { kit: mine.kit?.id ?? null, not, remeasure: mine.remeasure !== null, tape: Math.round(mine.u.tape),
            racks: mine.kit === null ? [] : mine.racks.map(({ rack, plan, source }) => plan === null ? { id: rack, cut: false } : { id: rack, cut: plan.status === 'cut', needed: plain(plan.needed), stock: plain(plan.stock), mark: plain(plan.mark), kerf: plain(plan.kerf),
                offcut: plain(plan.offcut), tooth: plan.toothFraction < 0 ? null : plan.toothFraction, u: Math.round(plan.markU), end: plan.status === 'cut' ? source?.keep ?? 'either' : null, warnings: plan.warnings.length }) },
        { kit: theirs.json.kit, not: theirs.json.not.map(({ kit, code }: any) => ({ kit, code })), remeasure: theirs.json.remeasure, tape: theirs.json.tape_u_nm,
            racks: theirs.json.racks.map((k: any) => theirs.json.kit === null ? { id: k.id, cut: k.cut } : ({ id: k.id, cut: k.cut, needed: k.needed_nm, stock: k.stock_nm, mark: k.mark_nm ?? 0, kerf: k.kerf_nm ?? 0, offcut: k.offcut_nm ?? 0,
                tooth: k.tooth_fraction ?? null, u: k.cut ? k.mark_u_nm : Math.round(mine.racks.find((x) => x.rack === k.id)!.plan!.markU), end: k.cut ? k.from_end : null, warnings: k.warnings.length })) }, args.slice(2).join(' '));
}

function timeTest(r: Random, file: string, b: Bulletin): string | null {
    const station = r.of(b.timing!.stations).station, racks = timedRacks(b, station), args = ['time', file, '--station', station], pitch = Math.PI * 2;
    const ends: bigint[] = [];
    racks.forEach((id, i) => {
        const text = `${(41 + (i > 0 ? r.int(-4, 4) * pitch + (r.share() - 0.5) * r.of([0.6, 3, 6]) : 0)).toFixed(2)} mm`;
        args.push('--rack', `${id}=${text}`);
        ends.push(readAmount(core, text, 'mm'));
    });
    const theirs = run(...args).json, { answer, low, high } = judgeTiming(core, b, station, ends);
    return difference(
        { verdict: answer.verdict, pitch: plain(answer.pitch), proved: answer.isProved, residue: answer.differences[answer.worst]!.residue,
            moves: answer.moves.map((n, i) => ({ rack: racks[i]!, teeth: Math.abs(n), toward: n > 0 ? 'out' : 'in' })).filter((m) => m.teeth > 0),
            differences: answer.differences.map((d) => ({ before: plain(d.before), after: plain(d.after), low: plain(low), high: plain(high), u: Math.round(d.u), verdict: d.verdict, teeth: d.teeth, residue: d.residue,
                whole: d.isWhole, code: d.meaning })) },
        { verdict: theirs.verdict, pitch: theirs.pitch_nm, proved: theirs.proved, residue: theirs.residue, moves: theirs.moves,
            differences: theirs.differences.map((d: any) => ({ before: d.before_nm, after: d.after_nm, low: d.low_nm, high: d.high_nm, u: d.u_nm, verdict: d.verdict, teeth: d.teeth, residue: d.residue, whole: d.whole_pitches, code: d.code })) },
        args.slice(2).join(' '));
}

function problemJson(p: TruingProblem): Record<string, unknown> {
    const isLength = DIM_OF[p.points[0]!.nominal.unit] === 'length';
    const amount = (n: bigint) => (isLength ? plain(n) : n);
    return {
        worst: amount(p.answer.worstViolation), proved: p.answer.isProved, nodes: p.answer.nodes,
        points: p.points.map((x, i) => ({ id: x.id, reading: amount(p.readings[i]!), p: p.answer.points[i]!.p, verdict: p.answer.points[i]!.verdict })),
        plans: p.answer.plans.map((plan) => ({
            moves: p.adjusters.map((a, i) => ({ adjuster: a.id, steps: plan.steps[i]! })).filter((m) => m.steps !== 0), cost: plan.costS, worst: amount(plan.worstViolation),
            margin: amount(plan.leastMargin), predicted: p.points.map((x, i) => ({ id: x.id, value: amount(plan.predicted[i]!), p: plan.p[i]! })),
        })),
        effects: p.effects.map((e) => ({ value: amount(e.effect.value), u: e.effect.u, significant: e.effect.isSignificant })),
    };
}

function theirProblem(t: any): Record<string, unknown> {
    return {
        worst: t.worst_violation_nm, proved: t.proved, nodes: t.nodes,
        points: t.points.map((x: any) => ({ id: x.id, reading: x.reading_nm, p: x.p_conform, verdict: x.verdict })),
        plans: t.plans.map((x: any) => ({ moves: x.moves.map(({ adjuster, steps }: any) => ({ adjuster, steps })), cost: x.cost_s, worst: x.worst_violation_nm, margin: x.least_margin_nm,
            predicted: x.predicted.map((y: any) => ({ id: y.id, value: y.value_nm, p: y.p_conform })) })),
        effects: t.effects.map((x: any) => ({ value: x.value_nm, u: x.u_nm, significant: x.significant })),
    };
}

function trueTest(r: Random, file: string, b: Bulletin): string | null {
    const read = new Map<string, bigint>(), args = ['true', file], isWhole = r.int(0, 4) > 0, spread = r.of([0.5, 2, 5, 12]);
    for (const p of b.points) {
        const reached = b.adjusters.some((a) => a.effects[p.id] !== undefined);
        if (!(isWhole && reached) && r.int(0, 2) === 0) continue;
        const unit = p.nominal.unit, isLength = DIM_OF[unit] === 'length', system = r.of<System>(['mm', 'in']);
        const near = BigInt(p.nominal.nano) + BigInt(Math.round((r.share() - 0.5) * spread * (isLength ? 1e6 : 1e9)));
        const u: Unit = isLength ? system : unit;
        const text = typed(shown(core, near < 0n ? 0n : near, u, system, 1)), given = u === '1' ? text : `${text} ${u}`;
        args.push('--reading', `${p.id}=${given}`);
        read.set(p.id, readAmount(core, given, u));
    }
    const theirs = run(...args), mine = judgeReadings(core, b, read);
    if (theirs.json === null) return read.size === 0 ? null : `${args.join(' ')}: ${theirs.stderr}`;
    const t = theirs.json, first = mine.problems[0];
    const at = difference({ verdict: mine.verdict, missing: mine.missing.map((p) => p.id), unread: mine.unread.map((p) => p.id),
        judged: mine.judged.map((j) => ({ id: j.point.id, verdict: j.answer.guarded, p: j.answer.p, nm: DIM_OF[j.point.nominal.unit] === 'length' ? plain(j.reading) : undefined, u: DIM_OF[j.point.nominal.unit] === 'length' ? j.u : undefined })) },
    { verdict: t.verdict, missing: t.missing, unread: t.unread, judged: t.judged.map((j: any) => ({ id: j.id, verdict: j.verdict, p: j.p_conform, nm: j.value_nm, u: j.u_nm })) }, args.slice(2).join(' '));
    if (at !== null) return at;
    if (first === undefined) return t.plans.length === 0 ? null : 'a plan where the page has none';
    return difference(problemJson(first), theirProblem(t), args.slice(2).join(' ')) ??
        (mine.problems.length === 1 + (t.more?.length ?? 0) ? null : 'another number of problems');
}

// ---- the run ----

ok(UNITS.every((u, i) => core.unitNumber(u) === i), 'the units are numbered as in the core');
ok(UNITS.every((u) => core.parse(`1 ${u}`.replace('1 1', '1 count'), null).dim === DIM_OF[u]), 'and are of its dimensions');
ok(new Set(UNITS.map((u) => DIM_OF[u])).size === DIMS.length, 'of which there are eight');

const r = seeded(Number(seed));
console.log(`# seed ${seed}`);
for (let j = 0; j < Number(jobs); j++) {
    const { file, b } = bulletins[j % 4 === 3 ? 1 : 0]!;
    const parts: [string, () => string | null][] = [
        ['VIN', () => vinTest(r)], ['scope', () => scopeTest(r, file, b)], ['kit and cut', () => (b.kits.some((k) => k.racks.length > 0) ? cutTest(r, file, b) : null)],
        ['timing', () => (b.timing !== null ? timeTest(r, file, b) : null)], ['truing', () => trueTest(r, file, b)],
    ];
    const bad = parts.map(([name, test]) => [name, test()] as const).filter(([, at]) => at !== null);
    ok(bad.length === 0, `random job ${j} (${b.bulletin.id}): VIN, scope, kit, cut, timing and truing as the command line`, bad.map(([name, at]) => `${name}: ${at}`).join('\n'));
}
end();
