// text: every word of the Desk's pages, in English. {name} is filled in. What findings and bulletins say comes from the server.
export const en = {
    'app': 'Mendwright Desk', 'pages': 'Pages', 'claims': 'Claims', 'campaign': 'Campaign', 'failed': 'This page cannot go on: {detail}', 'unreachable': 'The server cannot be reached. Is there a connection?', 'again': 'Try again', 'loading': 'Looking…',
    // who
    'role-technician': 'technician', 'role-clerk': 'clerk', 'role-owner': 'owner', 'sign-out': 'Sign out', 'sign-in': 'Sign in', 'nobody': 'Nobody is signed in',
    'nobody-why': 'Come in by the one-time link that you were given, or by name and password once you have set one.', 'name': 'Name', 'password': 'Password', 'to-bench': 'The Bench',
    'own-shop': 'Claims of your own shop, {shop}. The pages for your work are on the Bench.',
    // verdicts: a word for the row; a sentence for the claim
    'pay': 'Pay', 'ask': 'Ask', 'hold': 'Hold', 'refuse': 'Refuse', 'unruled': 'Not ruled', 'all': 'All',
    'is-pay': 'To be paid', 'is-paid': 'Paid', 'is-ask': 'Something is missing', 'is-hold': 'A person must look at it', 'is-refuse': 'Not paid', 'is-unruled': 'Not ruled on yet',
    'due': '{money} to be paid; {paid} of it paid so far.', 'due-none': 'Nothing is to be paid as it stands; {paid} paid so far.', 'paid-all': '{money} paid.', 'over-person': 'By a person, over the rules.',
    'next-pay': 'It is paid by the next settling.', 'next-ask': 'The shop sends what the findings ask for, and the claim is ruled again.', 'next-hold': 'Read the findings, then put a person’s word on it.',
    'next-refuse': 'The findings say why. A person may put their word over the rules.', 'next-unruled': 'The next ruling looks at it.', 'next-paid': 'Nothing is left to do.',
    'read-only': 'Nothing can be changed on these pages yet. Rule where the store is:',
    // list
    'verdict': 'Verdict', 'claim': 'Claim', 'vin': 'VIN', 'shop': 'Shop', 'finished': 'Finished, UTC', 'amount': 'Awarded', 'paid': 'Paid', 'invented-mark': 'invented',
    'invented': 'Invented, for teaching and testing. Pay nothing by it.', 'invented-some': 'Claims marked as invented are for teaching and testing. Pay nothing by them.',
    'shown': '{n} claims, the newest first', 'shown-one': '1 claim', 'looked': '{n} of the {m} claims looked through, the newest first', 'none': 'No claim', 'none-why': 'No claim fits what is asked for here.', 'older': 'Older claims', 'newest': 'From the newest on', 'from': 'Those taken in before {claim}.',
    'filter': 'Filter', 'filter-verdict': 'By verdict', 'filter-shop': 'Shop', 'filter-vin': 'VIN', 'filter-go': 'Show', 'filter-none': 'Show all claims', 'only-shop': 'Only this shop', 'only-vin': 'Only this unit',
    'help': 'Keys: {move} move, {open} open, {close} close, {find} find by VIN', 'help-next': 'with a claim open, {move} go to the next one',
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
