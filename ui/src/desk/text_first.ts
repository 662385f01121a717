// text_first: the words of the first day: what each page is for, and how to begin there; and of the rules' turn.
export const first = {
    'not-yours': 'The page “{page}” is for: {roles}. Here are the claims.',
    'tour': 'Your first day', 'tour-done': 'Read; do not show this again',
    'tour-claims': 'Claims: what shops sent in and what the rules say of it. Begin with those that wait for a person. The keys work everything here; press ? to see them.',
    'tour-claims-own': 'Claims of your own shop: what was sent in, what the rules say, what was paid. Open one to read what is missing and how to cure it.',
    'tour-campaign': 'The campaign at one look: whether it will close within its money, how far it is, which kits run out. Every figure that is a link opens the claims it is made of.',
    'tour-bulletins': 'Bulletins: the file from which everything else is worked out. Write a draft, mend its faults, look at what would follow, then issue it. What is issued stands for good; a higher revision follows it.',
    // the rules' turn
    'rule-now': 'Rule on the {n} that wait for the rules', 'rule-now-one': 'Rule on the one that waits for the rules', 'rule-run': 'Ruling: {what} {done} of {all}', 'rule-done': '{n} ruled on: {pay} to pay, {ask} to ask, {hold} to look at, {refuse} refused.', 'rule-left': '{n} could not be ruled on: their bulletin is not kept here, or their events cannot be read.',
    // what may stand at the cursor
    'ref': 'What stands at the cursor', 'ref-none': 'The key under the cursor is none that a bulletin has.', 'ref-begin': 'Go to a key, and this line says what it is.', 'ref-needed': 'needed', 'ref-example': 'for example', 
} as const;
