// The message catalogue: every language has every key, the same fillers, and is no copy of English.
import { end, ok, same } from '../tap.mjs';
import { CATALOGUES, LANGUAGES, translator } from '../../src/text';
import { en } from '../../src/text/en';

const keys = Object.keys(en).sort(), fillers = (text: string) => [...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1]!).sort();
/** Words that are the same in two of the languages. */
const SAME = new Set(['Photo', 'photo', 'note', 'Note', 'kit', 'Kit {kit}', 'Kit: {station}', 'Pinch', 'nominal {n}', 'variante {variant}', 'variant {variant}', '{n} of {m}', 'Bulletin', 'minutes', 'point', 'module {n}', '{low} … {high}', '≤ {high}', '≥ {low}', '{n} min', '{n} h', '{name}:']);
for (const [code, name] of LANGUAGES) {
    const list = CATALOGUES[code]! as Record<string, string>;
    same(Object.keys(list).sort(), keys, `${name} has every one of the ${keys.length} texts and no other`);
    const wrong = keys.filter((k) => fillers(list[k]!).join() !== fillers((en as Record<string, string>)[k]!).join());
    ok(wrong.length === 0, `${name} fills in the same in every text`, wrong.join(', '));
    ok(keys.every((k) => list[k]!.trim() === list[k] && list[k] !== ''), `${name} has no empty text`);
    if (code === 'en') continue;
    const copied = keys.filter((k) => list[k] === (en as Record<string, string>)[k] && !SAME.has(list[k]!));
    ok(copied.length === 0, `${name} is no copy of English`, copied.join(', '));
}
same(translator('fr')('of', { n: 3, m: 9 }), '3 sur 9', 'a text is filled in');
// Which numbers are singular: CLDR, plural rules, cardinals (one: English and Spanish 1, French 0 and 1).
same([0, 1, 2].map((n) => translator('en')('span-days', { n })), ['0 days', '1 day', '2 days'], 'one day, two days');
same([0, 1, 2].map((n) => translator('fr')('span-days', { n })), ['0 jour', '1 jour', '2 jours'], 'French counts nought as one');
same([1, 2].map((n) => translator('es')('readings-to-go', { n })), ['falta 1 lectura', 'faltan 2 lecturas'], 'the verb follows in Spanish');
same([1, 2].map((n) => translator('en')('cautions-in', { n })), ['1 caution stands at its step and is read before it opens.', '2 cautions stand at their steps. Each is read before its step opens.'], 'a sentence follows its number');
const choice = /\{(\w+):[^{}|]*\|[^{}|]*\}/g;
for (const [code, name] of LANGUAGES) {
    const wrong = keys.filter((k) => { const text = (CATALOGUES[code]! as Record<string, string>)[k]!; return /[|:]/.test(text.replace(choice, '').replace(/[^{}]*(\{[^{}]*\})?[^{}]*/g, '$1')) || [...text.matchAll(choice)].some((m) => !text.includes(`{${m[1]}}`)); });
    ok(wrong.length === 0, `${name}: every choice by number is whole, and its number stands beside it`, wrong.join(', '));
}
same(translator('xx')('jobs'), en.jobs, 'an unknown language falls back to English');
end();
