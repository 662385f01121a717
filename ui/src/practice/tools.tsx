// tools: the tools of the trade as things to pick: first what is done, then with what, then where. Each says what it takes, and what can hurt stands beside
// it before it is used. Buttons alone, so that the keyboard does all of it.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { GAP_AT_NM, JUMP_MOST, Op, OpName, opOf, PACK_MOST, Scene, secondsOf, TOE_MOST, TRAVEL_NM } from '../core/practice';
import type { Key } from './text';
import { PTools, usePractice } from './use';

export type Group = 'run' | 'read' | 'safe' | 'move' | 'renew';
const GROUPS: readonly (readonly [Group, readonly OpName[]])[] = [
    ['run', ['run']],
    ['read', ['read-gap', 'read-end', 'count-teeth', 'read-volts', 'read-amps', 'read-time', 'check-tape', 'change-tape']],
    ['safe', ['support', 'isolate']],
    ['move', ['jump', 'pack', 'toe']],
    ['renew', ['renew-rack', 'renew-key', 'ease', 'renew-lead', 'charge']],
];
const CORNERS: readonly OpName[] = ['read-gap', 'read-end', 'count-teeth', 'jump', 'pack', 'renew-rack', 'renew-key', 'ease'], BY_SIDE: readonly OpName[] = ['read-volts', 'toe', 'renew-lead'];
const MOST: Partial<Record<OpName, number>> = { jump: JUMP_MOST, pack: 2 * PACK_MOST, toe: 2 * TOE_MOST };
const STOPS = [0, GAP_AT_NM[0]!, 500000000, TRAVEL_NM];

/** What stands beside a tool: the hazards of using it (the same whatever stands). */
function cautionOf(name: OpName): Key | null {
    if (['jump', 'pack', 'toe', 'renew-rack', 'renew-key'].includes(name)) return 'w-crush';
    if (['count-teeth', 'ease', 'renew-lead'].includes(name)) return 'w-drive';
    return name === 'run' ? 'w-run' : name === 'support' ? 'w-stands' : name === 'isolate' ? 'w-isolate' : name === 'charge' ? 'w-charge' : null;
}
const HAZARD: Partial<Record<Key, Key>> = { 'w-crush': 'hz-crush', 'w-drive': 'hz-pinch', 'w-run': 'hz-pinch', 'w-stands': 'hz-crush', 'w-isolate': 'hz-supply', 'w-charge': 'hz-supply' };

const took = ({ p }: PTools, s: number): string => (s < 60 ? p('seconds', { n: s }) : p('minutes', { n: s < 600 ? Math.round(s / 6) / 10 : Math.round(s / 60) }));
/** The steps on from n, past nought. */
const next = (n: number, by: number, most: number): number => { const m = n + by === 0 ? by : n + by; return Math.max(-most, Math.min(most, m)); };

export function ToolBox({ scene, off, onOp }: { scene: Scene; off: boolean; onOp: (op: Op) => void }): JSX.Element {
    const tools = usePractice(), { p, place, side, figure } = tools;
    const [group, setGroup] = useState<Group>('run'), [picked, setPicked] = useState<Partial<Record<Group, OpName>>>({}), [amounts, setAmounts] = useState<Partial<Record<OpName, number>>>({});
    const list = GROUPS.find(([g]) => g === group)![1], name = picked[group] ?? list[0]!, most = MOST[name], amount = most === undefined ? 0 : amounts[name] ?? 1;
    const step = (by: number) => setAmounts({ ...amounts, [name]: next(amount, by, most!) });
    const act = (op: Op) => { if (!off) onOp(op); };
    const warn = cautionOf(name), sides = [0, 1], disabled = off ? 'true' : undefined;
    const word = name === 'jump' ? p(amount > 0 ? 'jump-out' : 'jump-in', { n: Math.abs(amount) }) : name === 'pack' ? p(amount > 0 ? 'pack-more' : 'pack-less', { n: Math.abs(amount) }) : name === 'toe' ? p(amount > 0 ? 'toe-more' : 'toe-less', { n: Math.abs(amount) }) : '';
    const spot = (s: number, k: number, text: string) => (
        <button type="button" key={`${s}${k}`} class="spot" data-place={`${s}/${k}`} aria-disabled={disabled} onClick={() => act(opOf(name, s, k, amount))}><span class="visually">{p(`o-${name}` as Key)}{word === '' ? '' : `, ${word}`}: </span>{text}</button>
    );
    return (
        <section class="toolbox" aria-label={p('tools')}>
            <div class="groups" role="group" aria-label={p('what-to-do')}>
                {GROUPS.map(([g]) => <button type="button" key={g} data-group={g} aria-pressed={g === group} onClick={() => setGroup(g)}>{p(`g-${g}`)}</button>)}
            </div>
            {list.length > 1 && (
                <div class="picks" role="group" aria-label={p(`g-${group}`)}>
                    {list.map((n) => <button type="button" key={n} data-tool={n} aria-pressed={n === name} onClick={() => setPicked({ ...picked, [group]: n })}><b>{p(`o-${n}` as Key)}</b><small>{took(tools, secondsOf(n, n === name ? amount : MOST[n] === undefined ? 0 : 1))}</small></button>)}
                </div>
            )}
            <p class="about">{p(`a-${name}` as Key)}</p>
            {warn !== null && <div class="caution small-caution"><div><p class="hazard">{p(HAZARD[warn]!)}</p><p>{p(warn)}</p></div></div>}
            {most !== undefined && (
                <div class="stepper" role="group" aria-label={p('how-far')}>
                    <button type="button" data-step="-" aria-label={p('step-down')} onClick={() => step(-1)}>{'\u2212'}</button>
                    <b data-amount={amount} aria-live="polite">{word}</b>
                    <button type="button" data-step="+" aria-label={p('step-up')} onClick={() => step(1)}>+</button>
                </div>
            )}
            <div class={`spots${CORNERS.includes(name) || BY_SIDE.includes(name) ? ' two' : ''}`} role="group" aria-label={p('where')}>
                {CORNERS.includes(name) && [1, 0].flatMap((k) => sides.map((s) => spot(s, k, place(s, k))))}
                {BY_SIDE.includes(name) && sides.map((s) => spot(s, 0, side(s)))}
                {name === 'run' && STOPS.map((nm) => <button type="button" key={nm} class="spot" data-stop={nm / 1000000} aria-disabled={disabled} onClick={() => act(opOf('run', 0, 0, nm))}>{nm === 0 ? p('run-in') : nm === TRAVEL_NM ? p('run-out') : p('run-to', { n: figure(BigInt(nm), 'mm') })}</button>)}
                {name === 'support' && <button type="button" class="spot" data-do="support" aria-disabled={disabled} onClick={() => act(opOf('support', 0, 0, scene.isSupported ? 0 : 1))}>{p(scene.isSupported ? 'support-0' : 'support-1')}</button>}
                {name === 'isolate' && <button type="button" class="spot" data-do="isolate" aria-disabled={disabled} onClick={() => act(opOf('isolate', 0, 0, scene.isIsolated ? 0 : 1))}>{p(scene.isIsolated ? 'isolate-0' : 'isolate-1')}</button>}
                {!CORNERS.includes(name) && !BY_SIDE.includes(name) && !['run', 'support', 'isolate'].includes(name) && <button type="button" class="spot" data-do={name} aria-disabled={disabled} onClick={() => act(opOf(name))}>{p(`o-${name}` as Key)}</button>}
            </div>
        </section>
    );
}
