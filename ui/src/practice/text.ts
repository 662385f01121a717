// text: the practice pages' texts in the reader's language; loaded with these pages and not before.
import { en } from './text_en';
import { es } from './text_es';
import { fr } from './text_fr';

export type Key = keyof typeof en;
export const CATALOGUES: Readonly<Record<string, Readonly<Record<Key, string>>>> = { en, es, fr };
/** Where n is 1 and there is a text for one of them (key-1), that. */
export function translate(language: string, key: Key, values: Readonly<Record<string, string | number>>): string {
    const list = CATALOGUES[language] ?? en, one = `${key}-1`, text = values['n'] === 1 && one in list ? list[one as Key] : list[key];
    return text.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole));
}
