// timing: are the racks of a station in step, and if not, which one jumps how many teeth. Ends are typed, the core judges, the
// drawing shows both racks on their pinions and the jump; after a jump the ends are read again.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { judgeTiming, timedRacks, TimingCall } from '../bulletin/adapt';
import type { Key } from '../text';
import { AmountField, RACK_END, readTyped, useDraft } from './keypad';
import { Act, Figure, Shape, Title, VerdictLine } from './parts';
import { JobFrame, TaskProps } from './job';
import { NotePart, Words } from './step';
import { Tools, useApp } from './context';

/** "outboard jumps 1 tooth out": what to do, one sentence a rack. */
function jumps({ t }: Tools, call: TimingCall): string[] {
    return call.answer.moves.flatMap((n, i) => {
        if (n === 0) return [];
        const way = t(n > 0 ? 'way-out' : 'way-in'), rack = call.racks[i]!;
        return [Math.abs(n) === 1 ? t('jump-one', { rack, way }) : t('jump-many', { rack, way, n: Math.abs(n) })];
    });
}

const WORDS: Record<TimingCall['answer']['verdict'], [Shape, Key]> = {
    'in step': ['inside', 'in-step'], 'out of step': ['work', 'out-of-step'], cannot: ['stop', 'cannot-step'], uncertain: ['uncertain', 'uncertain-step'],
};

export function TimingPage({ open, task, onDone }: TaskProps & { onDone: () => void }): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, show, length, system } = tools, { bulletin: b, record } = open, id = task.station!, step = task.step!, racks = timedRacks(b, id);
    const key = `${record.id}/ends/${id}`, [kept, setKept] = useDraft(`${key}/kept`), ends = new Map(Object.entries(kept === '' ? {} : JSON.parse(kept) as Record<string, string>));
    const [chosen, setChosen] = useState<string | null>(null), at = chosen ?? racks.find((r) => !ends.has(r)) ?? null;
    const [typed, setTyped] = useDraft(`${key}/typed/${at ?? ''}`);
    const nano = at === null ? null : readTyped(app, t, typed, system, RACK_END).nano, canTake = nano !== null;
    const take = () => {
        if (!canTake || at === null) return;
        setKept(JSON.stringify({ ...Object.fromEntries(ends), [at]: String(nano) }));
        setTyped('');
        setChosen(null);
    };
    const call = at === null && racks.every((r) => ends.has(r)) ? judgeTiming(app.core, b, id, racks.map((r) => BigInt(ends.get(r)!))) : null;
    const instrument = b.instruments.find((i) => i.id === b.timing!.instrument);
    const said = racks.map((r) => `${r} ${ends.has(r) ? length(BigInt(ends.get(r)!), 2) : ''}`).join(', ');
    const note = { type: 'note' as const, station: id, payload: { text: t('ends-noted', { what: said }).replace(/\u00a0/g, ' ') } };
    const jumped = async () => {
        const moves = call!.answer.moves.flatMap((n, i) => (n === 0 ? [] : [{ type: 'moved' as const, station: id, payload: { target: 'rack', name: racks[i]!, steps: n } }]));
        if (await app.record(record.id, [note, ...moves])) app.dropDrafts(key);
        setChosen(null);
    };
    const done = async () => {
        if (!(await app.record(record.id, [note]))) return;
        app.dropDrafts(key);
        onDone();
    };
    const verdict = call?.answer.verdict ?? null, worst = call === null ? null : call.answer.differences[call.answer.worst]!;
    const seconds = call === null ? 0 : call.answer.moves.reduce((n, m) => n + (m === 0 ? 0 : b.timing!.setup_s + Math.abs(m) * b.timing!.per_jump_s), 0);
    const foot = at !== null ? <Act id="take-end" off={!canTake} hint={t('ends-to-go', { n: racks.filter((r) => !ends.has(r)).length || 1 })} onClick={take}>{t('take')}</Act>
        : verdict === 'in step' ? <Act id="timed" onClick={() => void done()}>{t('confirm-timed')}</Act>
            : verdict === 'out of step' ? <Act id="jumped" onClick={() => void jumped()}>{t('jumped')}</Act>
                : <Act id="again" onClick={() => app.dropDrafts(key)}>{t('take-again')}</Act>;
    return (
        <JobFrame open={open} task={task} title={say(b, step.title)} foot={foot}>
            {call === null || worst === null ? <Title><span lang={langOf(b, step.title)}>{say(b, step.title)}</span></Title> : (
                <>
                    <VerdictLine shape={WORDS[call.answer.verdict][0]} word={t(WORDS[call.answer.verdict][1])}>
                        {jumps(tools, call).map((j) => <p key={j}><b>{j}.</b></p>)}
                        <p>{t(`t-${worst.meaning}` as Key, { n: Math.abs(worst.teeth) })}{verdict === 'cannot' && ` ${t('force-nothing')}`}</p>
                        {verdict === 'out of step' && <p class="small">{t('minutes-about', { n: Math.round(seconds / 60) })}</p>}
                    </VerdictLine>
                    <TimingDrawing call={call} ends={racks.map((r) => BigInt(ends.get(r)!))} />
                </>
            )}
            {b.timing !== null && <p lang={langOf(b, b.timing.how)}>{say(b, b.timing.how)}{instrument !== undefined && <small> ({say(b, instrument.name)})</small>}</p>}
            <div class="rows">
                {racks.filter((r) => ends.has(r)).map((r) => (
                    <div class="row" key={r}><span><b>{r}</b><br /><button type="button" class="plain-button" onClick={() => setChosen(r)}>{t('take-again')}<span class="visually">: {r}</span></button></span><Figure s={show(BigInt(ends.get(r)!), system, 2)} /></div>
                ))}
            </div>
            {at !== null && <AmountField key={at} id={`end-${at}`} label={t('timing-rack', { rack: at })} unit={system} text={typed} onText={setTyped} onEnter={take} reach={RACK_END} open />}
            <details><summary>{t('the-step')}</summary><Words open={open} step={step} /></details>
            <NotePart open={open} station={id} />
        </JobFrame>
    );
}

