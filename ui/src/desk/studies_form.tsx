// studies_form: what a study assumes, as a form: each value with a line on what it is, what holds when it is left out, and its bounds.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { Kind, Known, Option, Values } from './studies_calls';
import { Key, en, t } from './text';

/** The words of an option: this study's own where it has some. */
const wordOf = (which: 'o' | 'h', kind: string, name: string): string => {
    const own = `st-${which}-${kind}-${name}`;
    return t((Object.hasOwn(en, own) ? own : `st-${which}-${name}`) as Key);
};
export const labelOf = (kind: string, name: string): string => wordOf('o', kind, name);
/** "Confidence 90 %; Seed 7"; '' for none. What stands behind a label's comma is what its values are in. */
export const toldOf = (kind: string, values: Values): string => Object.entries(values).map(([name, value]) => { const [what, unit] = labelOf(kind, name).split(', '); return `${what} ${value}${unit === undefined ? '' : `\u00a0${unit}`}`; }).join('; ');

/** An id is chosen from those that are known, where any is; what the address says stays a choice, too. */
const idsOf = (o: Option, known: Known, value: string): string[] => {
    const ids = o.name === 'bulletin' ? known.bulletins : o.name === 'variant' ? known.variants : [];
    return ids.length > 0 && value !== '' && !ids.includes(value) ? [...ids, value] : ids;
};

/** Chosen at the start, then the person's: progress that is told meanwhile must not put it back. */
const Choose = ({ common, none, of, value }: { common: { id: string; name: string; 'aria-describedby': string }; none: string; of: string[]; value: string }): JSX.Element => (
    <select {...common}><option value="" selected={value === ''}>{none}</option>{of.map((c) => <option key={c} value={c} selected={c === value}>{c}</option>)}</select>
);

function Field({ kind, o, value, known }: { kind: string; o: Option; value: string; known: Known }): JSX.Element | null {
    const ids = idsOf(o, known, value);
    if (o.name === 'bulletin' && known.bulletins.length === 1 && value === '') return null; // there is nothing to choose
    const id = `st-${o.name}`, about = `${id}-why`, common = { id, name: o.name, 'aria-describedby': about };
    const more = [o.least !== undefined && o.most !== undefined && o.name !== 'seed' ? t('st-bounds', { least: o.least, most: o.most }) : '', o.usual !== undefined ? t('st-usual', { usual: o.usual }) : ''].filter((s) => s !== '').join(' ');
    return (
        <div class="field">
            {o.type === 'flag' ? <label class="tick"><input {...common} type="checkbox" value="yes" defaultChecked={value === 'yes'} /> {labelOf(kind, o.name)}</label> : <label for={id}>{labelOf(kind, o.name)}</label>}
            {o.type === 'choice' ? <Choose common={common} none={o.usual ?? t('st-any')} of={o.choices!.filter((c) => c !== o.usual)} value={value} />
                : ids.length > 0 ? <Choose common={common} none={t(o.name === 'variant' ? 'st-every' : 'st-any')} of={ids} value={value} />
                : o.type !== 'flag' && <input {...common} type={o.type === 'day' ? 'date' : 'text'} inputMode={o.type === 'number' ? 'decimal' : o.type === 'whole' ? 'numeric' : undefined} defaultValue={value} placeholder={o.usual ?? ''} maxLength={60} autocomplete="off" spellcheck={false} />}
            <p class="small" id={about}>{wordOf('h', kind, o.name)}{more !== '' && <> <span class="bounds">{more}</span></>}</p>
        </div>
    );
}

interface Props { kind: Kind; values: Values; rows: string; known: Known; isBusy: boolean; why: string; run: (values: Values, rows: string) => void; reset: () => void }

export function Assume({ kind, values, rows, known, isBusy, why, run, reset }: Props): JSX.Element {
    const form = useRef<HTMLFormElement>(null), [, again] = useState(0);
    // Another address fills the form anew; what is being typed stays until it is run.
    const key = JSON.stringify([kind.kind, values]);
    useEffect(() => again((n) => n + 1), [key]);
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!), next: Record<string, string> = {};
        for (const o of kind.options) {
            const value = String(told.get(o.name) ?? '').trim();
            if (value !== '' && value !== o.usual) next[o.name] = value;
        }
        run(next, String(told.get('rows') ?? ''));
    };
    return (
        <form ref={form} class="assume" id="assume" tabIndex={-1} key={key} onSubmit={go} aria-labelledby="assume-head">
            <h2 id="assume-head">{t('st-assume')}</h2>
            <p class="small">{t('st-assume-why')}</p>
            {kind.columns !== null && <div class="field"><label for="st-rows">{t('st-rows')}</label><textarea id="st-rows" name="rows" class="code" rows={8} maxLength={262144} spellcheck={false} placeholder={t('st-rows-example')} aria-describedby="st-rows-why" defaultValue={rows} /><p class="small" id="st-rows-why">{t('st-rows-why')}</p></div>}
            <div class="fields">{kind.options.map((o) => <Field key={o.name} kind={kind.kind} o={o} value={values[o.name] ?? ''} known={known} />)}</div>
            <p class="stop-text" role="alert">{why}</p>
            <p class="buttons"><button type="submit" class="act" data-act="run" disabled={isBusy}>{t('st-run')}</button>{Object.keys(values).length > 0 && <button type="button" data-act="usual" disabled={isBusy} onClick={reset}>{t('st-back-usual')}</button>}</p>
        </form>
    );
}
