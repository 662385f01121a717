// The parts that stand by themselves: a bulletin's JSON against the reference of keys, the keypad, the plan of tasks, bags, zips, names.
// usage: parts.test PROGRAM MODULE.wasm ROOT
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { end, ok, same } from '../tap.mjs';
import { makeBag, pkcs8Of, publicOf, readSecret, signerOf } from '../../src/bag/bag';
import { crc32, readZip, writeZip, ZipError } from '../../src/bag/zip';
import { readWork } from '../../src/bag/read';
import { isBulletin, textIn } from '../../src/bulletin/types';
import { Core, CoreError } from '../../src/core/core';
import { shown, shownText } from '../../src/core/amounts';
import { checkEvent, readEvents } from '../../src/job/events';
import { placesOf, tasksOf, waitsFor, wanted, workStations } from '../../src/job/plan';
import { replay } from '../../src/job/replay';
import { addDigit, addFraction, ANYTHING, RACK_END, RACK_LENGTH, readTyped, rubOut, setFraction } from '../../src/view/keypad';
import { moneyOf } from '../../src/view/expenses';
import { greyOf } from '../../src/photo/photo';
import { meaningOf, shownCode, Twice } from '../../src/scan/meaning';
import { CATALOGUES, translator } from '../../src/text';

const [program, module, root] = process.argv.slice(2) as [string, string, string];
const core = await Core.load(readFileSync(module)), folder = mkdtempSync(join(tmpdir(), 'parts-'));
const run = (...args: string[]) => spawnSync(program, args, { encoding: 'utf8', maxBuffer: 2 ** 26 });
const exported = (id: string) => JSON.parse(run('check', '--export', join(root, 'examples', `${id}.yaml`)).stdout) as any;
const ov = exported('OV-26-03'), fr = exported('FR-26-11');

// ---- the bulletin's JSON, the program's reference and the pages' types name the same keys ----

