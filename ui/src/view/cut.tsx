// cut: inside the cutting step: each rack drawn with its mark, what to mind, and the tick when it is cut.
import { JSX } from 'preact';
import { chooseCut, CutAnswer } from '../bulletin/adapt';
import type { CutWarning } from '../core/core';
import { stateOf } from '../job/plan';
import type { Item } from '../job/replay';
import type { OpenJob } from '../store/app';
import type { Key } from '../text';
import { RackDrawing } from './rackdraw';
import { TickRow } from './parts';
import { Tools, useApp } from './context';

export interface CutState { answer: CutAnswer | null; blocked: boolean; toCut: number; cuts: Item[] }

/** Lengths that hold, of each rack in the order in which the kits name them. */
export function lengthsOf(open: OpenJob, station: string, racks: string[]): [string, bigint][] {
    const state = stateOf(open.job, station);
    return racks.flatMap((id): [string, bigint][] => {
        const item = state?.racks.find((r) => r.key === id);
        return item === undefined ? [] : [[id, BigInt(item.payload['length_nm'] as number)]];
    });
}

export function cutState({ app, system }: Tools, open: OpenJob, station: string): CutState {
    const { bulletin: b, job } = open, state = stateOf(job, station), kit = state?.kit ?? null;
    if (kit === null) return { answer: null, blocked: true, toCut: 0, cuts: [] };
    const racks = [...new Set(b.kits.flatMap((k) => k.racks.map((r) => r.id)))];
    const answer = chooseCut(app.core, b, station, (kit.payload['with'] ?? {}) as Record<string, string>, lengthsOf(open, station, racks), system);
    const cuts = state!.cuts;
    const isCut = (rack: string, needed: bigint) => cuts.some((c) => c.key === rack && BigInt(c.payload['needed_nm'] as number) === needed);
    const toCut = answer.racks.filter((r) => r.plan?.status === 'cut' && !isCut(r.rack, r.plan.needed)).length;
    return { answer, blocked: answer.kit?.id !== kit.payload['kit'], toCut, cuts };
}

export function CutPart({ open, station }: { open: OpenJob; station: string }): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, length } = tools, { bulletin: b, record } = open, state = cutState(tools, open, station);
    if (state.answer === null || state.blocked) return <section><h2>{t('kit-first')}</h2><p class="stop-text">{t('kit-first-why')}</p><a class="second" href={`#/j/${record.id}/kit/${station}`}>{t('kit-title', { station: tools.stationName(b, station) })}</a></section>;
    const racks = state.answer.racks.filter((r) => r.plan !== null);
    if (!racks.some((r) => r.plan!.status === 'cut')) return <section><h2>{t('nothing-cut')}</h2><p>{t('nothing-cut-why')}</p>{racks.map((r) => <RackDrawing key={r.rack} cut={r} />)}</section>;
    const warning = (w: CutWarning, part: number) => t(`w-${w}` as Key, { n: length(BigInt(Math.round(part)), 2) });
    return (
        <section>
            {b.cut !== null && <p lang={langOf(b, b.cut.blade_says)}><b>{say(b, b.cut.blade_says)}</b></p>}
            {racks.map((r) => {
                const plan = r.plan!, end = r.source?.keep ?? null;
                const done = state.cuts.find((c) => c.key === r.rack && BigInt(c.payload['needed_nm'] as number) === plan.needed);
                const set = (on: boolean) => {
                    if (!on && done !== undefined) return void app.takeBack(record.id, open.events.find((e) => e.id === done.event)!, t('take-back-why', { what: `${t('e-cut')} ${r.rack}` }));
                    void app.record(record.id, [{ type: 'cut', station, payload: {
                        rack: r.rack, needed_nm: Number(plan.needed), stock_nm: Number(plan.stock), mark_nm: Number(plan.mark), offcut_nm: Number(plan.offcut), ...(end === null ? {} : { from_end: end }),
                    } }]);
                };
                return (
                    <section key={r.rack} data-rack={r.rack}>
                        <RackDrawing cut={r} />
                        {plan.status === 'cut' ? (
                            <>
                                <p><b>{t('mark-at', { n: length(plan.mark), end: t(end === 'upper' ? 'end-upper' : end === 'lower' ? 'end-lower' : 'end-either') })}</b>, {t('offcut-is', { n: length(plan.offcut) })}<br /><small>{t('mark-u', { n: length(BigInt(Math.round(2 * plan.markU)), 1) })}</small></p>
                                {plan.warnings.map((w) => <p key={w} class="stop-text">{warning(w, plan.partTooth)}</p>)}
                                <div class="rows"><div style={{ padding: 0 }}><TickRow on={done !== undefined} onChange={set}>{t('is-cut', { rack: r.rack })}</TickRow></div></div>
                            </>
                        ) : <p>{t('no-cut')}</p>}
                    </section>
                );
            })}
        </section>
    );
}
