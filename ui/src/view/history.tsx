// history: every entry of the job, newest first; taking one back adds an entry and erases nothing.
import { JSX } from 'preact';
import type { Bulletin } from '../bulletin/types';
import type { Event } from '../job/events';
import type { OpenJob } from '../store/app';
import type { Key } from '../text';
import { JobFrame } from './job';
import { moneyText } from './expenses';
import { jobPath, useApp, Tools } from './context';

function detail({ length, app, figure, t }: Tools, b: Bulletin, e: Event): string {
    const p = e.payload;
    switch (e.type) {
        case 'label_read': case 'note': return String(p['text']);
        case 'scope_found': return t(p['verdict'] as Key);
        case 'rack_measured': return `${p['rack']}: ${length(BigInt(p['length_nm'] as number))}`;
        case 'kit_chosen': return String(p['kit']);
        case 'cut': return `${p['rack']}: ${length(BigInt(p['mark_nm'] as number))}`;
        case 'hold_confirmed': return String(p['step']);
        case 'reading_taken': return `${p['point']}: ${'value_nm' in p ? length(BigInt(p['value_nm'] as number)) : figure(app.core.fromDouble(p['value'] as number, p['unit'] as never), p['unit'] as never)}`;
        case 'moved': return `${p['name']}: ${Number(p['steps']) > 0 ? '+' : ''}${p['steps']}`;
        case 'photo_taken': return String(p['photo']);
        case 'expense_claimed': return `${t(`x-${p['what']}` as Key)} ${moneyText(b, Number(p['amount_minor']))}`;
        case 'finished': return p['minutes'] === undefined ? '' : `${p['minutes']} min`;
        default: return '';
    }
}

export function History({ open }: { open: OpenJob }): JSX.Element {
    const tools = useApp(), { app, t, stationName } = tools, { job, record, bulletin: b } = open;
    const fixed = new Map(job.corrected.map((c) => [c.event, c])), list = [...open.events].reverse();
    return (
        <JobFrame open={open} task={null} title={t('history')} back={jobPath(open, 'all')}>
            <h1>{t('history')}</h1>
            <p>{t('history-why')}</p>
            {job.findings.length > 0 && (
                <><h2>{t('findings')}</h2><ul>{job.findings.map((f, i) => { const e = open.events.find((x) => x.id === f.event); return <li key={i}>{e === undefined ? f.event : `${t(`e-${e.type}` as Key)} ${detail(tools, b, e)}`} {t(`f-${f.kind}` as Key)}</li>; })}</ul></>
            )}
            <div class="rows">
                {list.map((e) => {
                    const void_ = fixed.get(e.id), canBack = void_ === undefined && e.type !== 'opened' && e.corrects === undefined;
                    const what = `${t(`e-${e.type}` as Key)} ${detail(tools, b, e)}`.slice(0, 400);
                    return (
                        <div class="row" key={e.id} data-event={e.type}>
                            <span style={void_ === undefined ? {} : { textDecoration: 'line-through' }}><b>{t(`e-${e.type}` as Key)}</b> {detail(tools, b, e)}<br /><small>{new Date(e.at_ms).toLocaleString()} {'\u00b7'} {e.technician} {'\u00b7'} {stationName(b, e.station ?? null)}</small></span>
                            {void_ !== undefined ? <small>{void_.taken_back ? t('taken-back') : t('corrected')}</small>
                                : canBack ? <button type="button" class="plain-button" data-back={e.id} onClick={() => void app.takeBack(record.id, e, t('take-back-why', { what }).replace(/[\u0000-\u0008\u000b-\u001f\u007f]/g, ' '))}>{t('take-back')}<span class="visually">: {what}</span></button> : null}
                        </div>
                    );
                })}
            </div>
        </JobFrame>
    );
}
