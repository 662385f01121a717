// How the pages are built. The Bench: one bundle, the core beside it, the reader of codes in a bundle of its own (loaded with the camera), and a service worker that knows every file by its digest. The Desk
// (--mode desk): a bundle of its own in a folder of its own, so that the Bench's first load does not grow by it.
// The practice pages (src/practice) come in a bundle of their own, too: kept after all else, with the exercises.
// OUT: the folder to write; CORE: the WebAssembly module; SETS: the exercises that come with the pages. build.sh sets all three.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { build } from 'esbuild';
import { defineConfig, Plugin } from 'vite';

const out = process.env['OUT'] ?? resolve(__dirname, '../build/pages');
const core = process.env['CORE'] ?? resolve(__dirname, '../build/mendwright-core.wasm');
const sets = process.env['SETS'] ?? resolve(__dirname, '../build/src/practice/sets.json');

/** What only the practice pages ask for. */
const SETS = 'practice/sets.json';

/** The core as core.wasm, the exercises as practice/sets.json, and sw.js with the list of all files and a version made of their content. */
function offline(): Plugin {
    return {
        name: 'offline',
        apply: 'build',
        generateBundle(_, bundle) {
            this.emitFile({ type: 'asset', fileName: 'core.wasm', source: readFileSync(core) });
            this.emitFile({ type: 'asset', fileName: SETS, source: readFileSync(sets) });
            for (const name of ['icon.svg', 'manifest.webmanifest'])
                this.emitFile({ type: 'asset', fileName: name, source: readFileSync(resolve(__dirname, 'static', name)) });
            void bundle;
        },
        async writeBundle(_, bundle) {
            const files = Object.values(bundle).map((f) => [f.fileName, f.type === 'chunk' ? f.code : f.source] as const).sort(([a], [b]) => (a < b ? -1 : 1));
            const sum = createHash('sha256');
            for (const [name, content] of files) sum.update(name).update('\0').update(content);
            // A bundle that is only imported when it is needed, and what it brings along.
            const chunks = Object.values(bundle).flatMap((f) => (f.type === 'chunk' && f.isDynamicEntry ? [f] : []));
            const rest = new Set(chunks.flatMap((c) => [c.fileName, ...(c.viteMetadata?.importedAssets ?? []), ...(c.viteMetadata?.importedCss ?? [])]));
            rest.add(SETS);
            await build({
                entryPoints: [resolve(__dirname, 'src/sw.ts')], outfile: resolve(out, 'sw.js'), bundle: true, minify: true, target: 'es2021', format: 'iife',
                define: {
                    VERSION: JSON.stringify(sum.digest('hex').slice(0, 16)),
                    FILES: JSON.stringify(['./', ...files.map(([name]) => name).filter((n) => n !== 'index.html' && !rest.has(n))]),
                    REST: JSON.stringify([...rest].sort()),
                },
            });
        },
    };
}

/** The reader of codes looks, under Node.js only, for the folder it lies in; the bundler would take that for a file to carry along. */
function withoutNode(): Plugin {
    return {
        name: 'without-node',
        enforce: 'pre',
        transform: (code, id) => (id.includes('@undecaf/zbar-wasm') ? { code: code.replace('new URL("./",import.meta.url)', '""'), map: null } : null),
    };
}

export default defineConfig(({ mode }) => ({
    root: mode === 'desk' ? resolve(__dirname, 'desk') : __dirname,
    base: './',
    publicDir: false,
    esbuild: { jsx: 'automatic', jsxImportSource: 'preact' },
    build: { outDir: out, emptyOutDir: true, target: 'es2021', modulePreload: false, assetsInlineLimit: 0, reportCompressedSize: false },
    plugins: mode === 'desk' ? [] : [withoutNode(), offline()],
    server: { fs: { allow: ['..'] } },
}));
