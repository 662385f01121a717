// address: what a code says: the code on the paper (a unit and its bulletin), the one that a phone shows to be joined, or a bare VIN.
// Pure. Only what stands behind the "#" is ever used: a code can open a screen of these pages, never another place.
import { VIN } from './events';

export const JOB_NAME = /^[0-7][0-9A-HJKMNP-TV-Z]{25}$/;

/** The address of a screen ("open/VIN/BULLETIN", "join/ULID"), for go(); null: the text is nothing of ours. origin: of these pages; a code to
 * join that was made by another server is nothing of ours, for its job is not here. */
export function openByAddress(text: string, origin: string): string | null {
    const said = text.trim(), bare = said.toUpperCase().replace(/\s/g, '');
    if (said.length > 2000) return null;
    if (VIN.test(bare)) return `open/${bare}`;
    const at = said.indexOf('#/');
    if (at < 0) return null;
    const [head, id = '', ...rest] = said.slice(at + 2).split('/');
    if (head === 'join') return at > 0 && !said.startsWith(origin.replace(/\/$/, '') + '/') ? null : JOB_NAME.test(id) && rest.length === 0 ? `join/${id}` : null;
    if (head !== 'open' || rest.length > 1) return null;
    try {
        const vin = decodeURIComponent(id).toUpperCase(), bulletin = decodeURIComponent(rest[0] ?? '');
        return VIN.test(vin) && /^[A-Za-z0-9./_*-]{0,40}$/.test(bulletin) ? `open/${vin}${bulletin === '' ? '' : '/' + encodeURIComponent(bulletin)}` : null;
    } catch {
        return null; // a "%" that is none
    }
}

/** The address that a phone shows to be joined. base: of these pages. */
export const joinAddress = (base: string, job: string): string => new URL(`#/join/${job}`, base).href;
