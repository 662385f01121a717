// text_practice: the words of the page on practice.
export const practice = {
    'practice': 'Practice',
    'prc-none': 'Nobody has handed in a result yet. Results come from the practice pages on the Bench, once somebody is signed in there.',
    'prc-said': '{n} results of {people} people.', 'prc-said-one': '1 result.', 'prc-needs': 'Most in need of help: {person}, {passed} of {tried} exercises passed.', 'prc-hardest': 'Hardest: “{title}”, passed by {passed} of {people}.', 'prc-all-good': 'Everybody has passed what they tried.',
    'prc-why': 'Of each exercise a person’s latest attempt counts. The server has played every result again; what is shown is its own account.',
    // people
    'prc-people': 'Who needs help', 'prc-person': 'Person', 'prc-passed': 'Passed', 'prc-of': '{n} of {all}', 'prc-exams': 'Exams', 'prc-hints': 'Hints', 'prc-cautions': 'Cautions skipped', 'prc-answers': 'Questions right', 'prc-last': 'Last, UTC', 'prc-results': 'Results',
    // exercises
    'prc-exercises': 'Which exercise is hard', 'prc-exercise': 'Exercise', 'prc-level': 'Level', 'prc-level-easy': 'easy', 'prc-level-medium': 'medium', 'prc-level-hard': 'hard', 'prc-minutes': 'Minutes, mean', 'prc-took': 'Minutes', 'prc-limit': 'of {n}', 'prc-moves': 'Moves, mean', 'prc-gone': 'a set that is no longer here',
    // questions
    'prc-questions': 'Which question is hard', 'prc-question': 'Question', 'prc-right': 'Right', 'prc-no-questions': 'No question was answered yet.',
    // readings
    'prc-disagree': 'Where readings disagree', 'prc-disagree-why': 'The same gap of the same exercise, as people read it first and before anything was moved. On a simulated unit a wide spread means another tape, or another eye; it says nothing of hands.', 'prc-no-disagree': 'No gap was read by two people before something was moved.',
    'prc-point': 'Gap', 'prc-mean': 'Mean', 'prc-spread': 'Spread (sd)', 'prc-range': 'Furthest apart', 'prc-low': 'Lowest', 'prc-high': 'Highest',
    'prc-side-fore': 'fore', 'prc-side-aft': 'aft', 'prc-height-upper': 'upper', 'prc-height-lower': 'lower', 'prc-travel-in': 'room in', 'prc-travel-out': 'room out', 'prc-more': '{n} more are not shown.',
    // gauge
    'prc-gauge': 'Gauge study', 'prc-gauge-none': 'For a study of what was practised, at least two people read all eight gaps of one exercise twice before they move anything.', 'prc-gauge-of': 'Of “{title}”: {people} people, {parts} gaps, {repeats} readings each.', 'prc-gauge-class': 'Of the class measurement: {people} people, {parts} parts, {repeats} readings each.',
    'prc-gauge-good': 'Measuring takes {share} of the spread: good enough.', 'prc-gauge-care': 'Measuring takes {share} of the spread: usable with care.', 'prc-gauge-bad': 'Measuring takes {share} of the spread: too much. Mend how it is measured first.', 'prc-gauge-rule': 'Below 10 % good, above 30 % not fit: common practice.',
    'prc-repeat': 'One person, again', 'prc-between': 'Between people', 'prc-together': 'Both together', 'prc-parts': 'The gaps themselves', 'prc-sd': 'Spread (sd)',
    'prc-csv': 'A real class measurement', 'prc-csv-why': 'A CSV file with the columns part, operator, value (mm): each part measured by each person equally often, twice at least.', 'prc-csv-go': 'Work it out', 'prc-file': 'File',
    // sets
    'prc-sets': 'Sets of exercises', 'prc-set': 'Set', 'prc-count': 'Exercises', 'prc-from': 'From', 'prc-builtin': 'comes with the program', 'prc-by': '{by}, {when}', 'prc-exam': 'exam', 'prc-withdraw': 'Withdraw', 'prc-withdraw-sure': 'Withdraw {set}? Results stay.', 'prc-was-withdrawn': '{set} is withdrawn. Its results stay.',
    'prc-share': 'Share a set of your own', 'prc-share-why': 'A YAML file as doc/practice.md describes it. Each exercise is done once by the plain good procedure before it is taken, and must not be solved by doing nothing.', 'prc-text': 'The set’s file', 'prc-check': 'Check', 'prc-share-go': 'Share it', 'prc-valid': 'Valid: {set}, {n} exercises.', 'prc-fault-one': '1 fault. Nothing was shared.', 'prc-faults': '{n} faults. Nothing was shared.', 'prc-warnings': 'Odd, but may be meant:', 'prc-at': 'Line {line}, column {column}', 'prc-was-shared': '{set} is shared: phones have it when they next ask.',
    'prc-exam-why': 'An exam’s faults are told only to whoever has begun it. From then on the phone holds them.',
    // the newest
    'prc-newest': 'The newest results', 'prc-mode': 'How', 'prc-mode-exam': 'exam', 'prc-mode-practice': 'practice', 'prc-yes': 'passed', 'prc-no': 'not passed', 'prc-when': 'Came, UTC',
} as const;
