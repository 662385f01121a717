// people: the owner's page on who may come in, and on who did what.
import { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Role } from './api';
import { Trouble } from './api';
import type { PageProps } from './pages';
import * as calls from './people_data';
import { moment, money } from './show';
import { t, word } from './text';
import './people.css';

const ROLES: readonly Role[] = ['owner', 'clerk', 'technician'];
const words = (e: unknown): string => (e instanceof Error ? e.message : String(e));
const value = (form: HTMLFormElement, name: string): string => String(new FormData(form).get(name) ?? '').trim();

/** Asks once more before it is done. */
export function Sure(p: { ask: string; yes: string; act: string; first: string; go: () => void; label?: string }): JSX.Element {
    const [asked, set] = useState(false), yes = useRef<HTMLButtonElement>(null), first = useRef<HTMLButtonElement>(null), was = useRef(false);
    useEffect(() => { if (asked) yes.current?.focus(); else if (was.current) first.current?.focus(); was.current = asked; }, [asked]);
    if (!asked) return <button type="button" ref={first} data-act={p.act} aria-label={p.label} onClick={() => set(true)}>{p.first}</button>;
    return (
        <span class="sure" role="group" aria-label={p.ask} onKeyDown={(e) => { if (e.key === 'Escape') set(false); }}>
            <span>{p.ask}</span> <button type="button" ref={yes} class="stop-text" data-act={`${p.act}-yes`} onClick={p.go}>{p.yes}</button> <button type="button" onClick={() => set(false)}>{t('ppl-leave')}</button>
        </span>
    );
}

// ---- a link, told once ----

function Told({ link, done }: { link: calls.Link; done: () => void }): JSX.Element {
    const [copied, set] = useState(false), at = useRef<HTMLInputElement>(null), url = location.origin + link.path;
    useEffect(() => { at.current?.focus(); at.current?.select(); }, [link]);
    const copy = () => { at.current?.select(); void navigator.clipboard?.writeText(url).then(() => set(true), () => undefined); };
    return (
        <section class="told">
            <h2>{t('ppl-link-for', { name: link.name })}</h2>
            <p>{t('ppl-link-why', { name: link.name, hours: link.hours })}</p>
            <p class="row-of"><input ref={at} class="code link" readOnly value={url} aria-label={t('ppl-link-for', { name: link.name })} /><button type="button" data-act="copy" onClick={copy}>{t('ppl-copy')}</button><button type="button" data-act="told" onClick={done}>{t('ppl-done')}</button></p>
            <p role="status" class="small">{copied ? t('ppl-copied') : ''}</p>
        </section>
    );
}

// ---- the list ----

function RoleFields({ role, shop, on }: { role: Role; shop: string; on: (r: Role) => void }): JSX.Element {
    return (
        <>
            <label class="stacked">{t('ppl-role')}<select name="role" value={role} onChange={(e) => on(e.currentTarget.value as Role)}>{ROLES.map((r) => <option key={r} value={r}>{`${word('role-', r)}: ${word('ppl-is-', r)}`}</option>)}</select></label>
            {role === 'technician' && <label class="stacked">{t('shop')}<input name="shop" required defaultValue={shop} maxLength={64} pattern="[A-Za-z0-9][A-Za-z0-9._\-]*" autocomplete="off" spellcheck={false} /><span class="small">{t('ppl-shop-why')}</span></label>}
        </>
    );
}

interface Doing { who: PageProps['who']; did: (said: string) => void; fail: (e: unknown) => void; told: (l: calls.Link) => void }

function Changing({ p, d, leave }: { p: calls.Person; d: Doing; leave: () => void }): JSX.Element {
    const [role, set] = useState<Role>(p.role), form = useRef<HTMLFormElement>(null);
    useEffect(() => form.current?.querySelector('select')?.focus(), []);
    const go = (e: Event) => {
        e.preventDefault();
        const shop = role === 'technician' ? value(form.current!, 'shop') : '';
        (p.revoked ? calls.invite(d.who, p.name, role, shop) : calls.change(d.who, p.name, role, shop)).then(() => { leave(); d.did(t('ppl-was-changed', { name: p.name, role: word('role-', role) })); }, d.fail);
    };
    return (
        <form ref={form} class="changing" onSubmit={go} onKeyDown={(e) => { if (e.key === 'Escape') leave(); }}>
            <RoleFields role={role} shop={p.shop ?? ''} on={set} />
            <p class="small">{t('ppl-change-why')}</p>
            <p class="row-of"><button type="submit" data-act="keep-role">{t('ppl-keep')}</button><button type="button" onClick={leave}>{t('ppl-leave')}</button></p>
        </form>
    );
}

