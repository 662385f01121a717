// campaign_text: every word of the campaign's page, in English. {name} is filled in. The words are those of src/desk/campaign.h.
const en = {
    'unreachable': 'The server cannot be reached. Is there a connection?', 'again': 'Try again', 'looking': 'Looking…', 'failed': 'The campaign cannot be shown: {detail}',
    'title': 'Campaign', 'bulletins': 'Bulletins', 'revision': '{id}, revision {n}', 'issued': 'issued {day}', 'until': 'claims until {day}', 'invented': 'Invented, for teaching and testing. Pay nothing by it.',
    'live': 'Live: this page changes when something comes in.', 'not-live': 'Not live just now; trying again by itself.', 'as-of': 'As of entry {n} of the log.',
    // verdict
    'is-within': 'It closes within its reserve', 'is-over': 'It does not close within its reserve', 'is-open': 'It may not close within its reserve', 'is-unknown': 'What it will cost cannot be foreseen yet', 'is-untold': 'No reserve is told',
    'cost-between': 'It will have cost {low} to {high} once every unit that will come has come; {expected} is expected.', 'cost-unknown': 'That needs a build list, claims that came on several days, and one that pays.',
    'reserve-of': 'Reserve {minor}, told by {person} on {day}.', 'reserve-how': 'Tell it by:', 'mean-unit': 'A further unit is taken at {minor}, the mean of those that are paid. Intervals are 95 %.',
    'money-plot': 'Paid {paid}, promised {promised}, asked {asked} at most, held {held} at most', 'money-plot-reserve': 'reserve {reserve}', 'money-plot-cost': 'in the end {low} to {high}',
    // how far
    'far': 'How far', 'units': 'Units', 'stations': 'Stations', 'in-scope': 'In scope', 'reached': 'Reached', 'done': 'Done', 'proved': 'Proved', 'unknown': 'Label unreadable', 'beyond': 'Beyond scope',
    'in-scope-is': 'in a build window of the bulletin, by the build list', 'in-scope-seen': 'found in scope by a technician: there is no build list', 'reached-is': 'a claim for it was taken in', 'done-is': 'every station in scope was worked on, in a finished job that is not refused', 'proved-is': 'every station in scope stands as pay',
    'unknown-is': 'in the build list, but its label does not tell', 'beyond-is': 'a claim came for it, but it is not in scope',
    'forecast': '{further} more units will come ({low} to {high}): {share} of all ({share_low} to {share_high}). Half of those that ever come came within {half} days of the notice, nine in ten within {most}.', 'forecast-none': 'How many more will come cannot be foreseen: {why}.',
    'far-plot': '{n} of {all}',
    // money
    'money': 'Money', 'by-kind': 'By what it is for', 'by-shop': 'By shop', 'kind': 'For', 'paid': 'Paid', 'promised': 'Promised', 'owed-back': 'Owed back', 'asked': 'Asked, at most', 'held': 'Held, at most', 'refused': 'Refused by a person', 'stands': 'Stands as pay', 'all': 'All',
    'kind-labour': 'Labour', 'kind-kit': 'Kit', 'kind-parts': 'Parts', 'kind-travel': 'Travel', 'kind-consumables': 'Consumables', 'kind-other': 'Not told', 'further': 'Still to come',
    'claims': 'Claims', 'pay': 'Pay', 'ask': 'Ask', 'hold': 'Hold', 'refuse': 'Refuse', 'unruled': 'Not ruled', 'shop': 'Shop', 'no-shop': 'no shop named', 'all-shops': 'All {n} shops', 'first-shops': 'The {n} with most money', 'other-currency': '{n} claims were ruled in another currency and are in no sum.',
    // kits
    'kits': 'Kits', 'kit': 'Kit', 'used': 'Used', 'to-come': 'Still to come', 'enough': 'Enough at 95 %', 'left': 'Left', 'ordered': 'Ordered', 'lead': 'Lead, days', 'days': 'Runs out in, days', 'short': 'Order now', 'short-ordered': 'Chase the order', 'no-stock': 'not told', 'none-left': 'None left', 'days-of': '{days} ({low} to {high})', 'stock-how': 'What is on hand is not told. Tell it by:', 'on-hand': 'On hand', 'used-since': 'used since',
    'table-of': '{what}, table', 'no-kits': 'The bulletin has no kits.', 'days-plot': 'runs out in {low} to {high} days; a new order takes {lead}',
    // readings
    'readings': 'Final readings against their limits', 'point': 'Point', 'n': 'Readings', 'outside': 'Outside', 'mean': 'Mean', 'sd': 'Spread (sd)', 'ppk': 'Ppk', 'limits': 'Limits', 'ppk-of': '{ppk} ({low} to {high})', 'ppk-none': 'too few or all alike', 'ppk-is': 'Ppk: how many times three standard deviations fit between the mean and the nearer limit; below 1 some will lie outside.', 'no-readings': 'None was sent yet.', 'each-shop': 'Each shop at {point}',
    'strip': 'mean {mean}, two standard deviations either way {low} to {high}; limits {limits}',
    // looks
    'looks': 'Shops to look at', 'looks-none': 'No shop stands out in {n} tests.', 'looks-are': 'Out of {n} tests; of those named about one in twenty is named by chance. A reason to look, never a proof.', 'reason-findings': 'Findings', 'reason-digits': 'Digits', 'reason-copies': 'Same readings', 'chance': 'by chance alone {p}; among so many tests {q}', 'share-of': '{share} here, {others} elsewhere',
    // news
    'news': 'Since you last looked', 'news-none': 'Nothing came since you last looked, {when}.', 'news-first': 'You are here for the first time with this browser. Next time this tells what came meanwhile.', 'taken': 'claims taken in', 'was-ruled': 'Ruled', 'changed': 'changed', 'overruled': 'overruled by a person', 'payments': 'payments', 'of-money': 'paid out', 'papers': 'papers kept', 'since': 'Since {when} UTC',
    // first steps
    'first': 'First steps', 'first-why': 'No bulletin is kept in this store yet, so there is no campaign to show. In this order:', 'first-go-on': 'There is a bulletin. What a campaign needs besides:', 'step-done': 'done', 'step-bulletin': 'Issue a bulletin that was checked', 'step-shops': 'Tell the shops, their rates and keys', 'step-builds': 'Bring in the build list: vin, station, label', 'step-people': 'Let people in: technicians and clerks', 'step-then': 'Then technicians send their work, and this page fills by itself.', 'no-claims': 'No claim was taken in yet. Technicians send their work from the Bench; this page fills by itself.',
} as const;
export type Key = keyof typeof en;

export function c(key: Key, values: Record<string, string | number> = {}): string {
    return en[key].replace(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? `{${name}}`));
}
/** A sentence cut at its {names}: odd places are names, to be filled with what is no text. */
export const parts = (key: Key): string[] => en[key].split(/\{(\w+)\}/);
export const word = (key: string): string => (key in en ? c(key as Key) : key);
