// job: the frame of every screen of one job: where it stands, the list of all tasks, and which screen a task is.
import { ComponentChildren, JSX } from 'preact';
import { useEffect } from 'preact/hooks';
import { nextTask, stateOf, Task, tasksOf, waitsFor } from '../job/plan';
import type { OpenJob } from '../store/app';
import { Finish } from './finish';
import { History } from './history';
import { KitPage } from './kit';
import { LabelPage } from './label';
import { Frame, Tape, useTaskTitle, VerdictLine } from './parts';
import { Prepare } from './prepare';
import { StepPage } from './step';
import { go, jobPath, useApp, useRelay } from './context';
import { SharedLine, Together } from './together';

export interface TaskProps { open: OpenJob; task: Task; /** to the next open task of the job */ onward: () => void }

export function TaskList({ open, tasks, at }: { open: OpenJob; tasks: Task[]; at: string }): JSX.Element {
    const { t, stationName } = useApp();
    const title = useTaskTitle();
    const isShared = new Set(open.events.map((e) => e.technician)).size > 1;
    const by = (k: Task) => (isShared && k.done && k.kind === 'step' ? stateOf(open.job, k.station)?.holds.find((h) => h.key === k.step!.id)?.technician : undefined);
    const groups: { station: string | null; tasks: Task[] }[] = [];
    for (const k of tasks) {
        const last = groups[groups.length - 1];
        if (last !== undefined && last.station === k.station) last.tasks.push(k);
        else groups.push({ station: k.station, tasks: [k] });
    }
    return (
        <div class="tasks">
            {groups.map((g, i) => (
                <section key={i}>
                    <p class="group">{stationName(open.bulletin, g.station)}</p>
                    {g.tasks.map((k) => (
                        <a key={k.key} href={'#/' + jobPath(open, k.key)} aria-current={k.key === at ? 'step' : undefined}>
                            {k.done ? <svg class="mark" viewBox="0 0 18 18" role="img" aria-label={t('done')}><path d="M2 9l5 5L16 3" class="d-line" stroke-width="2.4" /></svg>
                                : <svg class="mark" viewBox="0 0 18 18" aria-hidden="true"><circle cx="9" cy="9" r="4" class="d-line" /></svg>}
                            <span>{title(open, k)}{by(k) !== undefined && <small> {'\u00b7'} {by(k)}</small>}</span>
                        </a>
                    ))}
                </section>
            ))}
        </div>
    );
}

interface JobFrameProps { open: OpenJob; task: Task | null; children: ComponentChildren; foot?: ComponentChildren; title: string; back?: string; /** without the line that says with whom it is shared */ isAlone?: boolean }

/** Above the sheet: what this belongs to and how far the job is; beside it, on a desk, the list of all tasks. */
export function JobFrame(p: JobFrameProps): JSX.Element {
    const { app, t, say, stationName } = useApp();
    const title = useTaskTitle();
    const { bulletin: b, record, job } = p.open, tasks = tasksOf(b, job, app.acks(record.id)), at = p.task === null ? -1 : tasks.findIndex((k) => k.key === p.task!.key);
    const where = p.task === null ? <b>{record.vin}</b> : (
        <><b>{p.task.kind === 'step' ? title(p.open, p.task) : say(b, b.bulletin.title)}</b>{p.task.kind === 'step' ? `${stationName(b, p.task.station)} \u00b7 ` : ''}{t('of', { n: at + 1, m: tasks.length })}</>
    );
    return (
        <Frame title={p.title} where={where} back={p.back ?? ''} list={jobPath(p.open, 'all')} invented={record.invented} foot={p.foot}
            tape={at >= 0 ? <Tape tasks={tasks} at={at} /> : undefined} aside={<TaskList open={p.open} tasks={tasks} at={p.task?.key ?? ''} />}>
            {p.isAlone !== true && <SharedLine open={p.open} />}
            {p.children}
        </Frame>
    );
}

export function AllTasks({ open }: { open: OpenJob }): JSX.Element {
    const { app, t } = useApp(), relay = useRelay();
    const tasks = tasksOf(open.bulletin, open.job, app.acks(open.record.id)), next = nextTask(tasks);
    return (
        <JobFrame open={open} task={null} title={t('task-list')} back={jobPath(open)} foot={next === null ? undefined : <a class="act" href={'#/' + jobPath(open, next.key)}>{t('go-on')}</a>}>
            <h1>{t('task-list')}</h1>
            <p class="small">{open.bulletin.bulletin.id} {'\u00b7'} {open.record.vin}</p>
            <div class="pair"><a class="second" href={'#/' + jobPath(open, 'finish')}>{t('proof')}</a><a class="second" href={'#/' + jobPath(open, 'history')}>{t('history')}</a></div>
            {relay !== null && <p style={{ marginTop: '8px' }}><a class="second" data-act="together" href={'#/' + jobPath(open, 'together')}>{t('together')}</a></p>}
            <TaskList open={open} tasks={tasks} at="" />
            <p><a class="plain-button" href="#/settings">{t('settings')}</a></p>
        </JobFrame>
    );
}

/** A task that an earlier one holds back: which, and the way to it. */
function Waiting({ open, task, first }: { open: OpenJob; task: Task; first: Task }): JSX.Element {
    const { t, stationName } = useApp(), title = useTaskTitle();
    return (
        <JobFrame open={open} task={task} title={t('not-yet')} foot={<a class="act" data-act="go-there" href={'#/' + jobPath(open, first.key)}>{t('go-there')}</a>}>
            <VerdictLine shape="stop" word={t('not-yet')}>
                <p>{t('not-yet-why')}</p>
                <p><b>{title(open, first)}</b><br /><small>{stationName(open.bulletin, first.station)}</small></p>
            </VerdictLine>
        </JobFrame>
    );
}

export function JobPage({ open, rest }: { open: OpenJob; rest: string }): JSX.Element | null {
    const { app } = useApp();
    const tasks = tasksOf(open.bulletin, open.job, app.acks(open.record.id));
    const next = nextTask(tasks) ?? tasks[tasks.length - 1]!;
    const task = tasks.find((k) => k.key === rest) ?? null;
    const known = rest === 'all' || rest === 'history' || rest === 'together' || rest === 'finish' || task !== null;
    useEffect(() => { if (!known) location.replace(`#/${jobPath(open, next.key)}`); }, [known, next.key]);
    if (rest === 'all') return <AllTasks open={open} />;
    if (rest === 'history') return <History open={open} />;
    if (rest === 'together') return <Together open={open} />;
    if (rest === 'finish') return <Finish open={open} task={task} />;
    if (task === null) return null;
    const onward = () => {
        const now = app.find(open.record.id)!, list = tasksOf(now.bulletin, now.job, app.acks(open.record.id)), after = list.slice(list.findIndex((k) => k.key === task.key) + 1);
        go(jobPath(open, (after.find((k) => !k.done) ?? nextTask(list) ?? list[list.length - 1]!).key));
    };
    const first = waitsFor(tasks, task);
    if (first !== null) return <Waiting key={task.key} open={open} task={task} first={first} />;
    const props: TaskProps = { open, task, onward };
    switch (task.kind) {
        case 'label': return <LabelPage key={task.key} {...props} />;
        case 'prepare': return <Prepare key={task.key} {...props} />;
        case 'kit': return <KitPage key={task.key} {...props} />;
        case 'step': return <StepPage key={task.key} {...props} />;
        case 'finish': return <Finish open={open} task={task} />;
    }
}