function Row({ p, d }: { p: calls.Person; d: Doing }): JSX.Element {
    const [changing, set] = useState(false), isSelf = p.name === d.who.name;
    const makeLink = () => calls.link(d.who, p.name).then(d.told, d.fail), revoke = () => calls.revoke(d.who, p.name).then(() => d.did(t('ppl-was-revoked', { name: p.name })), d.fail);
    const forget = () => calls.forget(d.who, p.name).then(() => d.did(t('ppl-was-forgotten')), d.fail);
    return (
        <tr class={p.revoked ? 'soft-text' : ''} data-person={p.name}>
            <th scope="row"><a href={`#/people?who=${encodeURIComponent(p.name)}`}>{p.name}</a>{isSelf && <span class="small"> {t('ppl-you')}</span>}</th>
            <td data-role={p.role}>{word('role-', p.role)}{p.shop !== null && <span class="small"> {p.shop}</span>}</td>
            <td class="wider">{p.revoked ? t('ppl-gone') : p.has_password ? t('ppl-password') : t('ppl-links')}</td>
            <td class="doings">
                {changing ? <Changing p={p} d={d} leave={() => set(false)} /> : (
                    <span class="row-of">
                        {!p.revoked && <button type="button" data-act="link" aria-label={`${t('ppl-link')}: ${p.name}`} onClick={makeLink}>{t('ppl-link')}</button>}
                        {!isSelf && <button type="button" data-act="change" aria-label={`${t(p.revoked ? 'ppl-let-in' : 'ppl-change')}: ${p.name}`} onClick={() => set(true)}>{t(p.revoked ? 'ppl-let-in' : 'ppl-change')}</button>}
                        {!isSelf && !p.revoked && <Sure ask={t('ppl-revoke-sure', { name: p.name })} yes={t('ppl-revoke-yes')} first={t('ppl-revoke')} act="revoke" label={`${t('ppl-revoke')}: ${p.name}`} go={revoke} />}
                        {p.revoked && <Sure ask={t('ppl-forget-sure', { name: p.name })} yes={t('ppl-forget-yes')} first={t('ppl-forget')} act="forget" label={`${t('ppl-forget')}: ${p.name}`} go={forget} />}
                    </span>
                )}
            </td>
        </tr>
    );
}

function Invite({ d }: { d: Doing }): JSX.Element {
    const [role, set] = useState<Role>('clerk'), form = useRef<HTMLFormElement>(null);
    const go = (e: Event) => {
        e.preventDefault();
        const name = value(form.current!, 'name');
        calls.invite(d.who, name, role, role === 'technician' ? value(form.current!, 'shop') : '').then(() => { form.current?.reset(); d.did(''); return calls.link(d.who, name); }).then(d.told, d.fail);
    };
    return (
        <section class="invite">
            <h2>{t('ppl-invite')}</h2>
            <form ref={form} onSubmit={go}>
                <label class="stacked">{t('name')}<input name="name" required maxLength={64} pattern="[A-Za-z0-9._@\-]+" autocomplete="off" spellcheck={false} /><span class="small">{t('ppl-name-why')}</span></label>
                <RoleFields role={role} shop="" on={set} />
                <p><button type="submit" class="first" data-act="invite">{t('ppl-invite-yes')}</button></p>
            </form>
        </section>
    );
}

// ---- who did what ----

const asked = (name: string): string => new URLSearchParams(location.hash.split('?')[1] ?? '').get(name) ?? '';
function auditLink(what: string, who: string, from = ''): string {
    const q = new URLSearchParams();
    for (const [name, v] of Object.entries({ what, who, from })) if (v !== '') q.set(name, v);
    return `#/people${[...q].length > 0 ? `?${q}` : ''}`;
}

function On({ a }: { a: calls.Act }): JSX.Element {
    if (a.claim !== null) return <a class="code" href={`#/${a.claim}`}>{a.claim}</a>;
    if (a.paper !== null) return <>{word('paper-', a.paper)}{a.name !== a.paper && ` ${a.name}`}{a.revision !== null && `, ${t('revision', { n: a.revision })}`}</>;
    return <>{a.whom ?? ''}</>;
}
/** Money of a word that pays, or of a payment. */
const sum = (a: calls.Act): string => (a.what === 'paid' || (a.what === 'overruled' && a.verdict === 'pay') ? `${a.what === 'paid' ? '' : `${t('pay')}, `}${money(a.amount_minor ?? 0, a.currency, a.currency_digits)}` : a.what === 'overruled' && a.verdict !== null ? word('', a.verdict) : '');

