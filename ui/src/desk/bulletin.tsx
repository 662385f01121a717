// bulletin: the owner's pages on bulletins: the drafts, and one draft with its text, its faults, what is different, what would follow, and how
// it is issued. What is typed is in this browser at once and in the store a moment later; of two who write at once the later one is asked.
import { Fragment, JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Session } from './api';
import { Trouble } from './api';
import * as calls from './draft';
import type { Editor } from './editor';
import { Panels } from './bulletin_panels';
import { moment } from './show';
import { Key, t } from './text';

export interface BulletinProps { who: Session; nobody: () => void }
const NAME = /^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$/, CHECK_MS = 500, SAVE_MS = 1200, RETRY_MS = 5000;

const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));
const chosen = (): string => new URLSearchParams(location.hash.split('?')[1] ?? '').get('draft') ?? '';
const link = (name: string): string => `#/bulletins?draft=${encodeURIComponent(name)}`;

export function BulletinPage({ who, nobody }: BulletinProps): JSX.Element {
    const name = chosen();
    return NAME.test(name) ? <Draft key={name} name={name} who={who} nobody={nobody} /> : <Drafts who={who} nobody={nobody} />;
}

// ---- the drafts ----

type Seen = { drafts: calls.Kept[]; held: { id: string; revision: number }[] };

function Drafts({ who, nobody }: BulletinProps): JSX.Element {
    const [seen, set] = useState<Seen | null>(null), [why, say] = useState(''), [name, setName] = useState('');
    const fail = (e: unknown) => { if (e instanceof Trouble && e.status === 401) nobody(); else say(words(e)); };
    useEffect(() => void Promise.all([calls.list(who), calls.held(who)]).then(([drafts, held]) => set({ drafts, held }), fail), [who.csrf]);
    const newest = seen === null ? [] : [...new Map(seen.held.map((b) => [b.id, b])).values()].map((b) => seen.held.filter((x) => x.id === b.id).reduce((a, x) => (x.revision > a.revision ? x : a)));
    const begin = async (from: { id: string; revision: number } | null) => {
        const to = name !== '' ? name : from === null ? 'draft' : `${from.id}-${from.revision + 1}`;
        try {
            const text = from === null ? 'bulletin:\n  id: \n  revision: 1\n' : await calls.file(who, from.id, from.revision);
            await calls.save(who, to, text, '');
            location.hash = link(to);
        } catch (e) {
            fail(e);
        }
    };
    const isName = name === '' || NAME.test(name);
    return (
        <div class="bulletins">
            <h1>{t('bul')}</h1>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            {seen === null ? <p class="small">{t('loading')}</p> : (
                <div class="halves">
                    <section>
                        <h2>{t('bul-drafts')}</h2>
                        {seen.drafts.length === 0 ? <p>{t('bul-none')}</p> : (
                            <table class="sheet">
                                <thead><tr><th scope="col">{t('bul-draft')}</th><th scope="col" class="right">{t('bul-size', { n: '' }).trim()}</th><th scope="col" class="right">{t('bul-changed')}</th></tr></thead>
                                <tbody>{seen.drafts.map((d) => <tr key={d.name}><th scope="row"><a href={link(d.name)}>{d.name}</a></th><td class="right">{Math.ceil(d.bytes / 1024)}</td><td class="right nowrap">{moment(d.changed_ms)}</td></tr>)}</tbody>
                            </table>
                        )}
                        <h2 class="later">{t('bul-issued')}</h2>
                        {seen.held.length === 0 ? <p>{t('bul-issued-none')}</p> : <ul class="plain">{newest.map((b) => <li key={b.id}><b>{b.id}</b>, {t('revision', { n: b.revision })}<Teach {...b} /></li>)}</ul>}
                    </section>
                    <section>
                        <h2>{t('bul-begin')}</h2>
                        <label class="stacked">{t('bul-name')}<input value={name} maxLength={60} aria-invalid={!isName} aria-describedby="bul-name-why" onInput={(e) => setName(e.currentTarget.value.trim())} /></label>
                        <p id="bul-name-why" class={isName ? 'small' : 'stop-text'}>{t('bul-name-why')}</p>
                        <p class="row-of">
                            {newest.map((b) => <button type="button" key={b.id} disabled={!isName} data-begin={b.id} onClick={() => void begin(b)}>{t('bul-from', b)}</button>)}
                            <button type="button" disabled={!isName} data-begin="" onClick={() => void begin(null)}>{t('bul-empty')}</button>
                        </p>
                    </section>
                </div>
            )}
        </div>
    );
}

