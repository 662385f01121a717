// list: the sets of exercises, a unit drawn by seed, and the results kept on this phone.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { Act, Frame, Title } from '../view/parts';
import { go } from '../view/context';
import { saveResults } from './debrief';
import { ExerciseSet, FREE, isFinished, textIn } from './game';
import { usePractice, useSchool } from './use';

function SetRows({ set }: { set: ExerciseSet }): JSX.Element {
    const { p, language } = usePractice(), school = useSchool(), own = set.language;
    return (
        <section data-set={set.set}>
            <h2>{textIn(set.title, language, own)}</h2>
            <p class="small">{textIn(set.about, language, own)}{set.isExam && <> <b>{p('exam')}</b></>}</p>
            <div class="rows">
                {set.exercises.map((e) => {
                    const game = school.games.get(`${set.set}/${e.id}`), done = school.results.filter((r) => r.result.set === set.set && r.result.exercise === e.id), last = done[done.length - 1];
                    const state = game !== undefined && !isFinished(game) ? p('under-way') : last === undefined ? '' : p(last.inside ? 'done-good' : 'done-not');
                    return <a class="row" key={e.id} href={`#/practice/${set.set}/${e.id}`} data-exercise={e.id}><span><b>{textIn(e.title, language, own)}</b><br /><small>{p(`level-${e.level}`)}{e.limits !== null && ` \u00b7 ${p('within', { min: e.limits.minutes, moves: e.limits.moves, n: e.limits.moves })}`}</small></span><small>{state}</small></a>;
                })}
            </div>
        </section>
    );
}

function Free(): JSX.Element {
    const { p } = usePractice(), [seed, setSeed] = useState(() => String(1 + Math.floor(Math.random() * 9999))), [spread, setSpread] = useState(100), isGood = /^\d{1,9}$/.test(seed);
    return (
        <section>
            <h2>{p('free-title')}</h2>
            <p class="small">{p('free-about')}</p>
            <label class="field"><span>{p('seed')}</span><span class={`entry${isGood ? '' : ' bad'}`}><input type="text" inputMode="numeric" autocomplete="off" maxLength={9} data-field="seed" value={seed} onInput={(e) => setSeed(e.currentTarget.value.trim())} /></span></label>
            <div class="choices" role="group" aria-label={p('spread')}>{([50, 100, 150] as const).map((n) => <button type="button" key={n} data-spread={n} aria-pressed={n === spread} onClick={() => setSpread(n)}>{p(`spread-${n}`)}</button>)}</div>
            <button type="button" class="second" data-act="draw" aria-disabled={isGood ? undefined : 'true'} onClick={() => { if (isGood) go(`practice/${FREE}/${Number(seed)}-${spread}`); }}>{p('draw-unit')}</button>
        </section>
    );
}

export function List(): JSX.Element {
    const { p } = usePractice(), school = useSchool(), open = [...school.games.values()].filter((g) => !isFinished(g)).sort((a, b) => (a.began < b.began ? 1 : -1))[0];
    return (
        <Frame title={p('practice')} back="" where={<b>{p('practice')}</b>} invented foot={open === undefined ? undefined : <Act id="resume" onClick={() => go(`practice/${open.key}`)}>{p('resume')}</Act>}>
            <Title>{p('practice')}</Title>
            <p>{p('practice-why')}</p>
            <p class="small"><b>{p('no-substitute')}</b></p>
            {school.trouble !== '' && <p class="stop-text" role="alert">{p('not-kept')} {school.trouble}</p>}
            {school.sets.map((s) => <SetRows key={s.set + s.sha256} set={s} />)}
            {school.sets.length === 0 && <p>{p('no-sets')}</p>}
            <Free />
            {school.results.length > 0 && <p><a class="second" data-act="results" href="#/practice/results">{p('results', { n: school.results.length })}</a></p>}
        </Frame>
    );
}

export function ResultsPage(): JSX.Element {
    const { p, language } = usePractice(), school = useSchool(), list = [...school.results].reverse(), own = school.results.filter((r) => r.result.set !== FREE);
    return (
        <Frame title={p('results-title')} back="practice" where={<b>{p('practice')}</b>} foot={own.length === 0 ? undefined : <Act id="save-results" onClick={() => saveResults(own)}>{p('save-results')}</Act>}>
            <Title>{p('results-title')}</Title>
            <div class="rows">{list.map((r) => <div class="row" key={r.id} data-result-row={r.id}><span><b>{textIn(r.title, language) || `${p('free-unit')} ${r.result.exercise}`}</b><br /><small>{r.result.ended.slice(0, 10)} {'\u00b7'} {p(r.result.mode === 'exam' ? 'exam' : 'practised')} {'\u00b7'} {p(`s-${r.state}`, { detail: r.detail })}</small></span><span class={r.inside ? '' : 'stop-text'}>{p(r.inside ? 'done-good' : 'done-not')}</span></div>)}</div>
        </Frame>
    );
}
