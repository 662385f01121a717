// codes: reads QR, Code 39 and Code 128 out of a grey picture. The only file that knows the reader (zbar as WebAssembly, the npm package
// @undecaf/zbar-wasm); it is a bundle of its own that is loaded when a camera or a photo is opened, never with the page.
import { getInstance, ZBarConfigType, ZBarImage, ZBarScanner, ZBarSymbolType } from '@undecaf/zbar-wasm';
import type { Code } from './meaning';

const KINDS: [ZBarSymbolType, Code['kind']][] = [[ZBarSymbolType.ZBAR_QRCODE, 'QR'], [ZBarSymbolType.ZBAR_CODE39, 'Code 39'], [ZBarSymbolType.ZBAR_CODE128, 'Code 128']];

export class Reader {
    private constructor(private readonly scanner: ZBarScanner) {}

    /** Throws when the WebAssembly module cannot be had. */
    static async load(): Promise<Reader> {
        await getInstance();
        const scanner = await ZBarScanner.create();
        scanner.setConfig(ZBarSymbolType.ZBAR_NONE, ZBarConfigType.ZBAR_CFG_ENABLE, 0); // 0: every kind
        for (const [type] of KINDS) scanner.setConfig(type, ZBarConfigType.ZBAR_CFG_ENABLE, 1);
        return new Reader(scanner);
    }

    /** grey: width x height bytes, row by row. The codes found, each once. */
    async read(grey: Uint8Array, width: number, height: number): Promise<Code[]> {
        const image = await ZBarImage.createFromGrayBuffer(width, height, grey.buffer as ArrayBuffer), found = new Map<string, Code>();
        try {
            this.scanner.scan(image);
            for (const symbol of image.getSymbols()) {
                const kind = KINDS.find(([type]) => type === symbol.type)?.[1], text = symbol.decode();
                if (kind !== undefined && text !== '') found.set(`${kind} ${text}`, { kind, text });
            }
        } finally {
            image.destroy();
        }
        return [...found.values()];
    }
}
