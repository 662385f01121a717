// practice: the practice pages' door: which screen by the address, and the school they all share. Loaded when somebody comes here, not before.
// #/practice, #/practice/SET/EXERCISE, #/practice/free/SEED-SPREAD, #/practice/results
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import './practice.css';
import { Frame, Title } from '../view/parts';
import { useSender } from '../view/context';
import { Debrief, Questions } from './debrief';
import { drawnUnit, FREE, isFinished } from './game';
import { List, ResultsPage } from './list';
import { Intro, Play } from './play';
import { School } from './school';
import { SchoolContext, usePractice, useSchool } from './use';

let opened: Promise<School> | null = null;

export function Practice({ rest }: { rest: readonly string[] }): JSX.Element {
    const tools = usePractice(), { app, p } = tools, [school, setSchool] = useState<School | null>(null), [failed, setFailed] = useState(''), sender = useSender();
    useEffect(() => {
        opened ??= School.open(app.core, new URL('./', document.baseURI).href);
        opened.then(setSchool, (e: unknown) => { opened = null; setFailed(String(e)); });
    }, []);
    useEffect(() => { void school?.hear(sender?.session ?? null); }, [school, sender?.session]);
    if (school === null) return <Frame title={p('practice')} back="" where={<b>{p('practice')}</b>}>{failed === '' ? null : <><Title>{p('not-opened')}</Title><p class="small">{failed}</p></>}</Frame>;
    return <SchoolContext.Provider value={school}><Route rest={rest} /></SchoolContext.Provider>;
}

function Route({ rest }: { rest: readonly string[] }): JSX.Element {
    const school = useSchool(), { p } = usePractice(), [set = '', id = ''] = rest;
    if (set === '') return <List />;
    if (set === 'results') return <ResultsPage />;
    const found = school.find(set, id), game = school.games.get(`${set}/${id}`), props = { set: found.set, exercise: found.exercise };
    if (game === undefined) {
        if (found.exercise === null && (set !== FREE || drawnUnit(id) === null)) return <Frame title={p('practice')} back="practice" where={<b>{p('practice')}</b>}><Title>{p('no-exercise')}</Title></Frame>;
        return <Intro key={id} name={set} id={id} {...props} />;
    }
    if (!isFinished(game)) return <Play key={game.key} game={game} {...props} />;
    const asked = found.exercise?.questions ?? [], isRecorded = school.results.some((r) => r.id === `${game.key}@${game.began}`);
    return isRecorded || asked.length === 0 ? <Debrief key="debrief" game={game} {...props} /> : <Questions key="questions" game={game} {...props} />;
}
