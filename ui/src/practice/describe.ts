// describe: the scene and what just happened, in words: for those who do not see the drawing, and for everybody beside it. Says what can be seen from where
// the room stands and nothing else.
import { ADJUSTERS, isChange, Op, opName, OpName, Result, Scene, SEE, TRAVEL_NM } from '../core/practice';
import type { Reading } from './account';
import type { Key } from './text';
import type { PTools } from './use';
import { signed } from './use';

const FULL_MM = 4, PART = 0.85, HARDLY = 0.4; // of the working depth, as an eye would put it

/** Sentences about how everything stands. moved: the learner's own steps. */
export function sceneWords(tools: PTools, s: Scene, moved: readonly number[], tape: 'gauge' | 'steel'): string[] {
    const { p, side, place, figure } = tools, words: string[] = [], mm = figure(BigInt(s.extension), 'mm');
    words.push(s.extension >= TRAVEL_NM - 5000000 ? p('d-out', { n: mm }) : s.extension <= 5000000 ? p('d-in') : p('d-part', { n: mm }));
    if (s.sees & SEE.apart) words.push(p('d-apart', { side: side(s.at[0] > s.at[1] ? 0 : 1) }));
    if (s.sees & SEE.scrape) words.push(p('d-scrape'));
    words.push(p(s.isSupported ? 'd-stands' : 'd-no-stands'), p(s.isIsolated ? 'd-isolated' : 'd-live'));
    const can = [...(s.sees & SEE.gaps ? [p('d-gaps')] : []), ...(s.sees & SEE.ends ? [p('d-ends')] : []), ...(s.sees & SEE.meter ? [p('d-meter')] : [])];
    words.push(can.length === 0 ? p('d-nothing') : p('d-can', { what: can.join(', ') }));
    if (s.sees & SEE.ends) s.racks.forEach((r, i) => {
        const part = Number(r.depth) / 1e6 / FULL_MM;
        if (part < PART) words.push(p(part < HARDLY ? 'd-mesh-hardly' : 'd-mesh-part', { where: place(i >> 1, i & 1) }));
    });
    const own = moved.flatMap((n, a) => (n === 0 ? [] : [`${ADJUSTERS[a]![0] === 'toe' ? `${p('toe-short')} ${side(ADJUSTERS[a]![1])}` : place(ADJUSTERS[a]![1], ADJUSTERS[a]![2])} ${signed(n)}`]));
    if (own.length > 0) words.push(p('d-moved', { what: own.join(', ') }));
    words.push(p(tape === 'steel' ? 'd-steel' : 'd-gauge'));
    return words;
}

/** Where an operation was done, in words; '' where it has no place. */
export function whereOf(tools: PTools, op: Op): string {
    switch (opName(op)) {
        case 'read-gap': case 'read-end': case 'count-teeth': case 'jump': case 'pack': case 'renew-rack': case 'renew-key': case 'ease': return tools.place(op[1], op[2]);
        case 'read-volts': case 'toe': case 'renew-lead': return tools.side(op[1]);
        default: return '';
    }
}

/** "Move a rack, fore upper: +1 tooth". */
export function opWords(tools: PTools, op: Op): string {
    const { p, figure } = tools, name = opName(op), where = whereOf(tools, op), n = op[3];
    const steps = name === 'jump' ? p(n > 0 ? 'jump-out' : 'jump-in', { n: Math.abs(n) }) : name === 'pack' ? p(n > 0 ? 'pack-more' : 'pack-less', { n: Math.abs(n) }) : name === 'toe' ? p(n > 0 ? 'toe-more' : 'toe-less', { n: Math.abs(n) }) : '';
    if (name === 'run') return n === 0 ? p('run-in') : p('run-to', { n: figure(BigInt(n), 'mm') });
    if (name === 'support' || name === 'isolate') return p(`${name}-${n === 0 ? 0 : 1}` as Key);
    return [p(`o-${name}` as Key), ...(where === '' ? [] : [where]), ...(steps === '' ? [] : [steps])].join(', ');
}

export interface Said { text: string; figure: string; isBad: boolean; cautions: string[] }

/** What the last operation did. r: its reading, where it was one. end: how a run ended. */
export function lastWords(tools: PTools, op: Op, result: Result, r: Reading | null, s: Scene): Said {
    const { p } = tools, name: OpName = opName(op), cautions = result.cautions.map((c) => p(`c-${c}` as Key));
    if (r !== null) return { text: opWords(tools, op), figure: `${tools.value(name, r.nano)} ${tools.pm(r)}`.trim(), isBad: false, cautions };
    if (name === 'run') return { text: s.end === 'arrived' ? `${opWords(tools, op)}.` : `${opWords(tools, op)}: ${p(`end-${s.end}` as Key)}`, figure: '', isBad: s.end !== 'arrived', cautions };
    return { text: isChange(name) ? `${opWords(tools, op)}. ${p('now-stale')}` : `${opWords(tools, op)}.`, figure: '', isBad: false, cautions };
}
