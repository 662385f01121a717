// prepare: everything laid out before the first step: tools, protective equipment, what goes before the bulletin.
import { JSX } from 'preact';
import type { Item } from '../bulletin/types';
import { workStations } from '../job/plan';
import { Act, TickRow, Title } from './parts';
import { JobFrame, TaskProps } from './job';
import { useApp } from './context';

export function Prepare({ open, task, onward }: TaskProps): JSX.Element {
    const { app, t, say, langOf } = useApp(), { bulletin: b, job, record } = open, acks = app.acks(record.id);
    const all = [...b.tools.map((i) => ['tool', i] as const), ...b.protective.map((i) => ['protective', i] as const)];
    const left = all.filter(([kind, i]) => !acks.has(`have/${kind}/${i.id}`)).length;
    const stations = workStations(b, job), minutes = labourMinutes(open, stations.map((s) => s.id));
    const list = (kind: string, items: Item[]) => (
        <div class="rows">
            {items.map((i) => <div key={i.id} style={{ padding: 0 }}><TickRow lang={langOf(b, i.name)} on={acks.has(`have/${kind}/${i.id}`)} onChange={(on) => app.ack(record.id, `have/${kind}/${i.id}`, on)}>{say(b, i.name)}</TickRow></div>)}
        </div>
    );
    const cautions = b.steps.reduce((n, s) => n + s.cautions.length, 0);
    return (
        <JobFrame open={open} task={task} title={t('prepare')} foot={
            <>
                <Act id="ready" off={left > 0} hint={left > 0 ? t('first-tick', { n: left }) : undefined} onClick={() => { app.ack(record.id, 'prepare'); onward(); }}>{t('all-ready')}</Act>
                {left > 0 && <button type="button" class="second" data-act="have-all" onClick={() => all.forEach(([kind, i]) => app.ack(record.id, `have/${kind}/${i.id}`))}>{t('have-all')}</button>}
            </>
        }>
            <Title>{t('prepare')}</Title>
            <p>{t('prepare-why')}</p>
            {b.bulletin.refers_to.length > 0 && <><h2>{t('goes-first')}</h2><ul>{b.bulletin.refers_to.map((r, i) => <li key={i} lang={langOf(b, r)}>{say(b, r)}</li>)}</ul></>}
            {cautions > 0 && <p>{t('cautions-in', { n: cautions })}</p>}
            <h2>{t('protective')}</h2>{list('protective', b.protective)}
            <h2>{t('tools')}</h2>{list('tool', b.tools)}
            {b.kits.length > 0 && <p class="small">{t('no-kit-yet')}</p>}
            {minutes > 0 && <p class="small">{t('paid-time', { n: minutes })}</p>}
        </JobFrame>
    );
}

/** Paid minutes for these stations: once a unit, and each station its time or its share of the unit's, rounded up to a second. */
function labourMinutes({ bulletin: b }: TaskProps['open'], stations: string[]): number {
    const seconds = b.labour.stations.filter((s) => stations.includes(s.station)).reduce((n, s) => {
        const share = s.share_of_unit;
        return n + (s.time_s ?? (share === null || b.labour.unit_s === null ? 0 : Math.ceil((b.labour.unit_s * share.of) / share.by)));
    }, 0);
    return stations.length === 0 ? 0 : Math.round((seconds + b.labour.once_s) / 60);
}
