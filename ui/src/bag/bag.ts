// bag: a job as a bag (RFC 8493, BagIt 1.0) in a zip, the same files in the same form as `mendwright bag make` writes, which verifies
// it in a test. Signed with the shop's Ed25519 key where the browser can (Web Cryptography); else unsigned, and said.
import { writeZip, ZipFile } from './zip';

export interface Signer { shop: string; publicHex: string; sign(bytes: Uint8Array<ArrayBuffer>): Promise<Uint8Array> }
export interface Bag { name: string; blob: Blob; sha256: string; files: number; bytes: number; isSigned: boolean }

export const hex = (bytes: Uint8Array): string => [...bytes].map((b) => b.toString(16).padStart(2, '0')).join('');
export async function sha256(bytes: Uint8Array<ArrayBuffer> | ArrayBuffer): Promise<string> {
    return hex(new Uint8Array(await crypto.subtle.digest('SHA-256', bytes)));
}
const encode = (text: string): Uint8Array<ArrayBuffer> => new Uint8Array(new TextEncoder().encode(text));

async function manifest(files: readonly ZipFile[]): Promise<string> {
    const lines = await Promise.all(files.map(async (f) => `${await sha256(new Uint8Array(f.bytes))}  ${f.path}\n`));
    return lines.join('');
}

/** payload: paths below data/. day: YYYY-MM-DD. */
export async function makeBag(payload: readonly ZipFile[], day: string, agent: string, signer: Signer | null): Promise<Bag> {
    const data = payload.map((f) => ({ path: 'data/' + f.path, bytes: f.bytes })).sort((a, b) => (a.path < b.path ? -1 : 1));
    const bytes = data.reduce((n, f) => n + f.bytes.length, 0);
    const sums = encode(await manifest(data)), top = `job-${(await sha256(sums)).slice(0, 16)}`;
    const info = `Bag-Software-Agent: ${agent}\nBagging-Date: ${day}\nPayload-Oxum: ${bytes}.${data.length}\n${signer === null ? '' : `Mendwright-Shop: ${signer.shop}\n`}`;
    const tags: ZipFile[] = [
        { path: 'bag-info.txt', bytes: encode(info) }, { path: 'bagit.txt', bytes: encode('BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n') },
        { path: 'manifest-sha256.txt', bytes: sums },
    ];
    const tagSums = encode(await manifest(tags));
    tags.push({ path: 'tagmanifest-sha256.txt', bytes: tagSums });
    if (signer !== null) {
        const signature = hex(await signer.sign(tagSums));
        tags.push({ path: 'signature-ed25519.txt', bytes: encode(`Shop: ${signer.shop}\nKey: ${signer.publicHex}\nSignature: ${signature}\n`) });
    }
    const all = [...tags, ...data].map((f) => ({ path: `${top}/${f.path}`, bytes: f.bytes })).sort((a, b) => (a.path < b.path ? -1 : 1));
    const parts = writeZip(all), blob = new Blob(parts, { type: 'application/zip' });
    return { name: `${top}.zip`, blob, sha256: await sha256(await blob.arrayBuffer()), files: data.length, bytes: blob.size, isSigned: signer !== null };
}

// ---- the shop's key ----

/** PKCS #8 of an Ed25519 seed (RFC 8410, 7): this head, then the 32 bytes. */
const PKCS8_HEAD = [0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20];

/** Reads the secret key file that `mendwright bag key` writes; null when it is something else. */
export function readSecret(text: string): { shop: string; seed: Uint8Array } | null {
    const found = /^secret (\S{1,64}) ([0-9a-f]{64})$/m.exec(text.slice(0, 4096));
    if (found === null) return null;
    return { shop: found[1]!, seed: Uint8Array.from(found[2]!.match(/../g)!, (x) => parseInt(x, 16)) };
}

export function pkcs8Of(seed: Uint8Array): ArrayBuffer {
    return Uint8Array.from([...PKCS8_HEAD, ...seed]).buffer;
}

/** null where this browser cannot sign. */
export async function signerOf(key: { shop: string; publicHex: string; pkcs8: ArrayBuffer } | null): Promise<Signer | null> {
    if (key === null) return null;
    try {
        const secret = await crypto.subtle.importKey('pkcs8', key.pkcs8, { name: 'Ed25519' }, false, ['sign']);
        return { shop: key.shop, publicHex: key.publicHex, sign: async (bytes) => new Uint8Array(await crypto.subtle.sign('Ed25519', secret, bytes)) };
    } catch {
        return null;
    }
}

/** The public half, by way of the browser's own key export; null where it cannot. */
export async function publicOf(pkcs8: ArrayBuffer): Promise<string | null> {
    try {
        const secret = await crypto.subtle.importKey('pkcs8', pkcs8, { name: 'Ed25519' }, true, ['sign']);
        const x = (await crypto.subtle.exportKey('jwk', secret)).x!;
        return hex(Uint8Array.from(atob(x.replaceAll('-', '+').replaceAll('_', '/')), (c) => c.charCodeAt(0)));
    } catch {
        return null;
    }
}

/** A new pair, made by this browser; null where it cannot. The seed is the last 32 bytes of its PKCS #8 (RFC 8410, 7). */
export async function makeKey(shop: string): Promise<{ shop: string; publicHex: string; pkcs8: ArrayBuffer } | null> {
    try {
        const pair = (await crypto.subtle.generateKey({ name: 'Ed25519' }, true, ['sign', 'verify'])) as CryptoKeyPair;
        const pkcs8 = pkcs8Of(new Uint8Array(await crypto.subtle.exportKey('pkcs8', pair.privateKey)).slice(-32)), publicHex = await publicOf(pkcs8);
        return publicHex === null ? null : { shop, publicHex, pkcs8 };
    } catch {
        return null;
    }
}

/** The secret key file, as `mendwright bag key` writes it and readSecret reads it. */
export function secretFile(key: { shop: string; pkcs8: ArrayBuffer }): string {
    return `# Keep this file to yourself.\nsecret ${key.shop} ${hex(new Uint8Array(key.pkcs8).slice(-32))}\n`;
}
