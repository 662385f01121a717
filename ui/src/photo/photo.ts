// photo: from a camera's file to a picture that may be kept: smaller, without the place and device that the camera wrote into it
// (it is drawn anew, so nothing of the old file but its pixels is left), and what the core makes of its light and sharpness.
import type { Core, PhotoLook } from '../core/core';
import { sha256 } from '../bag/bag';

export const KEPT_SIDE = 2048;
/** Light and sharpness are judged at this size, and by these limits: PHOTO_JUDGED_SIDE and its neighbours in src/proof/photo.h. */
export const JUDGED_SIDE = 1024;
export const DARK_BELOW = 0.15, BRIGHT_ABOVE = 0.93, BLURRED_BELOW = 20;

export type Advice = 'good' | 'dark' | 'bright' | 'blurred';
export interface Shot { bytes: Uint8Array<ArrayBuffer>; sha256: string; look: PhotoLook; advice: Advice; width: number; height: number }

export function adviceOf(look: PhotoLook): Advice {
    return look.mean < DARK_BELOW ? 'dark' : look.mean > BRIGHT_ABOVE ? 'bright' : look.sharpness < BLURRED_BELOW ? 'blurred' : 'good';
}

function fit(width: number, height: number, side: number): [number, number] {
    const scale = Math.min(1, side / Math.max(width, height));
    return [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
}

function drawn(picture: ImageBitmap, side: number): HTMLCanvasElement {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = fit(picture.width, picture.height, side);
    const pen = canvas.getContext('2d', { willReadFrequently: true })!;
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas;
}

/** Luminance as JPEG has it (0.299 R + 0.587 G + 0.114 B, rounded), a byte a pixel. */
export function greyOf(rgba: Uint8ClampedArray): Uint8Array {
    const grey = new Uint8Array(rgba.length / 4);
    for (let i = 0, k = 0; i < grey.length; i++, k += 4) grey[i] = (299 * rgba[k]! + 587 * rgba[k + 1]! + 114 * rgba[k + 2]! + 500) / 1000;
    return grey;
}

/** Throws when the file is no picture that this browser opens. */
export async function shoot(core: Core, file: Blob): Promise<Shot> {
    const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
    try {
        const kept = drawn(picture, KEPT_SIDE), small = drawn(picture, JUDGED_SIDE);
        const blob = await new Promise<Blob>((resolve, reject) => kept.toBlob((x) => (x === null ? reject(new Error('no picture')) : resolve(x)), 'image/jpeg', 0.86));
        const grey = greyOf(small.getContext('2d')!.getImageData(0, 0, small.width, small.height).data);
        const look = core.photo(grey, small.width, small.height), bytes = new Uint8Array(await blob.arrayBuffer());
        return { bytes, sha256: await sha256(bytes), look, advice: adviceOf(look), width: kept.width, height: kept.height };
    } finally {
        picture.close();
    }
}
