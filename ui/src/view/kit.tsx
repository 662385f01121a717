// kit: the old racks measured, what is told of them, and which kit follows. When the lengths disagree, both are measured again
// before anything is cut.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { chooseCut, disagree, fixedValues, rackIds } from '../bulletin/adapt';
import { stateOf } from '../job/plan';
import type { Key } from '../text';
import { lengthsOf } from './cut';
import { AmountField, RACK_LENGTH, readTyped, useDraft } from './keypad';
import { Act, Figure, Title, VerdictLine } from './parts';
import { JobFrame, TaskProps } from './job';
import { NotePart } from './step';
import { useApp } from './context';

export function KitPage({ open, task, onward }: TaskProps): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, show, system, length, stationName } = tools, { bulletin: b, job, record } = open, id = task.station!;
    const station = b.scope.stations.find((s) => s.id === id)!, state = stateOf(job, id), fixed = fixedValues(b, station);
    const asked = b.scope.attributes.filter((a) => fixed[a.id] === undefined), before = (state?.kit?.payload['with'] ?? {}) as Record<string, string>;
    const [told, setTold] = useDraft(`${record.id}/kit/${id}/with`);
    const values: Record<string, string> = { ...Object.fromEntries(asked.filter((a) => before[a.id] !== undefined).map((a) => [a.id, before[a.id]!])), ...(told === '' ? {} : JSON.parse(told) as Record<string, string>) };
    const racks = rackIds(b), lengths = lengthsOf(open, id, racks), history = (rack: string) => (state?.racks.find((r) => r.key === rack)?.history ?? []).map((h) => BigInt(h.payload['length_nm'] as number));
    const isMeasured = racks.every((r) => history(r).length > 0);
    const cut = isMeasured ? chooseCut(app.core, b, id, values, lengths, system) : null;
    const isSure = (rack: string) => { const h = history(rack); return h.length >= 2 && !disagree(app.core, b, h.slice(-2)); };
    const differ = cut?.remeasure ?? null, unsure = differ === null ? [] : racks.filter((r) => !isSure(r));
    const open2 = racks.find((r) => history(r).length === 0) ?? null, again = open2 === null ? unsure[0] ?? null : null;
    const [chosen, setChosen] = useState<string | null>(null), rack = chosen ?? open2 ?? again;
    const [typed, setTyped] = useDraft(`${record.id}/rack/${id}/${rack ?? ''}`);
    const nano = rack === null ? null : readTyped(app, t, typed, system, RACK_LENGTH).nano, canTake = nano !== null;
    const take = () => {
        if (!canTake || rack === null) return;
        void app.record(record.id, [{ type: 'rack_measured', station: id, payload: { rack, length_nm: Number(nano), ...(b.cut === null ? {} : { instrument: b.cut.instrument }) } }]).then((good) => {
            if (!good) return;
            app.dropDrafts(`${record.id}/rack/${id}/${rack}`);
            setChosen(null);
        });
    };
    const isTold = asked.every((a) => values[a.id] !== undefined), kit = cut?.kit ?? null;
    const takeKit = async () => {
        const all = { ...fixed, ...values };
        const notes = differ === null ? [] : [{ type: 'note' as const, station: id, payload: { text: t('noted-differ', { n: length(differ.apart) }) } }];
        const good = await app.record(record.id, [...notes, { type: 'kit_chosen', station: id, corrects: state?.kit?.event ?? null, payload: { kit: kit!.id, ...(Object.keys(all).length === 0 ? {} : { with: all }) } }]);
        if (good) { app.dropDrafts(`${record.id}/kit/${id}`); onward(); }
    };
    const isReady = kit !== null && rack === null;
    const foot = rack !== null ? <Act id="take-length" off={!canTake} onClick={take} hint={open2 !== null ? t('enter-lengths', { n: racks.filter((r) => history(r).length === 0).length }) : undefined}>{t('take')}</Act>
        : <Act id="take-kit" off={!isReady} onClick={() => void takeKit()}>{differ !== null && kit !== null ? t('really-differ') : t('take-kit')}</Act>;
    return (
        <JobFrame open={open} task={task} title={t('kit-title', { station: stationName(b, id) })} foot={foot}>
            {differ !== null && unsure.length > 0 ? (
                <VerdictLine shape="stop" word={t('racks-differ')}><p>{t('racks-differ-why', { a: differ.a, b: differ.b, n: length(differ.apart) })}</p><p><b>{t('racks-differ-next')}</b></p></VerdictLine>
            ) : cut === null || !isTold && kit === null ? <Title>{t('kit-title', { station: stationName(b, id) })}</Title>
                : kit !== null ? (
                    <VerdictLine shape="work" word={t('kit-is', { kit: kit.id })}><p lang={langOf(b, kit.name)}>{say(b, kit.name)}</p>{kit.number !== '' && <p class="small">{t('kit-number', { number: kit.number })}</p>}</VerdictLine>
                ) : cut.answer.open !== 0n ? <VerdictLine shape="uncertain" word={t('kit-open')} /> : <VerdictLine shape="stop" word={t('kit-none')}><p>{t('kit-none-why')}</p></VerdictLine>}
            {asked.map((a) => (
                <section key={a.id}>
                    <p lang={langOf(b, a.ask)}>{say(b, Object.keys(a.ask).length > 0 ? a.ask : a.name)}</p>
                    <div class="choices" role="group" aria-label={say(b, a.name)}>
                        {a.values.map((v) => <button type="button" key={v} data-value={v} aria-pressed={values[a.id] === v} onClick={() => setTold(JSON.stringify({ ...values, [a.id]: v }))}>{v}</button>)}
                    </div>
                </section>
            ))}
            {racks.length > 0 && b.cut !== null && <p lang={langOf(b, b.cut.measure)}>{say(b, b.cut.measure)}</p>}
            <div class="rows">
                {racks.filter((r) => history(r).length > 0).map((r) => (
                    <div class="row" key={r}>
                        <span><b>{r}</b><br /><button type="button" class="plain-button" data-again={r} onClick={() => setChosen(r)}>{t('take-again')}<span class="visually">: {r}</span></button></span>
                        <span>{history(r).map((h, i, all) => <span key={i} style={{ display: 'block' }}>{i === all.length - 1 ? <Figure s={show(h, system)} /> : <small>{length(h)}</small>}</span>)}</span>
                    </div>
                ))}
            </div>
            {rack !== null && <AmountField key={rack} id={`rack-${rack}`} label={t(history(rack).length > 0 ? 'second-measure' : 'measure-rack', { rack })} unit={system} text={typed} onText={setTyped} onEnter={take} reach={RACK_LENGTH} open />}
            {again !== null && history(again).length >= 2 && <p class="stop-text">{t('same-differs', { rack: again })}</p>}
            {kit !== null && kit.parts.length > 0 && (
                <><h2>{t('kit-holds')}</h2><div class="rows">{kit.parts.map((c) => { const part = b.parts.find((x) => x.id === c.part); return <div class="row" key={c.part}><span lang={part === undefined ? undefined : langOf(b, part.name)}>{part === undefined ? c.part : say(b, part.name)}</span><span>{c.count}</span></div>; })}</div></>
            )}
            {cut !== null && b.kits.length > 1 && (
                <details><summary>{t('kit-not')}</summary>
                    <div class="rows">{cut.answer.kits.map((k, i) => k.reason === 'chosen' ? null : (
                        <div class="row" key={b.kits[i]!.id}><span>{b.kits[i]!.id}</span><small>{t(`k-${k.reason}` as Key, { what: b.kits[i]!.for[b.scope.attributes[k.attribute]?.id ?? ''] ?? b.scope.attributes[k.attribute]?.id ?? '', rack: racks[k.rack] ?? '' })}</small></div>
                    ))}</div>
                </details>
            )}
            <NotePart open={open} station={id} />
        </JobFrame>
    );
}
