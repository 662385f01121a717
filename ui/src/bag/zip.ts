// zip: a small writer and reader of stored (unpacked) zip archives, and CRC-32; PKWARE's APPNOTE.TXT 6.3.10, sections 4.3 to 4.5.
// Photos do not shrink, so nothing is deflated. All times are 1980-01-01, so that the same files give the same bytes.
export interface ZipFile { path: string; bytes: Uint8Array }

const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
    let c = n;
    for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    return c >>> 0;
});
export function crc32(bytes: Uint8Array): number {
    let c = 0xffffffff;
    for (const b of bytes) c = TABLE[(c ^ b) & 255]! ^ (c >>> 8);
    return (c ^ 0xffffffff) >>> 0;
}

const DATE_1980 = 0x0021, UTF8 = 0x0800, VERSION = 20, UNIX = 3 << 8, MODE = (0o100644 << 16) >>> 0;

function header(size: number, write: (v: DataView) => void): Uint8Array<ArrayBuffer> {
    const bytes = new Uint8Array(size);
    write(new DataView(bytes.buffer));
    return bytes;
}

/** The parts of an archive, for a Blob; paths in UTF-8, at most 65 535 files and 4 GiB (RangeError beyond). */
export function writeZip(files: readonly ZipFile[]): Uint8Array<ArrayBuffer>[] {
    if (files.length > 0xffff) throw new RangeError('more than 65535 files');
    const parts: Uint8Array<ArrayBuffer>[] = [], directory: Uint8Array<ArrayBuffer>[] = [];
    let at = 0;
    for (const f of files) {
        const name = new TextEncoder().encode(f.path), sum = crc32(f.bytes), size = f.bytes.length, start = at;
        if (start + size > 0xffffffff) throw new RangeError('more than 4 GiB');
        const common = (v: DataView, o: number) => {
            v.setUint16(o, VERSION, true);
            v.setUint16(o + 2, UTF8, true);
            v.setUint16(o + 8, DATE_1980, true);
            v.setUint32(o + 10, sum, true);
            v.setUint32(o + 14, size, true);
            v.setUint32(o + 18, size, true);
            v.setUint16(o + 22, name.length, true);
        };
        parts.push(header(30, (v) => { v.setUint32(0, 0x04034b50, true); common(v, 4); }), name, new Uint8Array(f.bytes));
        directory.push(header(46, (v) => {
            v.setUint32(0, 0x02014b50, true);
            v.setUint16(4, UNIX | VERSION, true);
            common(v, 6);
            v.setUint32(38, MODE, true);
            v.setUint32(42, start, true);
        }), name);
        at += 30 + name.length + size;
    }
    const size = directory.reduce((n, d) => n + d.length, 0);
    return [...parts, ...directory, header(22, (v) => {
        v.setUint32(0, 0x06054b50, true);
        v.setUint16(8, files.length, true);
        v.setUint16(10, files.length, true);
        v.setUint32(12, size, true);
        v.setUint32(16, at, true);
    })];
}

export class ZipError extends Error {}

/** Reads an archive of stored files, as writeZip and `mendwright bag make` write it. Every size is held to the file's; sums are checked. */
export function readZip(bytes: Uint8Array): ZipFile[] {
    const v = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
    const need = (at: number, n: number) => { if (at < 0 || at + n > bytes.length) throw new ZipError('the file is cut off'); };
    const end = bytes.length - 22;
    need(end, 22);
    if (v.getUint32(end, true) !== 0x06054b50) throw new ZipError('no zip, or one with a comment');
    const count = v.getUint16(end + 10, true), files: ZipFile[] = [];
    let at = v.getUint32(end + 16, true);
    for (let i = 0; i < count; i++) {
        need(at, 46);
        if (v.getUint32(at, true) !== 0x02014b50) throw new ZipError('the directory is damaged');
        const method = v.getUint16(at + 10, true), sum = v.getUint32(at + 16, true), size = v.getUint32(at + 24, true), n = v.getUint16(at + 28, true);
        const local = v.getUint32(at + 42, true);
        need(at + 46, n);
        const path = new TextDecoder('utf-8', { fatal: true }).decode(bytes.subarray(at + 46, at + 46 + n));
        if (method !== 0) throw new ZipError(`${path} is packed; expected a bag as this program writes it`);
        need(local, 30);
        const data = local + 30 + v.getUint16(local + 26, true) + v.getUint16(local + 28, true);
        need(data, size);
        const content = bytes.slice(data, data + size);
        if (crc32(content) !== sum) throw new ZipError(`${path} is damaged`);
        if (!path.endsWith('/')) files.push({ path, bytes: content });
        at += 46 + n + v.getUint16(at + 30, true) + v.getUint16(at + 32, true);
    }
    return files;
}
