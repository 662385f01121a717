// The compiler's own judgement of every source of the pages and their tests, as TAP.
import { spawnSync } from 'node:child_process';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { end, ok } from './tap.mjs';

const ui = join(dirname(fileURLToPath(import.meta.url)), '..');
const run = spawnSync(process.execPath, [join(ui, 'node_modules/typescript/bin/tsc'), '--noEmit', '-p', ui], { encoding: 'utf8', cwd: ui });
ok(run.status === 0, 'the pages and their tests hold to their types (TypeScript, strict)', run.stdout + run.stderr);
end();