/** Both racks on their pinions and the shaft; the ends to one scale, and the jump as a dashed outline. */
export function TimingDrawing({ call, ends }: { call: TimingCall; ends: bigint[] }): JSX.Element {
    const tools = useApp(), { t, length } = tools, { answer, racks } = call, pitchNm = Number(answer.pitch), ref = Number(ends[0]!);
    const places = ends.flatMap((e, i) => [Number(e) - ref, Number(e) - ref + answer.moves[i]! * pitchNm]);
    const span = Math.max(...places) - Math.min(...places), p = Math.max(9, Math.min(34, 150 / Math.max(span / pitchNm, 1))), scale = p / pitchNm;
    const W = 350, right = 318, x = (nm: number) => right - (Math.max(...places) - nm) * scale, rowH = 108, H = racks.length * rowH + 66;
    const first = answer.differences[answer.worst]!;
    const teeth = (end: number, y: number) => {
        const list: string[] = [];
        for (let c = end - p / 2 - Math.floor((end - p / 2 - 18 - p) / p) * p; c < end - p * 0.2; c += p)
            list.push(`L${(c - p * 0.32).toFixed(1)} ${y}L${(c - p * 0.15).toFixed(1)} ${y + p * 0.42}L${(c + p * 0.15).toFixed(1)} ${y + p * 0.42}L${(c + p * 0.32).toFixed(1)} ${y}`);
        return `M18 ${y - 20}V${y}${list.join('')}L${end.toFixed(1)} ${y}V${y - 20}Z`;
    };
    return (
        <svg class="drawing" viewBox={`0 0 ${W} ${H}`} role="img" aria-label={jumps(tools, call).join('; ') || t('in-step')}>
            <path class="d-fine" stroke-dasharray="5 4" d={`M96 62V${H - 26}`} /><text x="104" y={H - 12} class="soft">{t('shaft')}</text>
            {racks.map((rack, i) => {
                const y = 84 + i * rowH, end = x(Number(ends[i]!) - ref), move = answer.moves[i]!, after = x(Number(ends[i]!) - ref + move * pitchNm), r = 24;
                const cy = y + p * 0.42 + r;
                return (
                    <g key={rack}>
                        <text x="18" y={y - 27} class="fig">{rack}</text>
                        <circle cx="96" cy={cy} r={r} class="d-metal" /><circle cx="96" cy={cy} r="6" class="d-blade" />
                        {Array.from({ length: 12 }, (_, k) => <path key={k} class="d-line" d={`M${(96 + Math.cos((k * Math.PI) / 6) * (r - 5)).toFixed(1)} ${(cy + Math.sin((k * Math.PI) / 6) * (r - 5)).toFixed(1)}L${(96 + Math.cos((k * Math.PI) / 6) * (r + 3)).toFixed(1)} ${(cy + Math.sin((k * Math.PI) / 6) * (r + 3)).toFixed(1)}`} />)}
                        <path class="d-metal" d={teeth(end, y)} />
                        <path class="d-line" d={`M${end} ${y - 24}V${y + 40}`} />
                        <text x={end + (end > 250 ? -4 : 4)} y={y + 54} text-anchor={end > 250 ? 'end' : 'start'} class="fig">{length(ends[i]!, 2)}</text>
                        {move !== 0 && (
                            <g class="jump" style={{ '--from': `${(end - after).toFixed(1)}px` } as Record<string, string>}>
                                <path class="d-ghost" d={`M${after} ${y - 24}V${y + 22}M${Math.min(after, end)} ${y - 10}H${Math.max(after, end)}`} />
                                <path class="d-act" d={move > 0 ? `M${after} ${y - 10}l-11-7v14z` : `M${after} ${y - 10}l11-7v14z`} />
                                <text x={(after + end) / 2} y={y - 27} text-anchor="middle" class="d-act-text">{move > 0 ? `+${move}` : `\u2212${-move}`}</text>
                            </g>
                        )}
                    </g>
                );
            })}
            <text x="18" y="20" class="soft">{t('difference', { n: length(first.before, 2) })}{answer.moves.some((m) => m !== 0) && `, ${t('after-jump', { n: length(first.after, 2) })}`}</text>
            <text x="18" y="37" class="soft">{t('pitch', { n: length(answer.pitch, 3) })}</text>
        </svg>
    );
}