const reference = run('check', '--reference').stdout, sections = new Map<string, { key: string; kind: string }[]>();
let section = '';
for (const line of reference.split('\n')) {
    const head = /^#+ `([^`]*)`|^## \(the file\)/.exec(line), row = /^\| `([a-z_]+)` \| (?:yes)? ?\| ([^|]*) \|/.exec(line);
    if (/^## `?\(the file\)/.test(line) || line.startsWith('## `(the file)`')) section = '';
    else if (head?.[1] !== undefined) section = head[1];
    if (row !== null && (section !== '' || reference.indexOf(line) > reference.indexOf('(the file)'))) sections.set(section, [...(sections.get(section) ?? []), { key: row[1]!, kind: row[2]!.trim() }]);
}
const nameOf = (key: string, kind: string) => (kind === 'time' ? `${key}_s` : kind === 'money' ? `${key}_minor` : key);
function at(json: any, path: string): any[] {
    return path === '' ? [json] : path.split('.').reduce<any[]>((list, part) => list.flatMap((v) => {
        const key = part.replace('[]', ''), value = v?.[key];
        return value === null || value === undefined ? [] : part.endsWith('[]') ? value : [value];
    }), [json]);
}
ok(sections.size >= 25, `the reference has ${sections.size} tables of keys`);
const types = readFileSync(join(root, 'ui/src/bulletin/types.ts'), 'utf8');
for (const [path, rows] of sections) {
    const records = [...at(ov, path), ...at(fr, path)], names = rows.map((r) => nameOf(r.key, r.kind));
    if (records.length > 0) {
        const extra = path === '' ? ['mendwright_bulletin', 'sha256', 'currency_digits', 'languages'] : [];
        const wrong = records.find((r) => [...names, ...extra].sort().join() !== Object.keys(r).sort().join());
        ok(wrong === undefined, `${path === '' ? 'the whole file' : path}: the JSON has exactly the reference's ${names.length} keys`, wrong === undefined ? '' : `${Object.keys(wrong).join()} instead of ${names.join()}`);
    }
    const missing = names.filter((n) => !new RegExp(`\\b${n}:`).test(types));
    ok(missing.length === 0, `${path === '' ? 'the whole file' : path}: the pages' types have them`, missing.join(', '));
}
ok(isBulletin(ov) && isBulletin(fr) && !isBulletin({ ...ov, sha256: 'x' }) && !isBulletin(null) && !isBulletin({ mendwright_bulletin: 1 }), 'what is no bulletin is not taken for one');
const yaml = readFileSync(join(root, 'examples/OV-26-03.yaml'), 'utf8');
same(ov.languages, ['en', 'es', 'fr'], 'the languages of its texts are told');
const count = (value: any): number => (value === null || typeof value !== 'object' ? 0 : Object.values(value).reduce<number>((n, v) => n + count(v), 0) + (typeof value.es === 'string' ? 1 : 0));
same(count(ov), (yaml.match(/(?<=[\s{])es: /g) ?? []).length, 'every Spanish text of the file is in the JSON');
same(ov.kits[0].racks[0].stock, { nano: 1480000000, unit: 'mm' }, 'a length is whole nanometres with the unit it was written in (1480 mm)');
same(fr.adjusters[0].step, { nano: 793750, unit: 'in' }, '1/32 in is 793 750 nm exactly (international yard and pound agreement, 1959)');
same([ov.claim.rate_minor, ov.labour.unit_s, ov.scope.variants[0].windows[0].from, ov.bulletin.issued], [6800, 24000, { first: 19793, last: 19799 }, '2026-02-16'], '68.00 EUR, 400 min, 2024-W11 (11 to 17 March 2024), a date');
const deep = (v: any): boolean => typeof v === 'number' ? !Number.isInteger(v) || Number.isSafeInteger(v) : v === null || typeof v !== 'object' || Object.values(v).every(deep);
ok(deep(ov) && deep(fr), 'every whole number is one that JavaScript holds exactly');
same(textIn(ov, ov.steps[0].title, 'es-MX'), 'Leer las etiquetas', 'a text is shown in the reader\u2019s language');
same(textIn(ov, ov.tools[0].name, 'fr'), ov.tools[0].name.en, 'and in the bulletin\u2019s own where there is no other');
ok(run('check', '--export', join(root, 'README.md')).status !== 0, 'what is no bulletin is not exported');

// ---- amounts as people type and see them ----

const PAD: [string, string, string][] = [
    ['digits', addDigit(addDigit('', '2'), '5'), '25'], ['a fraction', setFraction('2', 32), '2 1/2'], ['another instead', setFraction('2 1/2', 12), '2 3/16'], ['a digit after a fraction', addDigit('2 1/2', '4'), '24 1/2'],
    ['finer', addFraction('2 1/2', 1), '2 33/64'], ['over into the next inch', addFraction('2 63/64', 1), '3'], ['down again', addFraction('3', -1), '2 63/64'], ['not below nothing', addFraction('1/64', -2), '0'],
    ['rubbing out a fraction', rubOut('2 1/2'), '2'], ['rubbing out a digit', rubOut('2'), ''], ['a fraction alone', setFraction('', 4), '1/16'], ['decimals stay', addFraction('2.5', 1), '2.5'],
];
for (const [what, found, expected] of PAD) same(found, expected, `keypad, ${what}: ${expected}`);
const nm = (text: string) => core.parse(text, null).nano;
same([shownText(core, nm('2 1/2 in'), 'mm', 'in'), shownText(core, nm('63.5 mm'), 'mm', 'mm'), shownText(core, nm('62.4 mm'), 'mm', 'in'), shownText(core, nm('-0.5 mm'), 'mm', 'mm', 2)], ['2 1/2\u00a0in', '63.5\u00a0mm', '2.457\u00a0in', '\u22120.5\u00a0mm'], 'lengths in both systems; 62.4 mm is no sixty-fourth');
same(shown(core, nm('13.1 V'), 'V', 'in').text, '13.1', 'volts stay volts');
ok((() => { try { core.parse('2,5 mm', null); return false; } catch (e) { return e instanceof CoreError && e.at === 1; } })(), 'a comma is refused, and where it stands is told');
same([...greyOf(Uint8ClampedArray.from([255, 255, 255, 255, 255, 0, 0, 255, 0, 0, 0, 255]))], [255, 76, 0], 'luminance of white, red (0.299 x 255 = 76.2) and black (ITU-R BT.601)');

same([moneyOf('12.5', 2), moneyOf('12', 0), moneyOf('12.345', 2), moneyOf('', 2), moneyOf('7', 2)], [1250, 12, null, null, 700], 'money is whole minor units: 12.50 is 1250, yen have none');

// ---- what was typed and cannot be used says why, and what to type instead ----

const typed = (text: string, unit: 'mm' | 'in' | 'V', reach = ANYTHING) => readTyped({ core } as Parameters<typeof readTyped>[0], translator('en'), text, unit, reach), en = CATALOGUES['en']!;
for (const [text, unit, reach, error] of [
    ['', 'mm', ANYTHING, null], ['1203.5', 'mm', RACK_LENGTH, null], ['47-3/8"', 'mm', RACK_LENGTH, null], ['47 3/8', 'in', RACK_LENGTH, null], ['-3', 'mm', RACK_END, null], ['-0.02', 'V', ANYTHING, null],
    ['1203,5', 'mm', RACK_LENGTH, 'not-comma'], ['12,6', 'V', ANYTHING, 'not-comma'], ['abc', 'mm', RACK_LENGTH, 'not-number'], ['3-5/8', 'mm', RACK_LENGTH, 'inches-only'], ['3 V', 'mm', RACK_LENGTH, 'other-unit'],
    ['0', 'mm', RACK_LENGTH, 'above-nought'], ['-5', 'mm', RACK_LENGTH, 'above-nought'], ['9999999', 'mm', RACK_LENGTH, 'out-of-reach'], ['9999999', 'mm', RACK_END, 'out-of-reach'], ['-9999999', 'mm', RACK_END, 'out-of-reach'],
] as const) {
    const read = typed(text, unit, reach);
    same([read.error, read.nano !== null], [error === null ? null : en[error], error === null && text !== ''], `"${text}" in a field of ${unit}: ${error ?? 'taken'}`);
}

// ---- names of events ----

let name = '';
const names = Array.from({ length: 200 }, () => (name = core.ulidNext(name, 1777878720880, new Uint8Array(10).fill(7))));
ok(names.every((n, i) => i === 0 || n > names[i - 1]!), 'names of one millisecond keep their order');
ok(core.ulidNext(names[199]!, 1777878720000, new Uint8Array(10)) > names[199]!, 'and also when the clock went back');
ok(core.ulidNext('', 1, new Uint8Array(10)) === '00000000010000000000000000', 'time 1 ms and no chance give the name in core/ulid.h');

// ---- the plan of tasks ----

same(placesOf(ov), { kit: 'measure-racks', cut: 'cut-racks', timing: 'time-racks', truing: 'true-room' }, 'where the first example measures, cuts, times and trues');
same(placesOf(fr), { kit: 'measure-pin', cut: null, timing: null, truing: 'set-true' }, 'and the second, which cuts and times nothing');
const job = readEvents(readFileSync(join(root, 'examples/jobs/ov-26-03-a/events.json'), 'utf8')), done = replay(job.events);
ok(tasksOf(ov, done, new Set(['prepare'])).every((t) => t.done), 'every task of the example job is done', tasksOf(ov, done, new Set(['prepare'])).filter((t) => !t.done).map((t) => t.key).join());
ok(wanted(ov, done).every((w) => w.has) && wanted(ov, done).length === 3 + 2 * 6 + 16, 'and its proof complete: 3 photos a unit, 6 a station, 16 readings');
const none = tasksOf(ov, replay([]), new Set());
same(none.map((t) => t.key), ['label/fore', 'label/aft'], 'an empty job begins with the labels');
const out = (station: string, verdict: string, i: number) => checkEvent({ id: `01KQRX8RBG8S0WFS0KM56A3YM${i}`, type: 'scope_found', at_ms: 1777878720880 + i, technician: 'ines', shop: 'a', station, payload: { verdict } });
const mixed = replay([out('fore', 'in', 1), out('aft', 'out', 2)]);
same([workStations(ov, mixed).map((s) => s.id), tasksOf(ov, mixed, new Set()).some((t) => t.kind === 'step' && t.station === 'aft')], [['fore'], false], 'a column that is out gets no work');
same(tasksOf(ov, replay([out('fore', 'out', 1), out('aft', 'out', 2)]), new Set()).map((t) => t.key), ['label/fore', 'label/aft', 'finish'], 'a unit that is out has nothing but its end');

const two = replay([out('fore', 'in', 1), out('aft', 'in', 2), ...[['identify', 'fore'], ['identify', 'aft'], ['set-site', ''], ['support-room', ''], ['isolate-supply', ''], ['release-drive', 'fore']].map(([step, station], i) =>
    checkEvent({ id: `01KQRX8RBG8S0WFS0KM56A4YM${i}`, type: 'hold_confirmed', at_ms: 1777878730880 + i, technician: 'ines', shop: 'a', ...(station === '' ? {} : { station }), payload: { step } }))]);
const tasks = tasksOf(ov, two, new Set(['prepare'])), waits = (key: string) => waitsFor(tasks, tasks.find((t) => t.key === key)!)?.key ?? null;
same([waits('step/remove-column/fore'), waits('step/release-drive/aft')], [null, null], 'with the room supported and the supply off, each column goes on by itself');
same([waits('step/remove-column/aft'), waits('step/restore-supply'), waits('finish')], ['step/release-drive/aft', 'step/remove-column/fore', null], 'a column waits for its own holds, the unit for both, the end for none');
const early = tasksOf(ov, replay([out('fore', 'in', 1), out('aft', 'out', 2)]), new Set(['prepare']));
same(waitsFor(early, early.find((t) => t.key === 'step/release-drive/fore')!)?.key, 'step/identify/fore', 'no drive is relieved before what holds earlier is confirmed');
same(waitsFor(early, early.find((t) => t.key === 'step/set-site')!)?.key, 'step/identify/fore', 'nor anything of the whole unit');

// ---- bags and zips: the program and unzip as the outside check ----

same(crc32(new TextEncoder().encode('123456789')), 0xcbf43926, 'CRC-32 of "123456789" (the check value of the published catalogue of CRCs, from memory)');
const files = [{ path: 'events.json', bytes: new Uint8Array(readFileSync(join(root, 'examples/jobs/ov-26-03-a/events.json'))) },
    ...job.events.filter((e) => e.type === 'photo_taken').map((e) => String(e.payload['path'])).map((path) => ({ path, bytes: new Uint8Array(readFileSync(join(root, 'examples/jobs/ov-26-03-a', path))) }))];
const bag = await makeBag(files, '2026-05-04', 'test', null), path = join(folder, 'bag.zip');
writeFileSync(path, new Uint8Array(await bag.blob.arrayBuffer()));
const verified = JSON.parse(run('bag', 'verify', path, '--json').stdout) as any;
same([verified.valid, verified.complete, verified.signature, verified.version, verified.faults.length, verified.warnings.length, verified.files], [true, true, 'none', '1.0', 0, 0, files.length], 'the program verifies the page\u2019s bag: valid, complete, without a warning');
ok(spawnSync('python3', ['-c', 'import sys,zipfile;assert zipfile.ZipFile(sys.argv[1]).testzip() is None', path]).status === 0, 'and Python\u2019s zipfile finds every sum right');
const again = await makeBag([...files].reverse(), '2026-05-04', 'test', null);
same(again.sha256, bag.sha256, 'the same files and day give the same bytes');

writeFileSync(join(folder, 'x'), '');
run('bag', 'key', join(folder, 'shop.key'), '--shop', 'fern-mobile-2');
const secret = readSecret(readFileSync(join(folder, 'shop.key'), 'utf8'));
ok(secret !== null && readSecret('anything') === null, 'the program\u2019s secret key file is read');
const publicHex = secret === null ? null : await publicOf(pkcs8Of(secret.seed)), [shop, expected] = readFileSync(join(folder, 'shop.key.pub'), 'utf8').trim().split(/\s+/);
same(publicHex, expected, 'the public key is the one that the program made of it');
const signer = secret === null ? null : await signerOf({ shop: secret.shop, publicHex: publicHex!, pkcs8: pkcs8Of(secret.seed) });
const signed = await makeBag(files, '2026-05-04', 'test', signer), signedPath = join(folder, 'signed.zip');
writeFileSync(signedPath, new Uint8Array(await signed.blob.arrayBuffer()));
writeFileSync(join(folder, 'ring.txt'), `${shop} ${expected}\n`);
same((JSON.parse(run('bag', 'verify', signedPath, '--keys', join(folder, 'ring.txt'), '--json').stdout) as any).signature, 'good', 'a signed bag is good by the shop\u2019s keyring');

run('bag', 'make', join(root, 'examples/jobs/ov-26-03-a'), '-o', join(folder, 'theirs.zip'));
const work = await readWork(new File([readFileSync(join(folder, 'theirs.zip'))], 'theirs.zip'));
same([work.file.vin, work.file.events.length, work.photos.length], [job.vin, job.events.length, files.length - 1], 'a bag of the program\u2019s is read back: VIN, events, photos');
const refuses = async (bytes: Uint8Array) => { try { await readWork(new File([new Uint8Array(bytes)], 'x.zip')); return false; } catch (e) { return e instanceof Error; } };
const whole = new Uint8Array(readFileSync(path));
ok(await refuses(whole.slice(0, whole.length - 9)), 'a bag that is cut off is refused');
const spoilt = whole.slice();
spoilt[spoilt.length >> 1]! ^= 255;
ok(await refuses(spoilt), 'and one with a changed byte');
let refused = 0;
for (let i = 0; i < 300; i++) { const bad = whole.slice(); bad[whole.length - 1 - (i % 600)]! ^= 1 + (i % 255); try { readZip(bad); } catch (e) { if (e instanceof ZipError || e instanceof TypeError) refused++; else throw e; } }
ok(refused > 100, `a damaged directory never does more than be refused (${refused} of 300)`);
ok(writeZip([]).length === 1, 'a zip of nothing is its end record alone');
// ---- a caution's word stands once: pages and sheets set it above the text ----

const hazardWords = Object.values(CATALOGUES).flatMap((c) => ['cutting', 'lifting', 'stored-energy', 'electrical', 'pinch'].map((h) => (c as Record<string, string>)[`h-${h}`]!.toLowerCase().slice(0, 5)));
const doubled = [ov, fr].flatMap((b) => b.steps.flatMap((step: any) => step.cautions.flatMap((c: any) => Object.values(c.text as Record<string, string>)))).filter((text: string) => /^\S+( \S+)?:/.test(text) && hazardWords.some((w) => text.toLowerCase().startsWith(w)));
same(doubled, [], 'no caution of the examples begins with its hazard\u2019s word, in any language');

// ---- what a scanned code means ----

const vin = '1M8GDM9AXKP042788';
for (const [text, expected, why] of [
    [`mendwright:OV-26-03/2?vin=${vin}`, { is: 'job', vin, bulletin: 'OV-26-03', revision: 2 }, 'the sheet\u2019s code'],
    ['mendwright:OV-26-03/2', { is: 'job', vin: '', bulletin: 'OV-26-03', revision: 2 }, 'a sheet of no unit'],
    ['mendwright:A%2F1/2?vin=x', { is: 'other' }, 'an id that is none'],
    ['mendwright:%E0%A4%A/2', { is: 'other' }, 'an escape that is none (RFC 3986, 2.1)'],
    [`https://bench.example.org/bench/#/open/${vin}/FR-26-11`, { is: 'job', vin, bulletin: 'FR-26-11', revision: null }, 'a link to the pages'],
    [`https://bench.example.org/#/open/${vin.toLowerCase()}`, { is: 'job', vin, bulletin: '', revision: null }, 'a link without a bulletin, in small letters'],
    [`https://bench.example.org/#/j/${vin}-01JD0000000000000000000000/label/aft`, { is: 'job', vin, bulletin: '', revision: null }, 'a colleague\u2019s job'],
    [`javascript:alert(1)#/open/${vin}/X`, { is: 'job', vin, bulletin: 'X', revision: null }, 'of any address only what stands behind the # is used'],
    ['https://bench.example.org/bench/#/join/01KQS2CMMEFQ7X44TTBNMCV0K0', { is: 'join', path: 'join/01KQS2CMMEFQ7X44TTBNMCV0K0' }, 'what a colleague\u2019s phone shows to be joined'],
    ['https://example.org/#/open/<b>/OV-26-03', { is: 'other' }, 'a link whose VIN is none'],
    [` ${vin}\r\n`, { is: 'vin', vin, isImport: false }, 'a VIN with blanks about it'],
    [`I${vin}`, { is: 'vin', vin, isImport: true }, 'the I of an import (common practice, from memory)'],
    [`I${vin.slice(1)}`, { is: 'vin', vin: `I${vin.slice(1)}`, isImport: false }, 'seventeen characters that begin with I stay as they are, for the field to refuse'],
    [`VIN:${vin};COLOUR:7`, { is: 'vin', vin, isImport: false }, 'a VIN among other words'],
    [`${vin},${vin}`, { is: 'vin', vin, isImport: false }, 'the same one twice'],
    [`${vin},ZZZFM24T5R0001234`, { is: 'other' }, 'of two VINs neither is guessed'],
    [vin.slice(0, 16), { is: 'other' }, 'sixteen characters'],
    ['x'.repeat(4000), { is: 'other' }, 'a long one'],
] as const) same(meaningOf(text, 'https://bench.example.org'), expected, `scanned: ${why}`);
same(shownCode(`a\u0000\u202eb\n${'c'.repeat(99)}`), `a b ${'c'.repeat(55)}\u2026`, 'a stranger\u2019s code is shown in one short line, without control characters');
const twice = new Twice(), bars = { kind: 'Code 39', text: 'A' } as const, square = { kind: 'QR', text: 'A' } as const, others = { kind: 'Code 39', text: 'B' } as const;
same([twice.believed([bars]), twice.believed([others, bars]), twice.believed([]), twice.believed([bars]), twice.believed([square])], [[], [bars], [], [], [square]], 'bars are believed when two looks running agree, a QR code at once');

rmSync(folder, { recursive: true, force: true });
end();
