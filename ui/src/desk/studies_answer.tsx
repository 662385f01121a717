// studies_answer: the answer to a study: its sentence first, then its picture, its figures, what it takes for granted.
import { JSX } from 'preact';
import { Answered, Note, Piece } from './studies_calls';
import { Key, t } from './text';

const NOTES = ['caveat', 'assumed', 'checked'] as const;

function Table({ of, n }: { of: Extract<Piece, { kind: 'table' }>; n: number }): JSX.Element {
    const right = (k: number): string => (of.align[k] === 'l' ? '' : 'right'), title = n === 0 ? t('st-figures') : t('st-table', { n: n + 1 });
    return (
        <div class="sheet-box" tabIndex={0} role="region" aria-label={title}><table class="sheet">
            <caption class="visually">{title}</caption>
            {of.head.length > 0 && <thead><tr>{of.head.map((h, k) => (h === '' ? <td key={k}></td> : <th key={k} scope="col" class={right(k)}>{h}</th>))}</tr></thead>}
            <tbody>{of.rows.map((r, i) => <tr key={i}>{r.map((cell, k) => (k === 0 && cell !== '' ? <th key={k} scope="row" class={right(k)}>{cell}</th> : <td key={k} class={right(k)}>{cell}</td>))}</tr>)}</tbody>
        </table></div>
    );
}

function Picture({ of }: { of: Answered }): JSX.Element | null {
    if (of.svg === null) return of.no_picture === null ? null : <p class="small">{t('st-no-picture', { why: of.no_picture })}</p>;
    const svg = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(of.svg)}`;
    return (
        <figure class="plot">
            <div class="sheet-box" tabIndex={0} role="region" aria-label={t('st-picture-of')}><img src={svg} alt={of.sentence} /></div>
            <figcaption class="small"><span>{t('st-picture-why')} {t('st-picture')}: <a href={svg} download={`study-${of.study}.svg`}>{t('st-svg')}</a>{of.png !== null && <>, <a href={`data:image/png;base64,${of.png}`} download={`study-${of.study}.png`}>{t('st-png')}</a></>}</span></figcaption>
        </figure>
    );
}

const Notes = ({ notes }: { notes: Note[] }): JSX.Element => (
    <div class="notes">
        {NOTES.map((kind) => { const of = notes.filter((n) => n.kind === kind); return of.length > 0 && <section key={kind} data-notes={kind}><h3>{t(`st-${kind}`)}</h3><ul>{of.map((n) => <li key={n.text}>{n.text}</li>)}</ul></section>; })}
        {notes.length === 0 && <p class="small">{t('st-none-assumed')}</p>}
    </div>
);

/** level: of its heading. The verdict is the heading; further verdicts and texts stand in their order with the tables. */
export function Answer({ of, level }: { of: Answered; level: 2 | 3 }): JSX.Element {
    const first = of.said.findIndex((p) => p.kind === 'verdict'), rest = of.said.filter((_, i) => i !== first), Head = level === 2 ? 'h2' : 'h3';
    let n = 0;
    const lead = rest.slice(0, Math.max(0, rest.findIndex((p) => p.kind === 'table'))), body = rest.slice(lead.length);
    const piece = (p: Piece, i: number): JSX.Element => (p.kind === 'table' ? <Table key={i} of={p} n={n++} /> : <p key={i} class={p.kind === 'verdict' ? 'said' : ''}>{p.text}</p>);
    return (
        <div class="answer" data-code={of.code} data-study={of.study}>
            <Head class={`sentence${of.tone === 'stop' ? ' stop-text' : ''}`} tabIndex={-1}>{of.sentence}</Head>
            {lead.map(piece)}
            <Picture of={of} />
            {body.map(piece)}
            {of.answer.cannot === undefined && <Notes notes={of.answer.assumptions ?? []} />}
        </div>
    );
}

export const question = (kind: string): string => t(`st-${kind}` as Key);