/** The paper to teach by, in our languages; a text that the bulletin does not have in one is marked there. */
function Teach({ id, revision }: { id: string; revision: number }): JSX.Element {
    return (
        <div class="teach" data-teach={id}>
            {(['cards', 'crib'] as const).map((kind) => (
                <p key={kind} class="small">{t(kind === 'cards' ? 'bul-cards' : 'bul-crib')} {(['en', 'es', 'fr'] as const).map((l) => (
                    <Fragment key={l}><a href={calls.teachAt(id, revision, kind, l)} target="_blank" rel="noopener" data-paper={`${kind}-${l}`} aria-label={`${t(kind === 'cards' ? 'bul-cards' : 'bul-crib')} ${id}, ${t(`language-${l}` as Key)}`}>{t(`language-${l}` as Key)}</a> </Fragment>
                ))}</p>
            ))}
        </div>
    );
}

// ---- one draft ----

/** What was typed and not yet kept, in this browser: it survives a closed window. */
const own = {
    key: (name: string): string => `mendwright-draft/${name}`,
    get(name: string): string | null { try { return localStorage.getItem(own.key(name)); } catch { return null; } },
    set(name: string, text: string | null): void {
        try {
            if (text === null) localStorage.removeItem(own.key(name)); else localStorage.setItem(own.key(name), text);
        } catch { /* no room, or not allowed: the store still gets it */ }
    },
};

type State = { is: 'kept' } | { is: 'typed' } | { is: 'failed'; why: string } | { is: 'overtaken' };

/** Keeps the draft: one call at a time, always the newest text, again after a failure. */
class Keeper {
    private timer = 0;
    private busy = false;
    private ended = false;

    constructor(private readonly who: Session, private readonly name: string, public tag: string, private readonly text: () => string, private readonly tell: (s: State) => void) {}

    typed(): void {
        own.set(this.name, this.text());
        this.tell({ is: 'typed' });
        this.soon(SAVE_MS);
    }
    private soon(ms: number): void {
        clearTimeout(this.timer);
        if (!this.ended) this.timer = window.setTimeout(() => void this.keep(), ms);
    }
    async keep(): Promise<void> {
        if (this.busy) return this.soon(SAVE_MS);
        this.busy = true;
        const text = this.text();
        try {
            this.tag = await calls.save(this.who, this.name, text, this.tag);
            if (this.text() === text) { own.set(this.name, null); this.tell({ is: 'kept' }); } else this.soon(SAVE_MS);
        } catch (e) {
            if (e instanceof calls.Overtaken) this.tell({ is: 'overtaken' });
            else { this.tell({ is: 'failed', why: words(e) }); this.soon(RETRY_MS); }
        } finally {
            this.busy = false;
        }
    }
    end(): void { this.ended = true; clearTimeout(this.timer); }
}

function Status({ state, theirs, mine }: { state: State; theirs: () => void; mine: () => void }): JSX.Element {
    if (state.is === 'overtaken') {
        return (
            <div class="overtaken" role="alert">
                <p>{t('bul-overtaken')}</p>
                <p class="row-of"><button type="button" data-act="theirs" onClick={theirs}>{t('bul-theirs')}</button><button type="button" data-act="mine" onClick={mine}>{t('bul-mine')}</button></p>
            </div>
        );
    }
    return <p class={`small kept${state.is === 'failed' ? ' stop-text' : ''}`} role="status" data-kept={state.is}>{state.is === 'kept' ? t('bul-kept') : state.is === 'typed' ? t('bul-keeping') : t('bul-failed', { detail: state.why })}</p>;
}

function Drop({ drop }: { drop: () => void }): JSX.Element {
    const [sure, ask] = useState(false);
    return sure ? <button type="button" class="stop-text" data-act="drop-sure" onClick={drop} onBlur={() => ask(false)}>{t('bul-drop-sure')}</button> : <button type="button" data-act="drop" onClick={() => ask(true)}>{t('bul-drop')}</button>;
}

/** One line for the key at the cursor; of one inside a text or a mapping of a person's own words, the key that holds it. */
function AtCursor({ path, fields }: { path: string; fields: readonly calls.FieldOf[] }): JSX.Element {
    const parts = path.split('.'), known = (p: string) => fields.find((f) => f.path === p || f.path === `${p}[]`);
    let found = known(path);
    const isOwn = found !== undefined;
    while (found === undefined && parts.length > 1) { parts.pop(); found = known(parts.join('.')) ?? known(parts.join('.').replace(/\[\]$/, '')); }
    // "mapping of ids to ids" has keys of the writer's own; a plain one has those of the reference alone.
    const isStray = !isOwn && (found === undefined || /^(mapping|list of mappings)(,|$)/.test(found.kind));
    return (
        <p class="at-cursor small" aria-label={t('ref')} role="note" data-ref={found?.path ?? ''}>
            {path === '' ? t('ref-begin') : isStray || found === undefined ? t('ref-none')
                : <><code>{found.path}</code>{found.needed && `, ${t('ref-needed')}`}. {found.what}. {found.kind}{found.example !== null && <>, {t('ref-example')} <code>{found.example}</code></>}</>}
        </p>
    );
}

