// text: the reader's language. Numbers keep the decimal point in every language, as tapes and gauges show it and as it is typed.
import { en } from './en';
import { es } from './es';
import { fr } from './fr';

export type Key = keyof typeof en;
export type Catalogue = Readonly<Record<Key, string>>;
export const CATALOGUES: Readonly<Record<string, Catalogue>> = { en, es, fr };
export const LANGUAGES: readonly [string, string][] = [['en', 'English'], ['es', 'Espa\u00f1ol'], ['fr', 'Fran\u00e7ais']];
export type T = (key: Key, values?: Readonly<Record<string, string | number>>) => string;

/** {n} is filled in; {n:day|days} becomes the one or the other, as that language counts. */
export function translator(language: string): T {
    const list = CATALOGUES[language] ?? en, counts = new Intl.PluralRules(CATALOGUES[language] === undefined ? 'en' : language);
    return (key, values = {}) => list[key].replace(/\{(\w+):([^{}|]*)\|([^{}|]*)\}/g, (_, name: string, one: string, many: string) => (counts.select(Number(values[name] ?? 0)) === 'one' ? one : many))
        .replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole));
}
