// tap: the little that the pages' tests need to print TAP, one line a fact.
let count = 0, failed = 0;
export function ok(good, text, note) {
    console.log(`${good ? '' : 'not '}ok ${++count} - ${text.replaceAll('#', '\\#')}`);
    if (good) return;
    failed++;
    if (note !== undefined) console.log(String(note).slice(0, 4000).split('\n').map((l) => `#   ${l}`).join('\n'));
}
/** Deep equality by way of JSON with sorted keys; the first place that differs is told. */
export function same(found, expected, text) {
    const at = difference(found, expected, '');
    ok(at === null, text, at);
}
export function difference(a, b, path) {
    if (typeof a === 'bigint' || typeof b === 'bigint') return a === b ? null : `${path}: found ${a}, expected ${b}`;
    if (a === null || b === null || typeof a !== 'object' || typeof b !== 'object') return Object.is(a, b) || a === b ? null : `${path}: found ${JSON.stringify(a)}, expected ${JSON.stringify(b)}`;
    for (const key of new Set([...Object.keys(a), ...Object.keys(b)])) {
        const at = difference(a[key], b[key], `${path}.${key}`);
        if (at !== null) return at;
    }
    return null;
}
export function end() {
    console.log(`1..${count}`);
    process.exitCode = failed > 0 ? 1 : 0;
}
export function skip(reason) {
    console.log(`1..0 # SKIP ${reason}`);
}
/** Random numbers that a seed replays (mulberry32, public domain, Tommy Ettinger 2017, from memory). */
export function seeded(seed) {
    let s = seed >>> 0;
    const share = () => { s = (s + 0x6d2b79f5) >>> 0; let t = Math.imul(s ^ (s >>> 15), 1 | s); t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t; return ((t ^ (t >>> 14)) >>> 0) / 4294967296; };
    const int = (low, high) => low + Math.floor(share() * (high - low + 1));
    return { share, int, of: (list) => list[int(0, list.length - 1)] };
}