/** The editor's own life: made once when the text is here. */
interface Desk { editor: Editor; keeper: Keeper }

function Draft({ name, who, nobody }: BulletinProps & { name: string }): JSX.Element {
    const at = useRef<HTMLDivElement>(null), desk = useRef<Desk | null>(null), timer = useRef(0), [why, fail] = useState('');
    const [openedBy, opened] = useState(''); // the session by which the text came; '' while it is not here
    const [at_, setAt] = useState({ path: '', item: -1 }), [fields, setFields] = useState<readonly calls.FieldOf[]>([]);
    const [state, setState] = useState<State>({ is: 'kept' }), [check, setCheck] = useState<calls.Check | null>(null), [looked, setLooked] = useState(''), [recovered, setRecovered] = useState<string | null>(null);
    const trouble = (e: unknown) => { if (e instanceof Trouble && e.status === 401) nobody(); else fail(words(e)); };
    const look = async () => {
        const text = desk.current!.editor.text();
        try {
            const told = await calls.check(who, text);
            if (desk.current === null || desk.current.editor.text() !== text) return;
            desk.current.editor.show(told.faults, told.warnings);
            setCheck(told);
            setLooked(text);
            fail('');
        } catch (e) {
            trouble(e);
        }
    };
    const typed = () => {
        desk.current?.keeper.typed();
        clearTimeout(timer.current);
        timer.current = window.setTimeout(() => void look(), CHECK_MS);
    };
    useEffect(() => {
        let isOver = false;
        const begin = async () => {
            const [{ edit }, kept] = await Promise.all([import('./editor'), calls.open(who, name)]), left = own.get(name);
            if (isOver || at.current === null) return;
            const editor = edit(at.current, kept.text, t('bul-text'), typed, (path, item) => setAt((was) => (was.path === path && was.item === item ? was : { path, item })));
            desk.current = { editor, keeper: new Keeper(who, name, kept.tag, () => editor.text(), setState) };
            opened(who.csrf ?? '');
            if (left !== null && left !== kept.text) setRecovered(left);
            void look();
        };
        begin().catch(trouble);
        calls.reference(who).then((all) => { if (!isOver) setFields(all); }, trouble);
        const leave = (e: BeforeUnloadEvent) => { if (own.get(name) !== null) e.preventDefault(); };
        addEventListener('beforeunload', leave);
        return () => {
            isOver = true;
            removeEventListener('beforeunload', leave);
            clearTimeout(timer.current);
            const open = desk.current;
            desk.current = null;
            if (open === null) return;
            open.keeper.end();
            if (own.get(name) !== null) void open.keeper.keep();
            open.editor.end();
        };
    }, [openedBy === '' ? who.csrf : openedBy]);
    const theirs = async () => {
        const d = desk.current!, kept = await calls.open(who, name);
        setRecovered(d.editor.text());
        d.keeper.tag = kept.tag;
        d.editor.setText(kept.text);
        setState({ is: 'kept' });
        void look();
    };
    const mine = async () => {
        const d = desk.current!;
        d.keeper.tag = (await calls.open(who, name)).tag;
        void d.keeper.keep();
    };
    const goOn = () => {
        desk.current!.editor.setText(recovered!);
        setRecovered(null);
        typed();
    };
    const drop = () => void calls.drop(who, name, desk.current?.keeper.tag ?? '').then(() => { own.set(name, null); location.hash = '#/bulletins'; }, trouble);
    return (
        <div class="draft">
            <p class="claim-head"><a href="#/bulletins">{t('bul-all')}</a><Drop drop={drop} /></p>
            <h1>{name}</h1>
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            {recovered !== null && <div class="overtaken" role="alert"><p>{t('bul-recovered')}</p><p class="row-of"><button type="button" data-act="recover" onClick={goOn}>{t('bul-recover')}</button><button type="button" onClick={() => { setRecovered(null); own.set(name, null); }}>{t('bul-forget')}</button></p></div>}
            <div class="writing">
                <section class="text-side" aria-label={t('bul-text')}>
                    <div class="editor" ref={at} />
                    {fields.length > 0 && <AtCursor path={at_.path} fields={fields} />}
                    <div class="under"><Status state={state} theirs={() => void theirs().catch(trouble)} mine={() => void mine().catch(trouble)} /><p class="small">{t('bul-editor-leave')}</p></div>
                </section>
                <Panels who={who} check={check} text={looked} at={at_} goTo={(f) => desk.current?.editor.goTo(f.line, f.column)} issued={() => void look()} />
            </div>
        </div>
    );
}
