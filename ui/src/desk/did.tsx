// did: what the technician did, event by event, and what was measured and cut, told from the events as they were sent.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { Bulletin } from '../bulletin/types';
import { textIn } from '../bulletin/types';
import { Claim, Did, events } from './api';
import { amount, moment, money, named } from './show';
import { Key, t, word } from './text';

const text = (x: unknown): string => (typeof x === 'string' ? x : typeof x === 'number' || typeof x === 'boolean' ? String(x) : '');
const long = (x: unknown): string => (typeof x === 'number' ? amount(x, 'mm', 1) : '');

/** What a later event put right does not stand any more. */
export const standing = (list: readonly Did[]): Did[] => { const gone = new Set(list.map((e) => e.corrects)); return list.filter((e) => !gone.has(e.id)); };

/** One event in a line of words. */
export function sayDid(e: Did, b: Bulletin | null, digits: number | null): string {
    const p = e.payload, point = (id: string) => { const found = b?.points.find((x) => x.id === id); return found === undefined || b === null ? id : textIn(b, found.name, 'en'); };
    const step = (id: string) => { const found = b?.steps.find((x) => x.id === id); return found === undefined || b === null ? id : textIn(b, found.title, 'en'); };
    switch (e.type) {
        case 'label_read': return text(p['text']);
        case 'scope_found': return `${word('', text(p['verdict']))}${p['reason'] === undefined ? '' : `: ${text(p['reason'])}`}`;
        case 'rack_measured': return `${text(p['rack'])}: ${long(p['length_nm'])}`;
        case 'kit_chosen': return named(b, b?.kits, text(p['kit']));
        case 'cut': return `${text(p['rack'])}: ${t('cut-line', { needed: long(p['needed_nm']), mark: long(p['mark_nm']), end: text(p['from_end']) || t('unknown'), stock: long(p['stock_nm']) })}`;
        case 'hold_confirmed': return step(text(p['step']));
        case 'reading_taken': return `${point(text(p['point']))}: ${typeof p['value_nm'] === 'number' ? long(p['value_nm']) : `${text(p['value'])} ${text(p['unit'])}`}`;
        case 'moved': return t(p['target'] === 'rack' ? 'moved-rack' : 'moved-by', { name: text(p['name']), n: Number(p['steps']) > 0 ? `+${text(p['steps'])}` : text(p['steps']).replace('-', '\u2212') });
        case 'photo_taken': return named(b, b?.proof.photos, text(p['photo']));
        case 'expense_claimed': return `${word('line-', text(p['what']))}: ${money(Number(p['amount_minor'] ?? 0), b?.bulletin.currency ?? null, digits)}${p['why'] === undefined ? '' : `, ${text(p['why'])}`}`;
        case 'finished': return p['minutes'] === undefined ? '' : t('minutes', { n: text(p['minutes']) });
        case 'note': return text(p['text']);
        default: return text(p['software']);
    }
}

interface Rack { station: string; rack: string; measured: string[]; cut: Did | null; jumps: number }

/** One row a rack: every length that was measured, the cut that stands, and whole teeth that it was moved by. */
export function racksOf(list: readonly Did[]): Rack[] {
    const racks = new Map<string, Rack>(), of = (e: Did, name: string) => {
        const key = `${e.station ?? ''} ${name}`, found = racks.get(key) ?? { station: e.station ?? '', rack: name, measured: [], cut: null, jumps: 0 };
        racks.set(key, found);
        return found;
    };
    for (const e of standing(list)) {
        if (e.type === 'rack_measured') of(e, text(e.payload['rack'])).measured.push(long(e.payload['length_nm']));
        if (e.type === 'cut') of(e, text(e.payload['rack'])).cut = e;
        if (e.type === 'moved' && e.payload['target'] === 'rack') of(e, text(e.payload['name'])).jumps += Number(e.payload['steps'] ?? 0);
    }
    return [...racks.values()];
}

function Racks({ list, b }: { list: Did[]; b: Bulletin | null }): JSX.Element | null {
    const racks = racksOf(list);
    if (racks.length === 0) return null;
    return (
        <section><h2>{t('cut-and-timing')}</h2>
            <div class="sheet-box" tabIndex={0} role="group" aria-label={t('cut-and-timing')}>
                <table class="sheet" data-racks>
                    <caption class="visually">{t('cut-and-timing')}</caption>
                    <thead><tr><th scope="col">{t('station')}</th><th scope="col">{t('rack')}</th><th scope="col" class="right">{t('measured')}</th><th scope="col" class="right">{t('needed')}</th><th scope="col" class="right">{t('mark')}</th><th scope="col" class="right">{t('offcut')}</th><th scope="col" class="right">{t('jumps')}</th></tr></thead>
                    <tbody>{racks.map((r) => {
                        const p = r.cut?.payload ?? {};
                        return <tr key={`${r.station} ${r.rack}`}><th scope="row">{named(b, b?.scope.stations, r.station)}</th><td>{r.rack}</td><td class="right figures nowrap">{r.measured.join(' \u2192 ')}</td>
                            <td class="right figures nowrap">{long(p['needed_nm'])}</td><td class="right figures nowrap">{long(p['mark_nm'])}{p['from_end'] !== undefined && ` ${t('from-end', { end: text(p['from_end']) })}`}</td><td class="right figures nowrap">{long(p['offcut_nm'])}</td>
                            <td class="right figures">{r.jumps === 0 ? '0' : r.jumps > 0 ? `+${r.jumps}` : `\u2212${-r.jumps}`}</td></tr>;
                    })}</tbody>
                </table>
            </div>
        </section>
    );
}

/** Cut and timing, and the time line. Asked for once a claim; a claim is judged without it. */
export function Work({ c, b }: { c: Claim; b: Bulletin | null }): JSX.Element {
    const [list, set] = useState<Did[] | null>(null), [why, fail] = useState('');
    useEffect(() => {
        let isLate = false;
        set(null);
        fail('');
        events(c.claim).then((got) => { if (!isLate) set(got); }, (e: Error) => { if (!isLate) fail(e.message); });
        return () => { isLate = true; };
    }, [c.claim]);
    if (list === null) return <section><h2>{t('time-line')}</h2><p role="status">{why === '' ? t('loading') : why}</p></section>;
    const gone = new Set(list.map((e) => e.corrects));
    return (
        <>
            <Racks list={list} b={b} />
            <section><h2>{t('time-line')}</h2>
                <details data-time-line><summary>{t('time-line-n', { n: list.length })}</summary>
                    <div class="sheet-box" tabIndex={0} role="group" aria-label={t('time-line')}>
                        <table class="sheet events">
                            <caption class="visually">{t('time-line')}</caption>
                            <thead><tr><th scope="col">{t('when')}</th><th scope="col">{t('station')}</th><th scope="col">{t('happened')}</th></tr></thead>
                            <tbody>{list.map((e) => <tr key={e.id} class={gone.has(e.id) ? 'gone' : ''}><td class="figures nowrap">{moment(e.at_ms)}</td><td>{e.station === undefined ? '' : named(b, b?.scope.stations, e.station)}</td>
                                <td>{word('did-event-' as Key, e.type).replaceAll('_', ' ')} <span class="soft-text">{sayDid(e, b, b?.currency_digits ?? null)}</span>{gone.has(e.id) && ` (${t('put-right')})`}</td></tr>)}</tbody>
                        </table>
                    </div>
                </details>
            </section>
        </>
    );
}
