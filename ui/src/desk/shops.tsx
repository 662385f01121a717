// shops: the owner's page on who may claim, at which rate from which day, and by which keys their bags are known. Every change is a new list on
// the log, made on top of the one that is seen here.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Trouble } from './api';
import type { PageProps } from './pages';
import { Sure } from './people';
import * as calls from './people_data';
import { moment } from './show';
import { t, word } from './text';
import './people.css';

const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));
const text = (form: HTMLFormElement, name: string): string => String(new FormData(form).get(name) ?? '').trim();
const today = (): string => new Date().toISOString().slice(0, 10);

/** The row that holds on a day: the latest that has begun. */
export const holding = (rows: readonly calls.Rate[], day: string): calls.Rate | null => rows.reduce<calls.Rate | null>((best, r) => ((r.from ?? '') <= day && (best === null || (r.from ?? '') >= (best.from ?? '')) ? r : best), null);

interface Doing { fill: (shop: string, r: calls.Rate) => void; takeOut: (shop: string, r: calls.Rate) => void; revoke: (key: string) => void }

function Keys({ s, d }: { s: calls.Shop; d: Doing }): JSX.Element {
    return <ul class="plain keys">{s.keys.map((k) => <li key={k}><span class="code" title={k}>{k.slice(0, 8)}…</span> <Sure ask={t('shp-key-sure', { key: k.slice(0, 8) })} yes={t('shp-key-gone')} first={t('shp-key-gone')} act="key-gone" label={`${t('shp-key-gone')}: ${s.shop} ${k.slice(0, 8)}`} go={() => d.revoke(k)} /></li>)}</ul>;
}

function ShopRows({ s, d }: { s: calls.Shop; d: Doing }): JSX.Element {
    const day = today(), holds = holding(s.rows, day), rows: (calls.Rate | null)[] = s.rows.length > 0 ? s.rows : [null];
    return (
        <>{rows.map((r, i) => (
            <tr key={`${s.shop} ${r?.from}`} data-shop={s.shop} class={i > 0 ? 'more' : ''}>
                {i === 0 && <th scope="rowgroup" rowSpan={rows.length}>{s.shop}</th>}
                {r === null ? <td colSpan={4} class="soft-text">{t('shp-unlisted')}</td> : (
                    <>
                        <td class="wider">{word('shp-kind-', r.kind)}</td>
                        <td class="right nowrap">{r.rate ?? <span class="soft-text">{t('shp-bulletins')}</span>}</td>
                        <td class="nowrap">{r.from ?? t('shp-always')}{r === holds ? <span class="small"> {t('shp-holds')}</span> : (r.from ?? '') > day ? <span class="small"> {t('shp-later')}</span> : null}</td>
                        <td class="doings"><span class="row-of"><button type="button" data-act="fill" aria-label={`${t('shp-change')}: ${s.shop} ${r.from ?? ''}`} onClick={() => d.fill(s.shop, r)}>{t('shp-change')}</button><Sure ask={t('shp-gone-sure', { shop: s.shop })} yes={t('shp-gone-yes')} first={t('shp-gone')} act="gone" label={`${t('shp-gone')}: ${s.shop} ${r.from ?? ''}`} go={() => d.takeOut(s.shop, r)} /></span></td>
                    </>
                )}
                {i === 0 && <td rowSpan={rows.length} class="right">{s.claims > 0 ? <a href={`#/?shop=${encodeURIComponent(s.shop)}`}>{s.claims}</a> : 0}</td>}
                {i === 0 && <td rowSpan={rows.length}><Keys s={s} d={d} /></td>}
            </tr>
        ))}</>
    );
}

function RowForm({ form, go }: { form: { current: HTMLFormElement | null }; go: (e: Event) => void }): JSX.Element {
    return (
        <section>
            <h2>{t('shp-row')}</h2>
            <p class="small">{t('shp-row-why')}</p>
            <form ref={form} onSubmit={go} data-form="row">
                <label class="stacked">{t('shop')}<input name="shop" required maxLength={64} pattern="[A-Za-z0-9][A-Za-z0-9._\-]*" autocomplete="off" spellcheck={false} /></label>
                <label class="stacked">{t('shp-kind')}<select name="kind">{calls.KINDS.map((k) => <option key={k} value={k}>{word('shp-kind-', k)}</option>)}</select></label>
                <label class="stacked">{t('shp-rate')}<input name="rate" inputMode="decimal" maxLength={20} autocomplete="off" /><span class="small">{t('shp-rate-why')}</span></label>
                <label class="stacked">{t('shp-from')}<input name="from" type="date" /><span class="small">{t('shp-from-why')}</span></label>
                <p><button type="submit" class="first" data-act="put">{t('shp-put')}</button></p>
            </form>
        </section>
    );
}

