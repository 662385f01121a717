// What a code says, and what it may not: the paper's, the one that a phone shows, a bare VIN.
import { end, ok, same } from '../tap.mjs';
import { joinAddress, openByAddress } from '../../src/job/address';

const here = 'https://bench.example', ulid = '01KQS2CMMEFQ7X44TTBNMCV0K0', vin = 'ZZZFM24T5R0001234';
const rows: [string, string, string | null][] = [
    ['a bare VIN', vin, `open/${vin}`], ['in small letters, with spaces around', ` ${vin.toLowerCase()}\n`, `open/${vin}`],
    ['the code on the paper', `https://other.example/bench/#/open/${vin}/OV-26-03`, `open/${vin}/OV-26-03`], ['without a bulletin', `#/open/${vin}`, `open/${vin}`],
    ['a job to join', `${here}/bench/#/join/${ulid}`, `join/${ulid}`], ['typed, without a place', `#/join/${ulid}`, `join/${ulid}`],
    ['a job at another server', `https://other.example/bench/#/join/${ulid}`, null], ['one whose name only begins like ours', `${here}.evil.example/#/join/${ulid}`, null],
    ['a ULID that is none', `${here}/#/join/${ulid.replace('Q', 'U')}`, null], ['more behind it', `${here}/#/join/${ulid}/x`, null],
    ['a VIN with an O', `${here}/#/open/ZZZFM24T5RO001234`, null], ['another screen', `${here}/#/settings`, null], ['a broken escape', `${here}/#/open/%zz`, null],
    ['a bulletin that is markup', `${here}/#/open/${vin}/%3Cb%3E`, null], ['too many parts', `${here}/#/open/${vin}/a/b`, null], ['nothing', '', null], ['anything', 'hello', null], ['script', 'javascript:alert(1)', null],
    ['a very long text', `#/open/${vin}${' '.repeat(3000)}x`, null],
];
for (const [what, text, path] of rows) same(openByAddress(text, here), path, `${what}: ${path ?? 'nothing of ours'}`);
ok(openByAddress(joinAddress(here + '/bench/', ulid), here) === `join/${ulid}`, 'what a phone shows, another reads');
end();
