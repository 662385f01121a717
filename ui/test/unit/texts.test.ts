// The message catalogue: every language has every key, the same fillers, and is no copy of English.
import { end, ok, same } from '../tap.mjs';
import { CATALOGUES, LANGUAGES, translator } from '../../src/text';
import { en } from '../../src/text/en';

const keys = Object.keys(en).sort(), fillers = (text: string) => [...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1]!).sort();
/** Words that are the same in two of the languages. */
const SAME = new Set(['Photo', 'photo', 'note', 'Note', 'kit', 'Kit {kit}', 'Kit: {station}', 'Pinch', 'nominal {n}', 'variante {variant}', 'variant {variant}', '{n} of {m}', 'Bulletin', 'minutes', 'point', 'module {n}', '{low} … {high}', '≤ {high}', '≥ {low}', '{n} min', '{n} h']);
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
same(translator('xx')('jobs'), en.jobs, 'an unknown language falls back to English');
end();
