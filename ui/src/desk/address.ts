// address: what the Desk shows is in its address, behind the #, so that a filter or a claim is a link; the server is never sent it.
import { useHash } from '../view/hash';
import type { Order } from './api';

/** page: '' for the claims, else the name of another page (pages.tsx); what stands behind a further / is that page's business. */
export interface Place extends Order { page: string; claim: string }
const FILTERS = ['needs', 'verdict', 'findings', 'rule', 'bulletin', 'shop', 'vin', 'after'] as const;

export function placeOf(hash: string): Place {
    const [path = '', query = ''] = hash.replace(/^#\/?/, '').split('?'), q = new URLSearchParams(query);
    const found = Object.fromEntries(FILTERS.map((name) => [name, q.get(name) ?? ''])) as Record<(typeof FILTERS)[number], string>;
    return { ...found, page: /^[a-z]{1,20}(\/[a-z]{0,20})?$/.test(path) ? path.split('/')[0]! : '', claim: /^K[0-9A-Z]{1,20}$/.test(path) ? path : '' };
}

export function hashOf(place: Partial<Place>): string {
    const q = new URLSearchParams();
    for (const name of FILTERS) if (place[name]) q.set(name, place[name]!);
    return `#/${place.claim || place.page || ''}${[...q].length > 0 ? '?' + q : ''}`;
}

export function usePlace(): Place {
    return placeOf(useHash());
}