function Audit({ fail, round }: { fail: (e: unknown) => void; round: number }): JSX.Element {
    const what = asked('what'), who = asked('who'), from = asked('from'), [seen, set] = useState<calls.Acts | null>(null);
    useEffect(() => {
        let isLate = false;
        calls.acts(what, who, from).then((a) => { if (!isLate) set(a); }, fail);
        return () => { isLate = true; };
    }, [what, who, from, round]);
    return (
        <section class="audit">
            <h2>{t('act-list')}</h2>
            <p class="small">{t('act-why')}</p>
            <nav class="kinds" aria-label={t('act-filter')}>{['', ...calls.DID].map((k) => <a key={k} href={auditLink(k, who)} aria-current={k === what ? 'true' : undefined}>{k === '' ? t('act-any') : word('act-', k)}</a>)}</nav>
            {who !== '' && <p>{t('act-of', { name: who })} <a href={auditLink(what, '')}>{t('act-of-all')}</a></p>}
            {seen === null ? <p class="small">{t('loading')}</p> : seen.acts.length === 0 ? <p class="empty">{t('act-none')}</p> : (
                <div class="sheet-box" tabIndex={0} role="region" aria-label={t('act-list')}>
                    <table class="sheet">
                        <thead><tr><th scope="col">{t('when')}</th><th scope="col">{t('act-who')}</th><th scope="col">{t('act-did')}</th><th scope="col">{t('act-on')}</th><th scope="col">{t('act-words')}</th></tr></thead>
                        <tbody>{seen.acts.map((a, i) => (
                            <tr key={`${a.at_ms} ${a.seq} ${i}`} data-did={a.what}>
                                <td class="nowrap">{moment(a.at_ms)}</td><td class={a.who === null ? 'soft-text' : ''}>{a.who ?? t('act-nobody')}</td><td class="nowrap">{word('act-', a.what)}</td><td><On a={a} /></td><td>{[sum(a), a.detail ?? ''].filter((x) => x !== '').join(': ')}</td>
                            </tr>
                        ))}</tbody>
                    </table>
                </div>
            )}
            <p class="after">{from !== '' && <a href={auditLink(what, who)}>{t('act-newest')}</a>}{seen?.next != null && <a data-act="older" href={auditLink(what, who, seen.next)}>{t('act-older')}</a>}</p>
        </section>
    );
}

// ---- the page ----

export function PeoplePage({ who, nobody }: PageProps): JSX.Element {
    const [seen, set] = useState<calls.Person[] | null>(null), [why, setWhy] = useState(''), [said, say] = useState(''), [link, tell] = useState<calls.Link | null>(null), [round, again] = useState(0);
    const fail = (e: unknown) => { say(''); if (e instanceof Trouble && e.status === 401) nobody(); else setWhy(words(e)); };
    useEffect(() => void calls.people().then(set, fail), [round, who.csrf]);
    const did = (text: string) => { setWhy(''); say(text); again((n) => n + 1); };
    const d: Doing = { who, did, fail, told: (l) => { setWhy(''); tell(l); again((n) => n + 1); } };
    const may = (seen ?? []).filter((p) => !p.revoked), of = (r: Role) => may.filter((p) => p.role === r).length;
    return (
        <div class="people">
            <h1>{t('people')}</h1>
            {seen !== null && <p class="said-first">{t('ppl-count', { n: may.length, owners: of('owner'), clerks: of('clerk'), technicians: of('technician') })}</p>}
            {why !== '' && <p class="stop-text" role="alert">{why}</p>}
            <p role="status" class={said === '' ? 'visually' : ''}>{said}</p>
            {link !== null && <Told link={link} done={() => tell(null)} />}
            {seen === null ? <p class="small">{t('loading')}</p> : (
                <div class="beside">
                    <section aria-label={t('people')}>
                        <table class="sheet">
                            <thead><tr><th scope="col">{t('name')}</th><th scope="col">{t('ppl-role')}</th><th scope="col" class="wider">{t('ppl-by')}</th><th scope="col"><span class="visually">{t('acts')}</span></th></tr></thead>
                            <tbody>{[...may, ...seen.filter((p) => p.revoked)].map((p) => <Row key={`${p.name} ${p.role} ${p.shop} ${p.revoked}`} p={p} d={d} />)}</tbody>
                        </table>
                    </section>
                    <Invite d={d} />
                </div>
            )}
            <Audit fail={fail} round={round} />
        </div>
    );
}
