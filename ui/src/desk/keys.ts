// keys: which key does what at the Desk, once: the handler and the page's own list of keys go by it. Single keys work only while the focus is in
// the list or the claim and nothing is being typed (WCAG 2.1, 2.1.4).
import type { Key } from './text';

export type Deed = 'next' | 'before' | 'pay' | 'ask' | 'hold' | 'refuse' | 'note' | 'take-back' | 'photo' | 'letter' | 'find' | 'keys';
export const KEYS: readonly { key: string; deed: Deed; says: Key }[] = [
    { key: '.', deed: 'next', says: 'key-next' }, { key: ',', deed: 'before', says: 'key-before' },
    { key: 'p', deed: 'pay', says: 'key-pay' }, { key: 'a', deed: 'ask', says: 'key-ask' }, { key: 'h', deed: 'hold', says: 'key-hold' }, { key: 'r', deed: 'refuse', says: 'key-refuse' },
    { key: 'n', deed: 'note', says: 'key-note' }, { key: 'b', deed: 'take-back', says: 'key-take-back' }, { key: 'o', deed: 'photo', says: 'key-photo' }, { key: 'l', deed: 'letter', says: 'key-letter' },
    { key: 'v', deed: 'find', says: 'key-find' }, { key: '?', deed: 'keys', says: 'key-keys' },
];
export const keyOf = (deed: Deed): string => KEYS.find((k) => k.deed === deed)!.key;
export const deedOf = (e: KeyboardEvent): Deed | null => (e.ctrlKey || e.metaKey || e.altKey ? null : KEYS.find((k) => k.key === e.key)?.deed ?? null);
/** Of a key that works only where a claim is open. */
export const OF_CLAIM: readonly Deed[] = ['pay', 'ask', 'hold', 'refuse', 'note', 'take-back', 'photo', 'letter'];

/** A deed is told to whoever shows the claim, by an event: the keyboard does not know what is open. */
export const DEED = 'mendwright-deed';
export const tellDeed = (deed: Deed): void => void document.dispatchEvent(new CustomEvent<Deed>(DEED, { detail: deed }));
