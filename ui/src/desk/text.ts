// text: every word of the Desk's pages, in English. {name} is filled in. What findings and bulletins say comes from the server.
import { bulletin } from './text_bulletin';
import { first } from './text_first';
import { units } from './text_units';
import { people } from './text_people';
import { practice } from './text_practice';
import { studies } from './text_studies';

export const en = {
    ...bulletin,
    ...first,
    ...units,
    ...people,
    ...practice,
    ...studies,
    'app': 'Mendwright Desk', 'pages': 'Pages', 'claims': 'Claims', 'campaign': 'Campaign', 'failed': 'This page cannot go on: {detail}', 'unreachable': 'The server cannot be reached. Is there a connection?', 'again': 'Try again', 'loading': 'Looking…',
    // who
    'role-technician': 'technician', 'role-clerk': 'clerk', 'role-owner': 'owner', 'sign-out': 'Sign out', 'sign-in': 'Sign in', 'nobody': 'Nobody is signed in',
    'nobody-why': 'Come in by the one-time link that you were given, or by name and password once you have set one.',
    'nobody-again': 'The session of {name} has ended. What was open and half typed is kept here until {name} is back.', 'name': 'Name', 'password': 'Password', 'to-bench': 'The Bench',
    'own-shop': 'Claims of your own shop, {shop}. The pages for your work are on the Bench.',
    // verdicts: a word for the row; a sentence for the claim
    'pay': 'Pay', 'ask': 'Ask', 'hold': 'Hold', 'refuse': 'Refuse', 'unruled': 'Not ruled', 'all': 'All',
    'is-pay': 'To be paid', 'is-paid': 'Paid', 'is-ask': 'Something is missing', 'is-hold': 'A person must look at it', 'is-refuse': 'Not paid', 'is-unruled': 'Not ruled on yet',
    'due': '{money} to be paid; {paid} of it paid so far.', 'due-none': 'Nothing is to be paid as it stands; {paid} paid so far.', 'paid-all': '{money} paid.', 'over-person': 'By a person, over the rules.',
    'next-pay': 'Pay it out, or let the next settling do it.', 'next-ask': 'The shop sends what the findings ask for, and the claim is ruled again.', 'next-hold': 'Read the findings, then say what is to hold.',
    'next-refuse': 'The findings say why. A person may put their word over the rules.', 'next-unruled': 'The next ruling looks at it.', 'next-paid': 'Nothing is left to do.',
    // list
    'verdict': 'Verdict', 'claim': 'Claim', 'vin': 'VIN', 'shop': 'Shop', 'finished': 'Finished, UTC', 'amount': 'Awarded', 'paid': 'Paid', 'invented-mark': 'invented',
    'invented': 'Invented, for teaching and testing. Pay nothing by it.', 'invented-some': 'Claims marked as invented are for teaching and testing. Pay nothing by them.',
    'shown': '{n} claims, the newest first', 'shown-one': '1 claim', 'none': 'No claim', 'none-why': 'No claim fits what is asked for here.', 'older': 'Older claims', 'newest': 'From the newest on', 'from': 'Those taken in before {claim}.',
    'filter': 'Filter', 'filter-verdict': 'By verdict', 'filter-shop': 'Shop', 'filter-vin': 'VIN', 'filter-go': 'Show', 'filter-none': 'Show all claims', 'only-shop': 'Only this shop', 'only-vin': 'Only this unit',
    'help': 'Keys: {move} move, {open} open, {close} close, {keys} all keys',
    'filter-needs': 'Waits for', 'needs-person': 'A person', 'needs-payment': 'Payment', 'needs-shop': 'The shop', 'needs-ruling': 'The rules', 'needs-nothing': 'Nothing', 'clean': 'Payment, without findings', 'filter-rule': 'With a finding of', 'filter-rule-off': 'Any',
    'gravest': 'Gravest finding', 'many': 'Pay the {n} here that have no finding: {money}', 'many-sure': 'Pay {n} claims as they stand in this list?', 'many-yes': 'Pay them', 'leave': 'Leave it', 'half-kept': 'Left. What you typed stands there again when you begin anew, until this page is closed.', 'several': 'several currencies', 'many-done': '{n} paid.', 'many-left': '{n} not paid: somebody changed them meanwhile, or nothing was due.',
    // keys
    'keys': 'Keys', 'keys-why': 'They work while the list or a claim has the focus and nothing is being typed.', 'key-next': 'next claim', 'key-before': 'claim before', 'key-pay': 'pay', 'key-ask': 'ask the shop', 'key-hold': 'hold', 'key-refuse': 'refuse', 'key-note': 'note', 'key-take-back': 'take back one’s own last word',
    'key-photo': 'open the photo in question', 'key-letter': 'the letter to the shop', 'key-find': 'find by VIN', 'key-keys': 'this list', 'key-move': 'along the list', 'key-open': 'open the claim', 'key-close': 'close', 'in-photo': 'In a photo: larger, smaller, turn, next, before',
    // doing
    'acts': 'What is to be done', 'pay-out': 'Pay out {money}', 'pay-sure': 'Pay {money} to {shop}?', 'pay-yes': 'Pay it out', 'over-rules': 'A person’s word, over the rules', 'reason': 'Reason, on the record', 'rule-yes': '{verdict}, on the record', 'note': 'Note', 'note-text': 'Note, on the record', 'note-yes': 'Note it',
    'own-amount': 'Amount, {currency}', 'own-amount-help': 'Empty: what the rules worked out.', 'take-back': 'Take my word back', 'empty-reason': 'A word over the rules needs a reason.', 'empty-note': 'The note is empty.', 'odd-amount': 'That is no amount: digits and one point, such as 493.01.',
    'was-ruled': '{verdict}: on the record under your name.', 'was-paid-out': 'Paid out, on the record under your name.', 'was-noted': 'Noted.', 'was-taken-back': 'Your word is taken back; the rules’ ruling stands again.', 'no-own-word': 'No word of yours stands for this claim.',
    'quicker': 'Somebody was quicker; nothing of yours was written.', 'quicker-now': 'Now it stands: {verdict}, {money}. Your text is still here: look, then say it again or leave it.',
    'did-ruled': 'ruled by the rules', 'did-overruled': 'overruled', 'did-paid': 'paid', 'did-taken-back': 'took a word back', 'did-noted': 'noted',
    'owed-back': '{money} more was paid than stands: owed back.', 'letter': 'Letter to the shop:', 'letter-pdf': 'PDF, {language}', 'letter-text': 'text', 'language-en': 'English', 'language-es': 'Spanish', 'language-fr': 'French',
    // evidence
    'evidence': 'To be seen in', 'its-photo': 'the photo', 'its-reading': 'the reading', 'its-claim': 'claim {claim}', 'same-rule': 'All claims with this finding', 'this-photo': 'This claim’s photo', 'earlier-photo': 'Of claim {claim}', 'difference': 'The difference, in one light: white is the same', 'no-earlier': 'The earlier photo is not there any more.',
    'same-file': 'The same file, byte for byte.', 'differ': '{share} % of the picture differs by more than a tenth of full light.',
    'open-photo': 'Open {title}', 'bigger': 'Larger', 'smaller': 'Smaller', 'turn': 'Turn', 'photo-next': 'Next', 'photo-before': 'Before', 'the-file': 'The file', 'its-name': 'Name in the bag', 'size': 'size',
    // work
    'cut-and-timing': 'Cut and timing', 'rack': 'Rack', 'measured': 'Measured', 'needed': 'Needed', 'mark': 'Mark', 'offcut': 'Offcut', 'jumps': 'Teeth moved', 'from-end': 'from {end}', 'cut-line': '{needed} needed, marked at {mark} from {end}, of {stock}', 'moved-rack': '{name} by {n} teeth', 'moved-by': '{name} by {n} steps',
    'time-line': 'Time line', 'time-line-n': '{n} events, as the phone sent them', 'minutes': '{n} minutes of work', 'put-right': 'put right later', 'how-worked': 'Worked out from', 'judged': 'Judged', 'judged-by': 'By the limits, guard bands and instruments of revision {n}, as the rules judge.', 'is-inside': 'inside', 'is-outside': 'outside', 'is-uncertain': 'too near to tell',
    'chance': '{p} % likely inside its limits', 'taken-back': 'Word taken back', 'noted': 'Noted',
    // claim
    'close': 'Close', 'back': 'All claims', 'of-shop': '{shop}, {technician}', 'unknown': 'not told', 'findings': 'Findings', 'no-findings': 'None. Nothing is held against it.', 'findings-later': 'None yet: no rule has looked at it.', 'cure': 'Cure', 'intake': 'When it was taken in',
    'level-note': 'Note', 'level-ask': 'Ask', 'level-hold': 'Hold', 'level-refuse': 'Refuse', 'money': 'Money', 'no-money': 'No amount was worked out.', 'what': 'For', 'where': 'Where', 'whole-unit': 'whole unit', 'awarded': 'Amount',
    'line-labour': 'Labour', 'line-kit': 'Kit', 'line-parts': 'Parts', 'line-travel': 'Travel', 'line-consumables': 'Consumables', 'stands': 'To be paid as it stands', 'paid-far': 'Paid so far', 'minor': '{n} minor units',
    'stations': 'Stations', 'station': 'Station', 'label': 'Label', 'built': 'Built', 'scope': 'Scope', 'kit': 'Kit', 'in': 'in', 'out': 'out', 'scope-unknown': 'not known', 'variant': 'Variant',
    'readings': 'Readings', 'point': 'Point', 'before': 'Before', 'after': 'After', 'limits': 'Limits', 'no-readings': 'None was sent.', 'outside': 'outside its limits', 'inside': 'inside its limits', 'no-bulletin': 'The bulletin these were read by is not kept here, so points stand without names and limits.',
    'photos': 'Photos', 'no-photos': 'None was sent.', 'codes': 'reads', 'light': 'light', 'sharp': 'sharpness', 'taken': 'taken', 'not-judged': 'not judged', 'fault': 'Fault: {fault}', 'no-picture': 'This browser cannot show it. Open the file.',
    'history': 'History', 'ruled': 'Ruled by the rules', 'overruled': 'Overruled', 'was-paid': 'Paid', 'by': 'by {person}', 'revision': 'revision {n}', 'when': 'When, UTC', 'happened': 'What',
    'job': 'Job', 'opened': 'opened', 'job-finished': 'finished', 'came': 'taken in', 'signature': 'Signature', 'bulletin': 'Bulletin', 'sig-good': 'good', 'sig-none': 'none',
} as const;
export type Key = keyof typeof en;

export function t(key: Key, values: Record<string, string | number> = {}): string {
    return en[key].replace(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? `{${name}}`));
}

/** A word of the server's, in the catalogue's words where it has them; else as it came. */
export const word = (prefix: string, of: string): string => (prefix + of in en ? t((prefix + of) as Key) : of);
