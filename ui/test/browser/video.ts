// video: what a camera would see, as a file that Chromium plays in place of a camera. Codes are drawn by zint and pages by poppler, both by
// others than the reader (zbar); the video is YUV4MPEG2, 4:2:0, grey (the header's words: mjpegtools' yuv4mpeg(5), from memory).
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { temporary, temporaryFolder } from './drive';

export interface Grey { width: number; height: number; bytes: Uint8Array }
const WIDTH = 1280, HEIGHT = 720, PAPER = 0xd8, WALL = 0x70;

function run(program: string, ...args: string[]): void {
    const done = spawnSync(program, args, { encoding: 'utf8' });
    if (done.status !== 0) throw new Error(`${program}: ${done.error?.message ?? done.stderr}`);
}

/** A BMP of one bit a pixel, as zint writes it: rows from the bottom, each filled up to four bytes; the palette says which bit is dark. */
function readBmp(file: Buffer): Grey {
    const at = file.readUInt32LE(10), width = file.readInt32LE(18), height = file.readInt32LE(22), bits = file.readUInt16LE(28), row = Math.ceil(width / 32) * 4;
    if (bits !== 1) throw new Error(`a BMP of ${bits} bits; expected 1`);
    const grey = [file[54]!, file[58]!], bytes = new Uint8Array(width * height);
    for (let y = 0; y < height; y++)
        for (let x = 0; x < width; x++) bytes[y * width + x] = grey[(file[at + (height - 1 - y) * row + (x >> 3)]! >> (7 - (x & 7))) & 1]!;
    return { width, height, bytes };
}

const NUMBERS = { 'QR': '58', 'Code 39': '8', 'Code 128': '20', 'EAN-13': '13' } as const;
export function drawn(kind: keyof typeof NUMBERS, text: string, scale = kind === 'QR' ? 4 : 1): Grey {
    const path = join(temporaryFolder('pages-'), 'code.bmp');
    run('zint', '-b', NUMBERS[kind], '-d', text, '-o', path, '--filetype=bmp', `--scale=${scale}`, '--quietzones');
    return readBmp(readFileSync(path));
}

/** The upper part of a sheet's first page as a camera over it sees it, by poppler's pdftoppm. */
export function sheetSeen(pdf: string): Grey {
    const out = join(temporaryFolder('pages-'), 'page');
    run('pdftoppm', '-gray', '-r', '150', '-f', '1', '-l', '1', '-x', '0', '-y', '0', '-W', '1240', '-H', '720', '-singlefile', pdf, out);
    const file = readFileSync(`${out}.pgm`), head = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(file.subarray(0, 40).toString('latin1'))!;
    return { width: Number(head[1]), height: Number(head[2]), bytes: new Uint8Array(file.subarray(head[0].length)) };
}

/** A grey picture lying on a wall, in the middle of the camera's picture; with light that falls off to one side, and grain. */
export function video(...pictures: Grey[]): string {
    const luma = new Uint8Array(WIDTH * HEIGHT).fill(WALL), step = Math.floor(HEIGHT / pictures.length);
    pictures.forEach((p, i) => {
        const left = (WIDTH - p.width) >> 1, top = i * step + ((step - p.height) >> 1);
        if (left < 0 || top < 0) throw new Error(`a picture of ${p.width} x ${p.height} is larger than the camera's`);
        for (let y = 0; y < p.height; y++) for (let x = 0; x < p.width; x++) luma[(top + y) * WIDTH + left + x] = Math.round((p.bytes[y * p.width + x]! / 255) * PAPER) + 16;
    });
    let s = 7;
    for (let i = 0; i < luma.length; i++) {
        s = (Math.imul(s, 1103515245) + 12345) >>> 0;
        luma[i] = Math.max(16, Math.min(235, Math.round(luma[i]! * (1 - 0.3 * ((i % WIDTH) / WIDTH)) + ((s >>> 24) % 9) - 4)));
    }
    const frame = Buffer.concat([Buffer.from('FRAME\n'), luma, Buffer.alloc((WIDTH * HEIGHT) / 2, 128)]);
    return temporary('camera.y4m', Buffer.concat([Buffer.from(`YUV4MPEG2 W${WIDTH} H${HEIGHT} F10:1 Ip A1:1 C420jpeg\n`), frame, frame]));
}

/** As a photo: PNG by the browser's own canvas would be circular; a BMP of eight bits grey is a table of bytes (BITMAPINFOHEADER). */
export function bmp({ width, height, bytes }: Grey): Buffer {
    const row = Math.ceil(width / 4) * 4, head = Buffer.alloc(54 + 1024);
    head.write('BM', 0, 'latin1');
    head.writeUInt32LE(head.length + row * height, 2);
    head.writeUInt32LE(head.length, 10);
    head.writeUInt32LE(40, 14);
    head.writeInt32LE(width, 18);
    head.writeInt32LE(height, 22);
    head.writeUInt16LE(1, 26);
    head.writeUInt16LE(8, 28);
    head.writeUInt32LE(256, 46);
    for (let i = 0; i < 256; i++) head.writeUInt32LE(i * 0x010101, 54 + 4 * i);
    const body = Buffer.alloc(row * height);
    for (let y = 0; y < height; y++) body.set(bytes.subarray(y * width, (y + 1) * width), (height - 1 - y) * row);
    return Buffer.concat([head, body]);
}
