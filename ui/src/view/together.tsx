// together: several people on one job: the quiet line that says so on every screen, the code that another phone scans, the list of the shop's
// open jobs, and where two of them did not find the same.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { disputes, Dispute } from '../job/shared';
import { joinAddress } from '../job/address';
import type { Entry } from '../job/replay';
import type { JoinFault, Offered, Relay, Shared } from '../send/relay';
import type { OpenJob } from '../store/app';
import { Act, Frame, Title, VerdictLine } from './parts';
import { JobFrame } from './job';
import { go, jobPath, Tools, useApp, useRelay, useSender } from './context';
import { useOnline } from './banners';

/** 14:02, or with its day when that is not today. */
export function clock(ms: number, language: string): string {
    const at = new Date(ms), isToday = at.toDateString() === new Date().toDateString();
    return at.toLocaleString(language, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23', ...(isToday ? {} : { day: 'numeric', month: 'short' }) });
}

const names = (list: readonly string[]): string => [...new Set(list)].join(', ');

/** What the line says: with whom, since when, and what is on its way. '' when nobody else is on the job. */
function lineOf({ app, t, language }: Tools, relay: Relay, open: OpenJob, s: Shared): string[] {
    const id = open.record.id, n = s.others.length, values = { n, who: names(s.others.map((o) => o.person)), time: clock(Math.max(...s.others.map((o) => o.seen_ms)), language) };
    const waiting = relay.unsent(open).length, held = app.heldOf(id).length, two = disputes(open.job).length;
    return [
        t(n === 1 ? 'shared-1' : 'shared-n', values), ...(waiting > 0 && !relay.isReached ? [t('shared-waiting', { n: waiting })] : []), ...(held > 0 ? [t('shared-held', { n: held })] : []),
        ...(two > 0 ? [t('shared-two', { n: two })] : []),
    ];
}

/** Under the head of every screen of a shared job. */
export function SharedLine({ open }: { open: OpenJob }): JSX.Element | null {
    const tools = useApp(), relay = useRelay(), s = relay?.of(open.record.id) ?? null;
    if (relay === null || s === null || s.others.length === 0) return null;
    return <a class="shared" data-shared={s.others.length} href={'#/' + jobPath(open, 'together')}>{lineOf(tools, relay, open, s).join(' \u00b7 ')}</a>;
}

// ---- the page of one job ----

/** The code, as large as the screen gives: dark on white whatever the colours are, with the quiet zone of ISO/IEC 18004 (4 modules). */
function Code({ text, label }: { text: string; label: string }): JSX.Element | null {
    const [drawn, setDrawn] = useState<{ side: number; path: string } | null>(null);
    useEffect(() => {
        void import('qrcode-generator').then(({ default: qrcode }) => {
            const code = qrcode(0, 'M');
            code.addData(text);
            code.make();
            const side = code.getModuleCount();
            let path = '';
            for (let y = 0; y < side; y++) for (let x = 0; x < side; x++) if (code.isDark(y, x)) path += `M${x + 4} ${y + 4}h1v1h-1z`;
            setDrawn({ side: side + 8, path });
        });
    }, [text]);
    return drawn === null ? null : <svg class="code-drawn" viewBox={`0 0 ${drawn.side} ${drawn.side}`} role="img" aria-label={label} shape-rendering="crispEdges"><rect class="code-ground" width="100%" height="100%" /><path class="code-ink" d={drawn.path} /></svg>;
}

function entryText(tools: Tools, d: Dispute, e: Entry): string {
    const { app, t, figure, length } = tools, p = e.payload;
    if ('length_nm' in p) return length(BigInt(p['length_nm'] as number));
    if ('value_nm' in p) return length(BigInt(p['value_nm'] as number));
    if ('value' in p) return figure(app.core.fromDouble(p['value'] as number, p['unit'] as never), p['unit'] as never);
    return d.type === 'scope_found' ? t(p['verdict'] as 'in') : String(p['kit'] ?? p['text'] ?? '');
}

function Disputes({ open }: { open: OpenJob }): JSX.Element | null {
    const tools = useApp(), { t, say, stationName, language } = tools, list = disputes(open.job), b = open.bulletin;
    if (list.length === 0) return null;
    const what = (d: Dispute) => { const p = b.points.find((x) => x.id === d.key); return p === undefined ? d.key === '' ? t(`e-${d.type}`) : `${t(`e-${d.type}`)} ${d.key}` : say(b, p.name); };
    const by = (d: Dispute, e: Entry) => `${e.technician} ${entryText(tools, d, e)} (${clock(e.at_ms, language)})`;
    return (
        <>
            <h2>{t('two-measured')}</h2>
            <p>{t('two-why')}</p>
            <div class="rows">
                {list.map((d) => (
                    <div class="row" key={`${d.type}${d.key}${d.station}${d.later.event}`} data-two={d.key}>
                        <span><b>{what(d)}</b><br /><small>{stationName(b, d.station)}</small></span>
                        <span>{by(d, d.earlier)}<br /><b>{by(d, d.later)}</b></span>
                    </div>
                ))}
            </div>
            <p><a class="second" href={'#/' + jobPath(open, 'history')}>{t('history')}</a></p>
        </>
    );
}

export function Together({ open }: { open: OpenJob }): JSX.Element {
    const tools = useApp(), { t, language } = tools, relay = useRelay(), sender = useSender(), isOnline = useOnline(), s = relay?.of(open.record.id) ?? null;
    const session = sender?.session ?? null, isIn = session !== null && typeof session.shop === 'string' && session.csrf !== undefined;
    const trouble = !isIn ? t(session === null ? 'join-no-network' : 'send-sign-in') : s?.trouble === 'other-shop' ? t('together-other-shop', { shop: session.shop ?? '' }) : s?.trouble === 'refused' ? t('together-refused', { detail: s.detail }) : null;
    const waiting = relay?.unsent(open).length ?? 0, isThere = s !== null && s.known.length > 0 && trouble === null;
    const place = s === null ? '' : joinAddress(document.baseURI.replace(/#.*$/, ''), s.job);
    return (
        <JobFrame open={open} task={null} title={t('together')} back={jobPath(open, 'all')} isAlone>
            <Title>{t('together')}</Title>
            {trouble !== null && <p class="stop-text" role="status">{trouble}</p>}
            {isThere && <><p>{t('together-why', { shop: session?.shop ?? '' })}</p><Code text={place} label={t('together-code')} /></>}
            {!isThere && trouble === null && <p role="status">{t(isOnline && relay?.isReached ? 'together-soon' : 'join-no-network')}</p>}
            <h2>{t('phones')}</h2>
            <div class="rows" data-phones={s?.others.length ?? 0}>
                {(s?.others ?? []).map((o) => <div class="row" key={o.phone}><b>{o.person}</b><small>{t('seen-at', { time: clock(o.seen_ms, language) })}</small></div>)}
                {(s?.others.length ?? 0) === 0 && <div class="row">{t('shared-none')}</div>}
            </div>
            {isThere && <p class="small" role="status" data-waiting={waiting}>{waiting === 0 ? t('shared-all') : t('shared-waiting', { n: waiting })}</p>}
            <Disputes open={open} />
        </JobFrame>
    );
}

// ---- joining ----

const FAULT: Record<JoinFault, 'send-sign-in' | 'join-not-there' | 'join-no-network' | 'join-no-bulletin' | 'together-refused'> = {
    'sign-in': 'send-sign-in', 'not-there': 'join-not-there', 'no-network': 'join-no-network', 'need-bulletin': 'join-no-bulletin', refused: 'together-refused',
};

/** From a code or the list: fetches the job, then goes to its tasks. */
export function Join({ job }: { job: string }): JSX.Element {
    const { t } = useApp(), relay = useRelay(), [failed, setFailed] = useState<{ fault: JoinFault; detail: string } | null>(null), [tries, again] = useState(0);
    useEffect(() => {
        let isHere = true;
        setFailed(null);
        void relay?.join(job).then((r) => {
            if (!isHere) return;
            if ('id' in r) location.replace(`#/j/${r.id}/all`);
            else setFailed(r);
        });
        return () => { isHere = false; };
    }, [job, tries, relay]);
    return (
        <Frame title={t('join-title')} back="" where={<b>{t('join-title')}</b>} foot={failed === null ? undefined : <Act id="join-again" onClick={() => again((n) => n + 1)}>{t('join-again')}</Act>}>
            {failed === null ? <p role="status">{t('join-working')}</p> : <div data-fault={failed.fault}><VerdictLine shape="stop" word={t('join-failed')}><p>{t(FAULT[failed.fault], { detail: failed.detail })}</p></VerdictLine></div>}
        </Frame>
    );
}

/** The open jobs of the shop that other phones passed on. */
export function ShopJobs(): JSX.Element {
    const { app, t, language } = useApp(), relay = useRelay(), [list, setList] = useState<Offered[] | 'none' | null>(null);
    useEffect(() => { void relay?.list().then(setList, () => setList('none')); }, [relay]);
    const rows = Array.isArray(list) ? list.filter((o) => o.claim === null || app.jobs.some((j) => j.record.vin === o.vin)) : [];
    const isHere = (o: Offered) => app.jobs.some((j) => relay?.of(j.record.id)?.job === o.job);
    return (
        <Frame title={t('join-list')} back="" where={<b>{t('join-list')}</b>}>
            <Title>{t('join-list')}</Title>
            {list === null && <p role="status">{t('join-working')}</p>}
            {list === 'none' && <p class="stop-text" role="status">{t('join-no-list')}</p>}
            {Array.isArray(list) && rows.length === 0 && <p>{t('join-none')}</p>}
            {rows.length > 0 && (
                <div class="rows">
                    {rows.map((o) => (
                        <button type="button" class="row" key={o.job} data-join={o.job} onClick={() => go(`join/${o.job}`)}>
                            <span><b>{o.vin}</b><br /><small>{o.bulletin.id} {'\u00b7'} {names(o.people)}</small></span>
                            <small>{isHere(o) ? t('join-here') : t('join-touched', { time: clock(o.touched_ms, language) })}</small>
                        </button>
                    ))}
                </div>
            )}
        </Frame>
    );
}
