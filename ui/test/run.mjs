// run: bundles one TypeScript test and runs it under node. usage: run.mjs TEST.ts [ARG...]
import { build } from 'esbuild';
import { mkdtempSync, rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { dirname, join } from 'node:path';
import { spawnSync } from 'node:child_process';

const [test, ...args] = process.argv.slice(2);
const folder = mkdtempSync(join(dirname(fileURLToPath(import.meta.url)), '.run-'));
try {
    const out = join(folder, 'test.mjs');
    const banner = { js: "import { webcrypto as w_ } from 'node:crypto'; import { Blob as b_, File as f_ } from 'node:buffer'; globalThis.crypto ??= w_; globalThis.Blob ??= b_; globalThis.File ??= f_;" }; // Node 18 has them, not as globals
    await build({ banner, entryPoints: [test], outfile: out, bundle: true, platform: 'node', format: 'esm', target: 'node18', logLevel: 'error', sourcemap: 'inline',
        jsx: 'automatic', jsxImportSource: 'preact', external: ['playwright-core', 'axe-core'] });
    const run = spawnSync(process.execPath, ['--enable-source-maps', out, ...args], { stdio: 'inherit' });
    process.exitCode = run.status ?? 1;
} finally {
    rmSync(folder, { recursive: true, force: true });
}