function KeyForm({ go }: { go: (f: HTMLFormElement) => void }): JSX.Element {
    return (
        <section>
            <h2>{t('shp-key')}</h2>
            <p class="small">{t('shp-key-why')}</p>
            <form onSubmit={(e) => { e.preventDefault(); go(e.currentTarget); }} data-form="key">
                <label class="stacked">{t('shop')}<input name="shop" required maxLength={64} pattern="[A-Za-z0-9][A-Za-z0-9._\-]*" autocomplete="off" spellcheck={false} /></label>
                <label class="stacked">{t('shp-key-hex')}<input name="key" class="code" required pattern="[0-9A-Fa-f]{64}" maxLength={64} autocomplete="off" spellcheck={false} /></label>
                <p class="small">{t('shp-key-gone-why')}</p>
                <p><button type="submit" data-act="key">{t('shp-key-put')}</button></p>
            </form>
        </section>
    );
}

function Whole({ go }: { go: (csv: string) => void }): JSX.Element {
    return (
        <details class="whole">
            <summary>{t('shp-whole')}</summary>
            <form onSubmit={(e) => { e.preventDefault(); go(String(new FormData(e.currentTarget).get('csv') ?? '')); }} data-form="whole">
                <label class="stacked wide-field">{t('shp-whole-why')}<textarea name="csv" class="code" rows={8} required spellcheck={false} /></label>
                <p><button type="submit" data-act="whole">{t('shp-whole-yes')}</button></p>
            </form>
        </details>
    );
}

export function ShopsPage({ who, nobody }: PageProps): JSX.Element {
    const [seen, set] = useState<calls.Shops | null>(null), [why, setWhy] = useState(''), [said, say] = useState(''), row = useRef<HTMLFormElement>(null);
    const fail = (e: unknown) => {
        say('');
        if (e instanceof Trouble && e.status === 401) nobody();
        else if (e instanceof Trouble && e.status === 412) { setWhy(t('shp-changed')); void calls.shops().then(set, () => undefined); } else setWhy(words(e));
    };
    useEffect(() => void calls.shops().then(set, fail), [who.csrf]);
    const done = (key: 'shp-was-put' | 'shp-key-was-put' | 'shp-key-was-gone') => (s: calls.Shops) => { set(s); setWhy(''); say(t(key)); };
    const tag = seen?.tag ?? '', put = (e: Event) => {
        e.preventDefault();
        const f = row.current!;
        calls.putRow(who, tag, { shop: text(f, 'shop'), kind: text(f, 'kind') as calls.Kind, rate: text(f, 'rate'), from: text(f, 'from') }).then((s) => { f.reset(); done('shp-was-put')(s); }, fail);
    };
    const fill = (shop: string, r: calls.Rate) => {
        const f = row.current!;
        for (const [name, v] of Object.entries({ shop, kind: r.kind, rate: r.rate ?? '', from: r.from ?? '' })) (f.elements.namedItem(name) as HTMLInputElement).value = v;
        (f.elements.namedItem('rate') as HTMLInputElement).focus();
    };
    const d: Doing = { fill, takeOut: (shop, r) => void calls.takeOut(who, tag, { shop, from: r.from }).then(done('shp-was-put'), fail), revoke: (k) => void calls.revokeKey(who, k).then(done('shp-key-was-gone'), fail) };
    const listed = (seen?.shops ?? []).filter((s) => s.rows.length > 0).length;
    return (
        <div class="people shops">
            <h1>{t('shops')}</h1>
            {seen !== null && <p class="said-first">{seen.sha256 === null ? t('shp-none') : t('shp-count', { n: listed, when: moment(seen.kept_ms) })}</p>}
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            <p role="status" class={said === '' ? 'visually' : ''}>{said}</p>
            {seen === null ? <p class="small">{t('loading')}</p> : (
                <div class="beside">
                    <section>
                        {seen.shops.length > 0 && (
                            <div class="sheet-box" tabIndex={0} role="region" aria-label={t('shops')}>
                                <table class="sheet">
                                    <thead><tr><th scope="col">{t('shop')}</th><th scope="col" class="wider">{t('shp-kind')}</th><th scope="col" class="right">{t('shp-rate')}</th><th scope="col">{t('shp-from')}</th><th scope="col"><span class="visually">{t('acts')}</span></th><th scope="col" class="right">{t('shp-claims')}</th><th scope="col">{t('shp-keys')}</th></tr></thead>
                                    {seen.shops.map((s) => <tbody key={s.shop}><ShopRows s={s} d={d} /></tbody>)}
                                </table>
                            </div>
                        )}
                        <Whole go={(csv) => void calls.putList(who, tag, csv).then(done('shp-was-put'), fail)} />
                    </section>
                    <div class="forms"><RowForm form={row} go={put} /><KeyForm go={(f) => void calls.putKey(who, text(f, 'shop'), text(f, 'key')).then((s) => { f.reset(); done('shp-key-was-put')(s); }, fail)} /></div>
                </div>
            )}
        </div>
    );
}
