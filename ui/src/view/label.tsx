// label: one station's label, as it stands, and at once whether the station is in scope and why.
import { JSX } from 'preact';
import { CoreError, ERR, ScopeAnswer } from '../core/core';
import { judgeScope, readLabel, Sight } from '../bulletin/adapt';
import type { Bulletin } from '../bulletin/types';
import { stateOf } from '../job/plan';
import type { OpenJob } from '../store/app';
import type { Key } from '../text';
import { useDraft } from './keypad';
import { Act, Title, VerdictLine } from './parts';
import { JobFrame, TaskProps } from './job';
import { ScanButton, scannedIn, ScannedNote } from './scan';
import { Tools, useApp } from './context';

/** How a label of this bulletin reads, made from its first pattern, variant and window. */
function example({ app }: Tools, b: Bulletin): string {
    const v = b.scope.variants[0], day = v?.windows[0]?.from.first ?? 0, [year, month, date] = app.core.dateShow(day).split('-') as [string, string, string];
    const start = Date.UTC(Number(year), 0, 1) / 86400000, week = isoWeek(day);
    return (b.scope.labels[0] ?? '').replace('{variant}', (v?.codes[0] ?? '').replace('*', '1')).replace('%Y', year).replace('%G', String(week.year)).replace('%V', String(week.week).padStart(2, '0'))
        .replace('%j', String(day - start + 1).padStart(3, '0')).replace('%m', month).replace('%d', date);
}
/** ISO 8601 week of a day, for the example only. */
function isoWeek(day: number): { year: number; week: number } {
    const thursday = day - ((day + 3) % 7) + 3, year = new Date(thursday * 86400000).getUTCFullYear();
    return { year, week: Math.floor((thursday - Date.UTC(year, 0, 1) / 86400000) / 7) + 1 };
}

/** What is known of every station: the labels recorded, and for this one what stands in the field. */
export function scopeNow(tools: Tools, open: OpenJob, station: string, sight: Sight): ScopeAnswer {
    const { bulletin: b, job, record } = open;
    return judgeScope(tools.app.core, b, record.vin, b.scope.stations.map((s): Sight => {
        if (s.id === station) return sight;
        const text = stateOf(job, s.id)?.label?.payload['text'];
        if (typeof text !== 'string') return { state: 'unread' };
        try { return readLabel(tools.app.core, b, text); } catch { return { state: 'unread' }; }
    }));
}

export function LabelPage({ open, task, onward }: TaskProps): JSX.Element {
    const tools = useApp(), { app, t, say, langOf, stationName } = tools, { bulletin: b, job, record } = open, id = task.station!;
    const station = b.scope.stations.findIndex((s) => s.id === id), known = stateOf(job, id)?.label;
    const [typed, setTyped] = useDraft(`${record.id}/label/${id}`);
    const text = (typed || String(known?.payload['text'] ?? '')).trim();
    let sight: Sight = { state: 'unread' }, error: string | null = null;
    if (text !== '') {
        try { sight = readLabel(app.core, b, text); } catch (e) {
            if (!(e instanceof CoreError)) throw e;
            error = e.code === ERR.IMPOSSIBLE ? t('label-impossible') : t('label-syntax', { n: e.at + 1 });
        }
    }
    const found = scopeNow(tools, open, id, sight).stations[station]!;
    const recordIt = async () => {
        const label = sight.state === 'read' ? sight.label : null;
        const last = stateOf(job, id);
        const good = await app.record(record.id, [
            ...(text === '' ? [] : [{ type: 'label_read' as const, station: id, corrects: last?.label?.event ?? null, payload: {
                text, ...(label === null || label.variant === '' ? {} : { variant: label.variant }),
                ...(label === null ? {} : { built_first: app.core.dateShow(label.first), built_last: app.core.dateShow(label.last) }),
            } }]),
            { type: 'scope_found', station: id, corrects: last?.scope?.event ?? null, payload: { verdict: found.verdict, reason: found.why.slice(0, 120) } },
        ]);
        if (good) { app.dropDrafts(`${record.id}/label/${id}`); onward(); }
    };
    const isJudged = text !== '' && error === null, shape = found.verdict === 'in' ? 'work' : found.verdict === 'out' ? 'inside' : 'uncertain';
    const next: Key = found.verdict === 'in' ? 'scope-in-next' : found.verdict === 'out' ? 'scope-out-next' : 'scope-unknown-next';
    const settle = `s-${found.reason}` as Key;
    const days = !found.hasDays ? null : found.first === found.last ? t('built-day', { first: app.core.dateShow(found.first) }) : t('built', { first: app.core.dateShow(found.first), last: app.core.dateShow(found.last) });
    const name = stationName(b, id);
    return (
        <JobFrame open={open} task={task} title={t('label-title', { station: name })} foot={
            <>
                <Act id="record" off={!isJudged} onClick={() => void recordIt()}>{t('record')}</Act>
                {text === '' && <button type="button" class="second" data-act="unread" onClick={() => void recordIt()}>{t('label-unread')}</button>}
            </>
        }>
            {!isJudged ? <Title>{t('label-title', { station: name })}</Title> : (
                <VerdictLine shape={shape} word={t(found.verdict as Key)}>
                    <p>{t(`r-${found.reason}` as Key)}</p>
                    <p class="small">{[days, sight.state === 'read' && sight.label.variant !== '' ? t('variant', { variant: sight.label.variant }) : null].filter(Boolean).join(', ')}</p>
                    <p><b>{found.verdict === 'unknown' ? t(settle) : t(next)}</b></p>
                </VerdictLine>
            )}
            <p lang={langOf(b, b.scope.stations[station]!.label_at)}>{say(b, b.scope.stations[station]!.label_at)}</p>
            <label class="field"><span>{t('label-text')}</span>
                <span class={`entry${error !== null ? ' bad' : ''}`}>
                    <input class="code" type="text" autocapitalize="characters" autocomplete="off" spellcheck={false} maxLength={120} data-field="label" aria-describedby="label-say" value={typed || text}
                        onInput={(e) => setTyped(e.currentTarget.value.toUpperCase())} onKeyDown={(e) => { if (e.key === 'Enter' && isJudged) void recordIt(); }} />
                </span>
            </label>
            <p id="label-say" class={`say${error !== null ? ' bad' : ''}`} aria-live="polite">{error ?? t('label-like', { example: example(tools, b) })}</p>
            <ScannedNote scanned={scannedIn(tools, `${record.id}/label/${id}/scanned`, text)} />
            <ScanButton to={`label/${record.id}/${id}`} />
        </JobFrame>
    );
}
