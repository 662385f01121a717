// finish: what the maker wants to see and what is missing, the end of the job, and the bag with everything in it.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { Bag } from '../bag/bag';
import { packJob, today } from '../bag/pack';
import { Task, tasksOf, wanted } from '../job/plan';
import { OpenJob, SOFTWARE } from '../store/app';
import { Expenses } from './expenses';
import { useDraft } from './keypad';
import { Act, Title, VerdictLine } from './parts';
import { JobFrame } from './job';
import { jobPath, useApp, useRelay, useSender } from './context';
import { SendState } from './send';
import { clock } from './together';

export function save(blob: Blob, name: string): void {
    const url = URL.createObjectURL(blob), link = document.createElement('a');
    link.href = url;
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
}

export function Finish({ open, task }: { open: OpenJob; task: Task | null }): JSX.Element {
    const sender = useSender(), relay = useRelay(), tools = useApp(), { app, t, say, langOf, stationName, language } = tools, { bulletin: b, job, record } = open;
    const list = wanted(b, job), missing = list.filter((w) => !w.has), tasks = tasksOf(b, job, app.acks(record.id)), open_ = tasks.filter((k) => !k.done && k.kind !== 'finish').length;
    const [text, setText] = useDraft(`${record.id}/minutes`), [bag, setBag] = useState<Bag | null>(null), [error, setError] = useState<string | null>(null);
    const minutes = /^\d{1,5}$/.test(text) ? Number(text) : null;
    const sent = app.outgoingOf(record.id), isServed = sender !== null && (sender.session !== null || sent !== null);
    // One phone finishes and sends; the others are told.
    const shared = relay?.of(record.id) ?? null, isShared = shared !== null && shared.others.length > 0, isOwn = app.draft(`finisher/${record.id}`) !== '';
    const last = [...job.order].reverse().find((o) => o.event.type === 'finished')?.event, isElsewhere = job.finished && isShared && !isOwn && sent === null;
    const isLess = shared !== null && shared.claim !== null && shared.unclaimed > 0, isDone = sent?.state === 'sent' || (isElsewhere && shared!.claim !== null);
    const claim = shared !== null && shared.claim !== null && (sent === null || (sent.state === 'sent' && sent.detail !== shared.claim)) ? shared.claim : null;
    const finish = async () => {
        app.setDraft(`finisher/${record.id}`, '1');
        if (await app.record(record.id, [{ type: 'finished', payload: minutes === null ? {} : { minutes } }])) app.dropDrafts(`${record.id}/minutes`);
    };
    const pack = async () => {
        try {
            const made = await packJob(app, open, today());
            save(made.blob, `${record.vin}-${made.name}`);
            setBag(made);
            setError(null);
        } catch (e) {
            setError(String(e instanceof Error ? e.message : e));
        }
    };
    const share = () => save(new Blob([app.eventsText(open)], { type: 'application/json' }), `${record.vin}-events.json`);
    const foot = !job.finished
        ? <Act id="finish" hint={[...(open_ > 0 ? [t('steps-open', { n: open_ })] : []), ...(isShared ? [t('finish-shared', { who: shared.others[0]!.person, time: clock(shared.others[0]!.seen_ms, language) })] : [])].join(' ') || undefined} onClick={() => void finish()}>{missing.length > 0 || open_ > 0 ? t('finish-all-the-same') : t('finish-job')}</Act>
        : isElsewhere && (!isDone || isLess) ? <button type="button" class="second" data-act="send-here" onClick={() => void sender!.enqueue(record.id)}>{t('send-here')}</button>
        : isServed && (!isDone || isLess) ? <Act id="send" off={sent?.state === 'waiting'} onClick={() => void sender!.enqueue(record.id)}>{t(sent === null ? 'send-bag' : 'send-again')}</Act>
            : isElsewhere ? <button type="button" class="second" data-act="bag" onClick={() => void pack()}>{t('save-bag')}</button>
            : <Act id="bag" onClick={() => void pack()}>{t('save-bag')}</Act>;
    const word = job.finished ? t('finished-title') : list.length === 0 ? t('none-in') : missing.length === 0 ? t('proof-complete') : missing.length === 1 ? t('proof-missing-1') : t('proof-missing', { n: missing.length });
    return (
        <JobFrame open={open} task={task} title={t('finish')} foot={foot}>
            {job.finished ? <Title>{word}</Title> : <VerdictLine shape={missing.length === 0 ? 'inside' : 'uncertain'} word={word}><p>{list.length === 0 ? t('none-in-why') : t('proof-why')}</p></VerdictLine>}
            {b.proof.keep_old_parts > 0 && list.length > 0 && <p>{t('keep-parts', { n: b.proof.keep_old_parts })}</p>}
            {!job.finished && (
                <label class="field"><span>{t('minutes')}</span>
                    <span class="entry"><input type="text" inputMode="numeric" autocomplete="off" maxLength={5} data-field="minutes" value={text} onInput={(e) => setText(e.currentTarget.value.replace(/\D/g, ''))} /><span class="unit">min</span></span>
                    <span class="say">{t('minutes-why')}</span>
                </label>
            )}
            {!job.finished && list.length > 0 && <Expenses open={open} />}
            {job.finished && (
                <>
                    {!isElsewhere && <p>{t('bag-why')}</p>}
                    {!isElsewhere && <p class="small">{app.settings.key === null ? t('bag-unsigned') : t('bag-signed', { shop: app.settings.key.shop })}</p>}
                    {isElsewhere && claim === null && <p role="status" data-elsewhere={last?.technician}><b>{t('finished-by', { who: last?.technician ?? '', time: clock(last?.at_ms ?? 0, language) })}</b></p>}
                    {claim !== null && <p role="status" data-claim={claim}><b>{t('sent-by', { who: shared!.claim_by, claim })}</b></p>}
                    {isServed && !isElsewhere && claim === null && <SendState sender={sender!} sent={sent} />}
                    {isLess && <p class="stop-text" role="status" data-unclaimed={shared.unclaimed}>{t('sent-less', { n: shared.unclaimed })}</p>}
                    {bag !== null && <div class="rows" role="status" data-bag={bag.sha256}><div><b>{t('bag-saved', { name: `${record.vin}-${bag.name}` })}</b><br /><small>{t('bag-size', { files: bag.files, kb: Math.ceil(bag.bytes / 1000) })}. {bag.isSigned ? t('bag-signed', { shop: app.settings.key?.shop ?? '' }) : t('bag-unsigned')}<br />{t('lead', { name: t('bag-sum') })} <span style={{ overflowWrap: 'anywhere' }}>{bag.sha256}</span></small></div></div>}
                    {error !== null && <p class="stop-text" role="alert">{t('bag-failed', { detail: error })}</p>}
                </>
            )}
            {list.length > 0 && (
                <><h2>{t('proof')}</h2>
                    <div class="rows">
                        {list.map((w) => {
                            const name = w.photo !== null ? w.photo.name : w.point!.name, to = w.step === null ? null : tasks.find((k) => k.step?.id === w.step!.id && k.kind === 'step' && (k.station === w.station || k.station === null)) ?? tasks.find((k) => k.step?.id === w.step!.id);
                            const inside = <><span><b lang={langOf(b, name)}>{say(b, name)}</b><br /><small>{t(w.kind === 'photo' ? 'w-photo' : 'w-reading')} {'\u00b7'} {stationName(b, w.station)}{w.step !== null && <> {'\u00b7'} {t('because-step', { step: say(b, w.step.title) })}</>}</small></span><span class={w.has ? '' : 'stop-text'}>{w.has ? t('is-there') : t('is-missing')}</span></>;
                            return w.has || to === null || to === undefined ? <div class="row" key={`${w.kind}${w.id}${w.station}`}>{inside}</div> : <a class="row" key={`${w.kind}${w.id}${w.station}`} href={'#/' + jobPath(open, to.key)}>{inside}</a>;
                        })}
                    </div></>
            )}
            {job.finished && isServed && (!isDone || isLess) && <button type="button" class="second" data-act="bag" onClick={() => void pack()}>{t('save-bag')}</button>}
            <div class="pair">
                <button type="button" class="second" data-act="share" onClick={share}>{t('save-events')}</button>
                {job.finished ? <button type="button" class="second" data-act="reopen" onClick={() => { app.setDraft(`finisher/${record.id}`, ''); void app.record(record.id, [{ type: 'opened', payload: { software: SOFTWARE } }]); }}>{t('reopen')}</button>
                    : <a class="second" href={'#/' + jobPath(open, 'history')}>{t('history')}</a>}
            </div>
        </JobFrame>
    );
}
