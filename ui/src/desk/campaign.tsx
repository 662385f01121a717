// campaign: the campaign at one look. Every figure is the server's, marked with the member it is (data-figure), and opens what it is made of.
import { ComponentChildren, JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import './campaign.css';
import { Session, Trouble, Verdict } from './api';
import { Campaign, KitRow, Money, PointRow, RULED, ShopMoney, listen, look, mostOf } from './campaign_data';
import { Bar, Days, MoneyBar, Spread, Swatch, mostDays } from './campaign_plots';
import { Key, c, parts, word } from './campaign_text';
import { useHash } from '../view/hash';
import { PageProps, pageOf } from './pages';
import { people, shops } from './people_data';
import { Mark, tone } from './parts';
import { t } from './text';
import { NANO, limits, moment, money, symbol } from './show';

const SHOPS = 12, SEEN = 'mendwright.campaign.seen';

// ---- figures ----

const whole = (n: number): string => String(n).replace(/\B(?=(\d{3})+$)/g, '\u202f');
/** Three significant digits at least, as people read a mean. */
const real = (x: number): string => (x === 0 ? '0' : Math.abs(x) >= 1000 ? x.toFixed(0) : x.toPrecision(Math.max(3, Math.ceil(Math.log10(Math.abs(x) + 1)) + 2)));
const share = (x: number): string => `${(100 * x).toFixed(0)}\u00a0%`;
const chance = (p: number): string => (p < 0.0001 ? '< 0.0001' : p.toPrecision(2));

/** One figure of the answer: its member, and the link to what it is made of. */
const Fig = ({ of, to, children }: { of: string; to?: string | undefined; children: ComponentChildren }): JSX.Element =>
    to === undefined ? <span data-figure={of}>{children}</span> : <a href={to} data-figure={of}>{children}</a>;

/** A sentence of the catalogue with figures in it. */
const Say = ({ text, of }: { text: Key; of: Record<string, ComponentChildren> }): JSX.Element => <>{parts(text).map((p, i) => (i % 2 === 1 ? <>{of[p] ?? `{${p}}`}</> : p))}</>;

/** pay: with the currency; sum: without, for columns whose title names it. */
interface Shown { it: Campaign; pay: (minor: number) => string; sum: (minor: number) => string; claims: (filter: string) => string }
const shownOf = (it: Campaign): Shown => ({ it, pay: (minor) => money(minor, it.currency, it.currency_digits), sum: (minor) => money(minor, null, it.currency_digits), claims: (filter) => `#/${filter === '' ? '' : `?${filter}`}` });

// ---- the verdict ----

const HOW_RESERVE = 'mendwright store keep reserve RESERVE.csv --store FOLDER', HOW_STOCK = 'mendwright store keep stock STOCK.csv --store FOLDER';

function Cost({ it, pay }: Shown): JSX.Element {
    const r = it.money.reserve, m = it.money, has = r.expected_minor !== null, head: Key = r.minor === null ? 'is-untold' : !has ? 'is-unknown' : `is-${r.verdict}`;
    const of = (name: string, minor: number | null) => <Fig of={`money.reserve.${name}`}>{minor === null ? '' : pay(minor)}</Fig>;
    const label = [c('money-plot', { paid: pay(m.paid_minor), promised: pay(m.promised_minor), asked: pay(m.asked_minor), held: pay(m.held_minor) }), r.minor === null ? '' : c('money-plot-reserve', { reserve: pay(r.minor) }), has ? c('money-plot-cost', { low: pay(r.low_minor!), high: pay(r.high_minor!) }) : ''].filter((s) => s !== '').join('; ');
    return (
        <section class="cost" aria-labelledby="cost">
            <h2 id="cost" class={`said-first${r.verdict === 'over' ? ' stop-text' : ''}`} data-verdict={r.verdict}>{c(head)}</h2>
            <p>{has ? <Say text="cost-between" of={{ low: of('low_minor', r.low_minor), high: of('high_minor', r.high_minor), expected: of('expected_minor', r.expected_minor) }} /> : c('cost-unknown')}</p>
            <MoneyBar m={m} r={r} label={label} />
            <dl class="key">
                {([['full', 'paid', m.paid_minor, 'verdict=pay'], ['act', 'promised', m.promised_minor, 'verdict=pay'], ['soft', 'asked', m.asked_minor, 'verdict=ask'], ['soft', 'held', m.held_minor, 'verdict=hold']] as const).map(([swatch, name, minor, filter]) =>
                    <div key={name}><dt><Swatch of={swatch} />{c(name)}</dt><dd><Fig of={`money.${name}_minor`} to={`#/?${filter}`}>{pay(minor)}</Fig></dd></div>)}
                {m.owed_back_minor !== 0 && <div><dt>{c('owed-back')}</dt><dd class="stop-text"><Fig of="money.owed_back_minor">{pay(m.owed_back_minor)}</Fig></dd></div>}
                {has && <div><dt><Swatch of="line" />{c('further')}</dt><dd>{pay(r.expected_minor! - m.paid_minor - m.promised_minor - m.asked_minor - m.held_minor)}</dd></div>}
            </dl>
            {r.minor !== null
                ? <p class="small"><Swatch of="post" /><Say text="reserve-of" of={{ minor: of('minor', r.minor), person: <Fig of="money.reserve.person">{r.person}</Fig>, day: moment(r.at_ms) }} /></p>
                : <p class="small">{c('reserve-how')} <code>{HOW_RESERVE}</code></p>}
            {has && <p class="small"><Say text="mean-unit" of={{ minor: of('mean_unit_minor', r.mean_unit_minor) }} /></p>}
        </section>
    );
}

// ---- how far ----

function Far({ it }: Shown): JSX.Element {
    const rows = [['in_scope', 'in-scope', it.build_list ? 'in-scope-is' : 'in-scope-seen', undefined], ['reached', 'reached', 'reached-is', '#/'], ['done', 'done', 'done-is', '#/'], ['proved', 'proved', 'proved-is', '#/?verdict=pay']] as const;
    const more = [['unknown', 'unknown', 'unknown-is', undefined], ['beyond', 'beyond', 'beyond-is', '#/']] as const, f = it.forecast;
    const num = (of: string, text: string) => <Fig of={`forecast.${of}`}>{text}</Fig>;
    return (
        <section aria-labelledby="far">
            <h2 id="far">{c('far')}</h2>
            <div class="sheet-box"><table class="sheet far">
                <thead><tr><td></td><th class="right" scope="col">{c('units')}</th><th scope="col"><span class="visually">{c('far')}</span></th><th class="right" scope="col">{c('stations')}</th></tr></thead>
                <tbody>{[...rows, ...more.filter(([name]) => it.units[name] + it.stations[name] > 0)].map(([name, title, is, to]) => (
                    <tr key={name}>
                        <th scope="row">{c(title)}<span class="small what">{c(is)}</span></th>
                        <td class="right"><Fig of={`units.${name}`} to={to}>{whole(it.units[name])}</Fig></td>
                        <td class="bar-cell">{name !== 'unknown' && name !== 'beyond' && <Bar n={it.units[name]} of={it.units.in_scope} label={`${c(title)}: ${c('far-plot', { n: it.units[name], all: it.units.in_scope })}`} />}</td>
                        <td class="right"><Fig of={`stations.${name}`} to={to}>{whole(it.stations[name])}</Fig></td>
                    </tr>))}
                </tbody>
            </table></div>
            <p>{f.known ? <Say text="forecast" of={{ further: num('further', whole(f.further!)), low: num('further_low', whole(f.further_low!)), high: num('further_high', whole(f.further_high!)), share: num('share', share(f.share!)), share_low: num('share_low', share(f.share_low!)), share_high: num('share_high', share(f.share_high!)), half: num('half_by_days', f.half_by_days!.toFixed(0)), most: num('most_by_days', f.most_by_days!.toFixed(0)) }} />
                : <Say text="forecast-none" of={{ why: num('why', f.why ?? '') }} />}</p>
            <ul class="verdicts">{it.claims.map((v, i) => (
                <li key={v.verdict} class={tone(v.verdict === 'unruled' ? null : v.verdict)}><Mark verdict={v.verdict === 'unruled' ? null : v.verdict} /><Fig of={`claims.${i}.claims`} to={`#/?${v.filter}`}>{whole(v.claims)}</Fig> {c(v.verdict)}</li>))}
            </ul>
        </section>
    );
}

// ---- money ----

const COLUMNS = ['paid', 'promised', 'owed_back', 'asked', 'held', 'refused'] as const;
const titleOf = (name: string): string => c(name.replace('_', '-') as Key);

const Cells = ({ row, at, sum, to }: { row: Money; at: string; sum: (n: number) => string; to?: (name: string) => string | undefined }): JSX.Element => (
    <>{COLUMNS.map((name) => <td key={name} class={`right${row[`${name}_minor`] === 0 ? ' nought' : name === 'owed_back' ? ' stop-text' : ''}`}><Fig of={`${at}.${name}_minor`} to={row[`${name}_minor`] === 0 ? undefined : to?.(name)}>{sum(row[`${name}_minor`])}</Fig></td>)}</>
);
const FILTER: Readonly<Record<string, string>> = { paid: 'verdict=pay', promised: 'verdict=pay', asked: 'verdict=ask', held: 'verdict=hold', refused: 'verdict=refuse' };

function Kinds({ it, sum, claims }: Shown): JSX.Element {
    return (
        <div class="sheet-box" tabIndex={0} role="region" aria-label={c('by-kind')}><table class="sheet money">
            <caption>{c('by-kind')}, {it.currency}</caption>
            <thead><tr><th scope="col">{c('kind')}</th>{COLUMNS.map((n) => <th key={n} class="right" scope="col">{titleOf(n)}</th>)}</tr></thead>
            <tbody>{it.money.by_kind.map((k, i) => <tr key={k.kind}><th scope="row">{word(`kind-${k.kind}`)}</th><Cells row={k} at={`money.by_kind.${i}`} sum={sum} /></tr>)}</tbody>
            <tfoot><tr><th scope="row">{c('all')}</th><Cells row={it.money} at="money" sum={sum} to={(n) => (FILTER[n] === undefined ? undefined : claims(FILTER[n]!))} /></tr></tfoot>
        </table></div>
    );
}

const weight = (s: ShopMoney): number => s.stands_minor + s.asked_minor + s.held_minor;

function Shops({ it, sum, claims }: Shown): JSX.Element {
    const [all, show] = useState(false), at = it.money.by_shop.map((s, i) => ({ s, i })), shown = all ? at : [...at].sort((a, b) => weight(b.s) - weight(a.s)).slice(0, SHOPS);
    return (
        <>
            <div class="sheet-box" tabIndex={0} role="region" aria-label={c('by-shop')}><table class="sheet money shops">
                <caption>{c('by-shop')}, {it.currency}</caption>
                <thead><tr><th scope="col">{c('shop')}</th>{RULED.map((v) => <th key={v} class="right" scope="col">{c(v)}</th>)}{COLUMNS.map((n) => <th key={n} class="right" scope="col">{titleOf(n)}</th>)}</tr></thead>
                <tbody>{shown.map(({ s, i }) => (
                    <tr key={s.shop}>
                        <th scope="row">{s.shop === null ? c('no-shop') : <a href={claims(s.filter)}>{s.shop}</a>}</th>
                        {RULED.map((v) => <td key={v} class={`right${s[v] === 0 ? ' nought' : ''}`}><Fig of={`money.by_shop.${i}.${v}`} to={s[v] === 0 || s.shop === null ? undefined : claims(`verdict=${v}&${s.filter}`)}>{whole(s[v])}</Fig></td>)}
                        <Cells row={s} at={`money.by_shop.${i}`} sum={sum} />
                    </tr>))}
                </tbody>
            </table></div>
            {at.length > SHOPS && <button type="button" data-act="all-shops" onClick={() => show(!all)}>{all ? c('first-shops', { n: SHOPS }) : c('all-shops', { n: at.length })}</button>}
        </>
    );
}

// ---- kits ----

function Kit({ k, i, most }: { k: KitRow; i: number; most: number }): JSX.Element {
    const s = k.stock, of = (name: string, text: string) => <Fig of={`kits.${i}.${name}`}>{text}</Fig>, day = (n: number | null) => (n === null ? '' : n.toFixed(0));
    return (
        <tr>
            <th scope="row"><span class="code">{k.kit}</span> <span class="small">{k.name}</span></th>
            <td class="right">{of('used', whole(k.used))}</td>
            <td class="right">{k.to_come === null ? '' : of('to_come', whole(k.to_come))}</td>
            <td class="right">{k.to_come_high === null ? '' : of('to_come_high', whole(k.to_come_high))}</td>
            <td class={`right${s !== null && s.left <= 0 ? ' stop-text' : ''}`}>{s === null ? <span class="small">{c('no-stock')}</span> : of('stock.left', whole(s.left))}</td>
            <td class="right">{s === null ? '' : of('stock.ordered', whole(s.ordered))}</td>
            <td class="right">{s === null ? '' : of('stock.lead_days', whole(s.lead_days))}</td>
            <td class={s?.short ? 'stop-text' : ''}>{s === null || s.days === null ? (s?.short ? c('none-left') : '') : <><Say text="days-of" of={{ days: of('stock.days', day(s.days)), low: of('stock.days_low', day(s.days_low)), high: of('stock.days_high', day(s.days_high)) }} />{s.short && <b> {c(s.ordered > 0 ? 'short-ordered' : 'short')}</b>}</>}</td>
            <td class="bar-cell">{s !== null && <Days stock={s} most={most} label={`${k.kit}: ${c('days-plot', { low: day(s.days_low), high: day(s.days_high), lead: s.lead_days })}`} />}</td>
        </tr>
    );
}

function Kits({ it }: Shown): JSX.Element {
    const most = mostDays(it);
    return (
        <section aria-labelledby="kits" id="kits-all">
            <h2 id="kits">{c('kits')}</h2>
            {it.kits.length === 0 ? <p>{c('no-kits')}</p> : <div class="sheet-box" tabIndex={0} role="region" aria-label={c('table-of', { what: c('kits') })}><table class="sheet kits">
                <thead><tr><th scope="col">{c('kit')}</th>{(['used', 'to-come', 'enough', 'left', 'ordered', 'lead'] as const).map((n) => <th key={n} class="right" scope="col">{c(n)}</th>)}<th scope="col" colSpan={2}>{c('days')}</th></tr></thead>
                <tbody>{it.kits.map((k, i) => <Kit key={k.kit} k={k} i={i} most={most} />)}</tbody>
            </table></div>}
            {it.kits.length > 0 && it.kits.every((k) => k.stock === null) && <p class="small">{c('stock-how')} <code>{HOW_STOCK}</code></p>}
        </section>
    );
}

// ---- readings ----

function Point({ r, i, first }: { r: PointRow; i: number; first: JSX.Element | string }): JSX.Element {
    const one = Number(NANO[r.unit] ?? 1n), of = (name: string, text: string) => <Fig of={`readings.${i}.${name}`}>{text}</Fig>, unit = symbol(r.unit), both = limits(r.low_nano === null ? null : { nano: r.low_nano, unit: r.unit }, r.high_nano === null ? null : { nano: r.high_nano, unit: r.unit }, r.unit);
    return (
        <tr class={r.shop === null ? '' : 'of-shop'}>
            <th scope="row">{first}</th>
            <td class="right">{of('n', whole(r.n))}</td>
            <td class={`right${r.outside > 0 ? ' stop-text' : ' nought'}`}>{of('outside', whole(r.outside))}</td>
            <td class="strip-cell"><Spread r={r} one={one} label={c('strip', { mean: real(r.mean), low: real(r.mean - 2 * r.sd), high: real(r.mean + 2 * r.sd), limits: both })} /></td>
            <td class="nowrap">{both}</td>
            <td class="right nowrap">{of('mean', real(r.mean))}{unit === '' ? '' : `\u00a0${unit}`}</td>
            <td class="right">{of('sd', real(r.sd))}</td>
            <td class="nowrap">{r.ppk === null ? <span class="small">{c('ppk-none')}</span> : <Say text="ppk-of" of={{ ppk: of('ppk', r.ppk.toFixed(2)), low: of('ppk_low', r.ppk_low!.toFixed(2)), high: of('ppk_high', r.ppk_high!.toFixed(2)) }} />}</td>
        </tr>
    );
}

function Readings({ it, claims }: Shown): JSX.Element {
    const [open, set] = useState(''), rows = it.readings.map((r, i) => ({ r, i }));
    return (
        <section aria-labelledby="readings">
            <h2 id="readings">{c('readings')}</h2>
            {rows.length === 0 ? <p>{c('no-readings')}</p> : <>
                <p class="small">{c('ppk-is')}</p>
                <div class="sheet-box" tabIndex={0} role="region" aria-label={c('table-of', { what: c('readings') })}><table class="sheet readings spreads">
                    <thead><tr><th scope="col">{c('point')}</th><th class="right" scope="col">{c('n')}</th><th class="right" scope="col">{c('outside')}</th><th scope="col" colSpan={2}>{c('limits')}</th><th class="right" scope="col">{c('mean')}</th><th class="right" scope="col">{c('sd')}</th><th scope="col">{c('ppk')}</th></tr></thead>
                    <tbody>{rows.filter(({ r }) => r.shop === null || r.point === open).map(({ r, i }) => (
                        <Point key={`${r.point} ${r.shop}`} r={r} i={i} first={r.shop === null
                            ? <button type="button" class="opens" aria-expanded={open === r.point} data-point={r.point} onClick={() => set(open === r.point ? '' : r.point)}>{r.point}</button>
                            : <a href={claims(`shop=${encodeURIComponent(r.shop)}`)}>{r.shop}</a>} />))}
                    </tbody>
                </table></div>
            </>}
        </section>
    );
}

// ---- shops to look at, and news ----

function Looks({ it, claims }: Shown): JSX.Element {
    const n = <Fig of="tests">{whole(it.tests)}</Fig>;
    return (
        <section aria-labelledby="looks">
            <h2 id="looks">{c('looks')}</h2>
            <p class="small"><Say text={it.looks.length === 0 ? 'looks-none' : 'looks-are'} of={{ n }} /></p>
            <ul class="looks">{it.looks.map((l, i) => l.reasons.map((r, k) => {
                const of = (name: string, text: string) => <Fig of={`looks.${i}.reasons.${k}.${name}`}>{text}</Fig>;
                return (
                    <li key={`${l.shop} ${r.kind}`}>
                        <a href={claims(l.filter)}>{l.shop}</a> <b>{word(`reason-${r.kind}`)}</b> <span class="nowrap"><Say text="share-of" of={{ share: of('share', share(r.share)), others: of('others_share', share(r.others_share)) }} /></span>
                        <p>{of('words', r.words)}</p>
                        <p class="small"><Say text="chance" of={{ p: of('p', chance(r.p)), q: of('q', chance(r.q)) }} /></p>
                    </li>);
            }))}</ul>
        </section>
    );
}

function NewsOf({ it, pay }: Shown): JSX.Element {
    const n = it.news;
    if (n === null) return <p class="small news-first">{c('news-first')}</p>;
    const of = (name: string, text: string) => <Fig of={`news.${name}`}>{text}</Fig>, sum = n.taken + n.changed + n.overruled + n.payments + n.papers + mostOf(n.ruled), when = moment(n.since_ms);
    return (
        <section class="news" aria-labelledby="news" data-since={n.since_ms}>
            <h2 id="news">{c('news')}</h2>
            {sum === 0 && <p>{c('news-none', { when })}</p>}
            <ul hidden={sum === 0}>
                <li>{of('taken', whole(n.taken))} {c('taken')}</li>
                <li>{c('was-ruled')}: {(['pay', 'ask', 'hold', 'refuse'] as Verdict[]).map((v, i) => <span key={v}>{i > 0 ? ', ' : ''}{of(`ruled.${v}`, whole(n.ruled[v]))} {c(v).toLowerCase()}</span>)}; {of('changed', whole(n.changed))} {c('changed')}, {of('overruled', whole(n.overruled))} {c('overruled')}</li>
                <li>{of('payments', whole(n.payments))} {c('payments')}, {of('paid_minor', pay(n.paid_minor))} {c('of-money')}</li>
                <li>{of('papers', whole(n.papers))} {c('papers')}</li>
            </ul>
            <p class="small">{c('since', { when })}</p>
        </section>
    );
}

// ---- the page ----

/** What of the first steps is there already, so far as this person may know. */
function useBegun(who: Session, it: Campaign | null): ReadonlySet<string> {
    const [begun, set] = useState<ReadonlySet<string>>(new Set());
    useEffect(() => {
        let isLate = false;
        if (who.role !== 'owner') return;
        void Promise.all([shops(), people()]).then(([list, all]) => { if (!isLate) set(new Set([...(list.sha256 !== null ? ['shops'] : []), ...(all.some((p) => p.role === 'technician' && !p.revoked) ? ['people'] : [])])); }, () => undefined);
        return () => { isLate = true; };
    }, [it?.seq]);
    return new Set([...begun, ...(it !== null ? ['bulletins'] : []), ...(it?.build_list === true ? ['units'] : [])]);
}

const STEPS = [['step-bulletin', 'bulletins', 'mendwright store keep bulletin BULLETIN.yaml --store FOLDER'], ['step-shops', 'shops', 'mendwright store keep shops SHOPS.csv --store FOLDER'], ['step-builds', 'units', 'mendwright store builds BUILDS.csv --store FOLDER'], ['step-people', 'people', 'mendwright people add NAME --role technician --shop SHOP --store FOLDER']] as const;

/** Each step by its page, where there is one that the person may see; else by the command. Until there is a claim it stays, and tells what is done. */
function FirstSteps({ who, it }: { who: Session; it: Campaign | null }): JSX.Element {
    const begun = useBegun(who, it), isAll = STEPS.every(([, page]) => begun.has(page));
    return (
        <section class="empty" aria-labelledby="first">
            <h2 id="first">{c('first')}</h2>
            <p>{c(it === null ? 'first-why' : isAll ? 'no-claims' : 'first-go-on')}</p>
            <ol class="steps">{STEPS.map(([key, page, how]) => {
                const there = pageOf(page, who), isDone = begun.has(page);
                return <li key={key} class={isDone ? 'done' : ''} data-done={isDone ? page : undefined}><span>{c(key)}{isDone && <span class="small"> {c('step-done')}</span>}</span>{there !== null ? <a href={`#/${page}`} data-step={page}>{t(there.title)}</a> : <code>{how}</code>}</li>;
            })}</ol>
            {!isAll && <p>{c('step-then')}</p>}
        </section>
    );
}

/** When this browser looked last, before now; kept once for the life of the page, so that reloading by news does not forget it. */
function lastVisit(): number | null {
    const kept = Number(localStorage.getItem(SEEN) ?? NaN), before = Number.isSafeInteger(kept) && kept > 0 ? kept : null;
    localStorage.setItem(SEEN, String(Date.now()));
    return before;
}

type Got = { ids: string[]; campaign: Campaign } | null | undefined;

/** The campaign, asked for again when news come; the last answer stays until the next is here. */
function useCampaign(bulletin: string, since: number | null, who: Session, nobody: () => void): { got: Got; why: string; live: boolean | null; again: () => void } {
    const [got, set] = useState<Got>(undefined), [why, say] = useState(''), [live, tell] = useState<boolean | null>(null), [round, turn] = useState(0);
    useEffect(() => {
        let isLate = false;
        look(bulletin, since).then((now) => { if (!isLate) { set(now); say(''); } }, (e: unknown) => {
            if (e instanceof Trouble && e.status === 401) return nobody();
            if (!isLate) say(e instanceof Error ? e.message : String(e));
        });
        return () => { isLate = true; };
    }, [bulletin, round, who.csrf]);
    useEffect(() => listen(() => turn((n) => n + 1), tell), []);
    return { got, why, live, again: () => turn(round + 1) };
}

const asked = (hash: string): string => new URLSearchParams(hash.split('?')[1] ?? '').get('bulletin') ?? '';

export function CampaignPage({ who, nobody }: PageProps): JSX.Element {
    const [since] = useState(lastVisit), bulletin = asked(useHash()), { got, why, live, again } = useCampaign(bulletin, since, who, nobody);
    if (why !== '' && !got) return <div class="empty" role="alert"><p>{c('failed', { detail: why })}</p><button type="button" onClick={again}>{c('again')}</button></div>;
    if (got === undefined) return <p class="small" aria-busy="true">{c('looking')}</p>;
    if (got === null) return <div class="campaign"><h1>{c('title')}</h1><FirstSteps who={who} it={null} /></div>;
    const shown = shownOf(got.campaign), it = shown.it, has = it.claims.some((v) => v.claims > 0);
    return (
        <div class="campaign" data-seq={it.seq}>
            <header>
                <h1>{it.title}</h1>
                <p class="small">{c('revision', { id: it.bulletin, n: it.revision })}{it.issued !== null ? `, ${c('issued', { day: it.issued })}` : ''}{it.until !== null ? `, ${c('until', { day: it.until })}` : ''}. <span role="status">{live === false ? c('not-live') : c('live')}</span></p>
                {it.invented && <p class="invented">{c('invented')}</p>}
                {got.ids.length > 1 && <nav aria-label={c('bulletins')} class="ids">{got.ids.map((id) => <a key={id} href={`#/campaign?bulletin=${encodeURIComponent(id)}`} aria-current={id === it.bulletin ? 'page' as const : undefined}>{id}</a>)}</nav>}
                {why !== '' && <p class="stop-text" role="alert">{c('failed', { detail: why })}</p>}
            </header>
            {!has && (who.role === 'owner' ? <FirstSteps who={who} it={it} /> : <p class="empty">{c('no-claims')}</p>)}
            <div class="two"><Cost {...shown} /><div><Far {...shown} /></div></div>
            <NewsOf {...shown} />
            <Looks {...shown} />
            <section aria-labelledby="money"><h2 id="money">{c('money')}</h2><Kinds {...shown} /><Shops {...shown} />{it.other_currency > 0 && <p class="small"><Say text="other-currency" of={{ n: <Fig of="other_currency">{whole(it.other_currency)}</Fig> }} /></p>}</section>
            <Kits {...shown} />
            <Readings {...shown} />
            <p class="small">{c('as-of', { n: it.seq })}</p>
        </div>
    );
}
