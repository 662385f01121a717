// meaning: what a scanned code says: a job of ours, a VIN, or neither. Addresses of these pages are job/address.ts's business; here is what
// labels and sheets carry besides. Decides nothing about whether it is right: that is the field's own check, the same as for what is typed.
import { openByAddress } from '../job/address';

export interface Code { kind: 'QR' | 'Code 39' | 'Code 128'; text: string }
export type Meaning =
    | { is: 'job'; vin: string; bulletin: string; revision: number | null }
    | { is: 'join'; path: string }
    | { is: 'vin'; vin: string; isImport: boolean }
    | { is: 'other' };

const OTHER: Meaning = { is: 'other' }, LONGEST = 300;
const VIN = /^[A-Z0-9]{1,24}$/, ID = /^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$/;

function decoded(text: string): string {
    try { return decodeURIComponent(text); } catch { return ''; }
}

/** Ours only when every part is of its form; '' for a part that is not told. */
function job(vin: string, bulletin: string, revision: number | null): Meaning {
    const upper = vin.toUpperCase();
    if ((upper !== '' && !VIN.test(upper)) || (bulletin !== '' && !ID.test(bulletin)) || (upper === '' && bulletin === '')) return OTHER;
    return { is: 'job', vin: upper, bulletin, revision };
}

/** The code of a paper sheet that was printed without a link (mendwright:BULLETIN/REVISION?vin=VIN, sheet_job_text of the program), an
 * address of these pages, or the page of a colleague's job (#/j/VIN-ENTRY). The place itself is never gone to. */
function jobOf(text: string, origin: string): Meaning {
    const sheet = /^mendwright:([^/?#]+)\/(\d{1,7})(?:\?vin=([^&#]*))?$/i.exec(text);
    if (sheet !== null) return job(decoded(sheet[3] ?? ''), decoded(sheet[1]!), Number(sheet[2]));
    const going = /^https?:\/\/[^\s#]+#\/j\/([A-Za-z0-9]{17})-[^\s]*$/i.exec(text);
    if (going !== null) return job(going[1]!, '', null);
    const path = text.includes('#/') ? openByAddress(text, origin) : null, [head, vin = '', bulletin = ''] = (path ?? '').split('/');
    if (path === null) return OTHER;
    return head === 'join' ? { is: 'join', path } : job(vin, decoded(bulletin), null);
}

/** A VIN by itself, or the only one among other words (some labels put more into one code). In Code 39 a leading I marks an import and is
 * no part of the VIN (common practice, from memory); no VIN holds an I, so nothing is lost by leaving it out of eighteen characters. */
function vinOf(text: string): Meaning {
    const plain = text.trim().toUpperCase();
    if (/^I[A-Z0-9]{17}$/.test(plain)) return { is: 'vin', vin: plain.slice(1), isImport: true };
    if (/^[A-Z0-9]{17}$/.test(plain)) return { is: 'vin', vin: plain, isImport: false };
    const among = [...new Set(plain.split(/[^A-Z0-9]+/).filter((word) => /^[A-HJ-NPR-Z0-9]{17}$/.test(word)))];
    return among.length === 1 ? { is: 'vin', vin: among[0]!, isImport: false } : OTHER;
}

/** origin: of these pages, for codes that only mean something there. */
export function meaningOf(text: string, origin: string): Meaning {
    if (text.length > LONGEST) return OTHER;
    const found = jobOf(text.trim(), origin);
    return found.is === 'other' ? vinOf(text) : found;
}

/** For showing a stranger's code: one line, no control characters, not longer than 60. */
export function shownCode(text: string): string {
    const line = text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069]+/g, ' ').trim();
    return line.length > 60 ? `${line.slice(0, 59)}\u2026` : line;
}

/** Bars without a check character can be misread once: seen in two looks running they are believed. QR mends and checks itself. */
export class Twice {
    private last = new Set<string>();
    /** Of the codes of one look, those that may be believed now. */
    believed(codes: Code[]): Code[] {
        const key = (code: Code) => `${code.kind} ${code.text}`, before = this.last;
        this.last = new Set(codes.map(key));
        return codes.filter((code) => code.kind === 'QR' || before.has(key(code)));
    }
}
