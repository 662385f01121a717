// main: starts the Desk: who is signed in, the list, the open claim beside it, and the keyboard.
import { JSX, render } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import './style.css';
import type { Bulletin } from '../bulletin/types';
import * as api from './api';
import { Place, hashOf, usePlace } from './address';
import { ClaimPage } from './claim';
import { deedOf, keyOf, KEYS, OF_CLAIM, tellDeed } from './keys';
import { List, mayRule } from './list';
import { PAGES, pageOf } from './pages';
import { Hatch } from './parts';
import { Key, t } from './text';
import { Tour } from './tour';

type Answer<T> = { is: 'waiting' } | { is: 'here'; value: T } | { is: 'failed'; why: api.Trouble };

/** The answer of a call that is made again whenever `key` changes. The last answer stays until the next is here. */
function useAnswer<T>(key: string, call: () => Promise<T>, onNobody: () => void): [Answer<T>, () => void] {
    const [answer, set] = useState<Answer<T>>({ is: 'waiting' }), [round, again] = useState(0);
    useEffect(() => {
        let isLate = false;
        call().then((value) => { if (!isLate) set({ is: 'here', value }); }, (e: unknown) => {
            if (isLate) return;
            const why = e instanceof api.Trouble ? e : new api.Trouble(0, String(e));
            // What is on the screen stays, with what was typed in it: it is asked for anew once somebody is let in again.
            if (why.status === 401) onNobody();
            else set({ is: 'failed', why });
        });
        return () => { isLate = true; };
    }, [key, round]);
    return [answer, () => again(round + 1)];
}

const Failed = ({ why, again }: { why: api.Trouble; again: () => void }): JSX.Element => (
    <div class="empty" role="alert"><p>{t('failed', { detail: why.message })}</p><button type="button" onClick={again}>{t('again')}</button></div>
);

// ---- signing in ----

/** again: whose session ended under their hands; their pages wait behind this one. */
function SignIn({ then, again }: { then: (s: api.Session) => void; again?: api.Session }): JSX.Element {
    const [said, say] = useState(''), form = useRef<HTMLFormElement>(null);
    // A one-time link opens elsewhere: back here, they are in already.
    useEffect(() => {
        if (again === undefined) return;
        form.current!.querySelector<HTMLInputElement>('[name="password"]')!.focus();
        const look = () => { if (document.visibilityState === 'visible') api.session().then((s) => { if (s.role !== 'nobody') then(s); }, () => undefined); };
        const events = ['visibilitychange', 'focus'];
        events.forEach((e) => addEventListener(e, look));
        return () => events.forEach((e) => removeEventListener(e, look));
    }, []);
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!);
        api.signIn(String(told.get('name')), String(told.get('password'))).then(then, (why: Error) => say(why.message));
    };
    return (
        <main class="sign-in">
            <h1>{t('nobody')}</h1>
            <p>{t('nobody-why')}</p>
            {again !== undefined && <p role="status">{t('nobody-again', { name: again.name ?? '' })}</p>}
            <form ref={form} onSubmit={go}>
                <label>{t('name')} <input name="name" required maxLength={64} autocomplete="username" defaultValue={again?.name ?? ''} /></label>
                <label>{t('password')} <input name="password" type="password" required maxLength={256} autocomplete="current-password" /></label>
                <button type="submit">{t('sign-in')}</button>
            </form>
            <p class="stop-text" role="alert">{said}</p>
        </main>
    );
}

function Who({ who, page, left }: { who: api.Session; page: string; left: () => void }): JSX.Element {
    const others = Object.entries(PAGES).filter(([, p]) => p.roles.includes(who.role)), here = (is: boolean) => (is ? 'page' as const : undefined);
    return (
        <header class="top">
            <span class="title">{t('app')}</span>
            {others.length > 0 && <nav aria-label={t('pages')}>
                <a href="#/" aria-current={here(page === '')}>{t('claims')}</a>
                {others.map(([name, p]) => <a key={name} href={`#/${name}`} aria-current={here(page === name)}>{t(p.title)}</a>)}
            </nav>}
            <a href="/bench/">{t('to-bench')}</a>
            <span class="who">{who.name} <span class="soft-text">{t(`role-${who.role}` as Key)}</span></span>
            <button type="button" data-act="sign-out" onClick={() => void api.signOut(who).then(left, left)}>{t('sign-out')}</button>
        </header>
    );
}

// ---- the keyboard ----

const links = (): HTMLAnchorElement[] => [...document.querySelectorAll<HTMLAnchorElement>('table.claims tbody a[href]')];
const isTyping = (e: KeyboardEvent): boolean => (e.target as Element | null)?.closest('input, textarea, select') !== null;

/** Arrows: along the list. What the other keys do is in keys.ts. */
function onKey(e: KeyboardEvent, place: Place, help: () => void): void {
    if (e.ctrlKey || e.metaKey || e.altKey || e.defaultPrevented) return;
    if (e.key === 'Escape' && isTyping(e)) links()[0]?.focus();
    else if (e.key === 'Escape' && place.claim !== '') location.hash = hashOf({ ...place, claim: '' });
    else if (!isTyping(e)) plainKey(e, place, help);
}

function plainKey(e: KeyboardEvent, place: Place, help: () => void): void {
    const deed = deedOf(e), by = { ArrowDown: 1, ArrowUp: -1, Home: -1e9, End: 1e9 }[e.key], inClaim = (e.target as Element).closest('.claim') !== null;
    if (deed === 'next' || deed === 'before') step(e, deed === 'next' ? 1 : -1, place.claim !== '');
    else if (deed === 'find') { e.preventDefault(); document.querySelector<HTMLInputElement>('input[name="vin"]')?.focus(); }
    else if (deed === 'keys') { e.preventDefault(); help(); }
    else if (deed !== null && OF_CLAIM.includes(deed) && place.claim !== '') { e.preventDefault(); tellDeed(deed); }
    // In the claim the arrows scroll, as everywhere.
    else if (by !== undefined && !inClaim) step(e, by, false);
}

/** Along the list; with a claim open the next one is opened. */
function step(e: KeyboardEvent, by: number, opens: boolean): void {
    const all = links();
    if (all.length === 0) return;
    e.preventDefault();
    const at = opens ? -1 : all.findIndex((a) => a === document.activeElement), from = at < 0 ? all.findIndex((a) => a.getAttribute('aria-current') === 'true') : at;
    const next = all[Math.max(0, Math.min(all.length - 1, from < 0 ? 0 : from + by))]!;
    if (opens) location.hash = next.hash;
    else next.focus();
}

function Help({ open, close, who }: { open: boolean; close: () => void; who: api.Session }): JSX.Element {
    const box = useRef<HTMLDialogElement>(null), key = (...names: string[]) => names.map((n) => <kbd key={n}>{n}</kbd>);
    useEffect(() => { const d = box.current!; if (open && !d.open) d.showModal(); }, [open]);
    const parts = t('help').split(/\{(\w+)\}/), keys: Record<string, JSX.Element[]> = { move: key('\u2191', '\u2193', keyOf('before'), keyOf('next')), open: key('Enter'), close: key('Esc'), keys: key(keyOf('keys')) };
    return (
        <>
            <footer class="help">{parts.map((p, i) => (i % 2 === 1 ? keys[p] : p))}.</footer>
            <dialog ref={box} class="keys" aria-labelledby="keys-title" onClose={close} onKeyDown={(e) => e.stopPropagation()}>
                <h2 id="keys-title">{t('keys')}</h2><p class="small">{t('keys-why')}</p>
                <dl>
                    <dt>{key('\u2191', '\u2193', 'Home', 'End')}</dt><dd>{t('key-move')}</dd><dt>{key('Enter')}</dt><dd>{t('key-open')}</dd><dt>{key('Esc')}</dt><dd>{t('key-close')}</dd>
                    {KEYS.filter((k) => mayRule(who) || !OF_CLAIM.includes(k.deed) || k.deed === 'photo').map((k) => <><dt>{key(k.key)}</dt><dd>{t(k.says)}</dd></>)}
                    <dt>{key('+', '-', 't', '.', ',')}</dt><dd>{t('in-photo')}</dd>
                </dl>
                <form method="dialog"><button type="submit">{t('close')}</button></form>
            </dialog>
        </>
    );
}

// ---- the page ----

interface OpenClaim { c: api.Claim; b: Bulletin | null }

function OpenPane({ place, who, nobody, changed }: { place: Place; who: api.Session; nobody: () => void; changed: (c: api.Claim) => void }): JSX.Element | null {
    const [answer, again] = useAnswer<OpenClaim>(`${who.csrf} ${place.claim}`, async () => { const c = await api.claim(place.claim); return { c, b: await api.bulletin(c) }; }, nobody);
    // What was done with it since is newer than the answer.
    const [newer, set] = useState<api.Claim | null>(null), take = (c: api.Claim) => { set(c); changed(c); };
    useEffect(() => set(null), [place.claim, answer]);
    if (answer.is === 'failed') return <section class="claim"><p class="claim-head"><a class="back" href={hashOf({ ...place, claim: '' })}>{t('back')}</a><a class="close" href={hashOf({ ...place, claim: '' })}>{t('close')}</a></p><h1>{place.claim}</h1><Failed why={answer.why} again={again} /></section>;
    if (answer.is === 'waiting' || answer.value.c.claim !== place.claim) return <section class="claim" aria-busy="true"><p class="small">{t('loading')}</p></section>;
    const c = newer !== null && newer.claim === place.claim ? newer : answer.value.c;
    return <ClaimPage shown={{ c, b: answer.value.b, place, who, nobody, changed: take, look: async () => take(await api.claim(place.claim)) }} />;
}

function Claims({ who, place, nobody }: { who: api.Session; place: Place; nobody: () => void }): JSX.Element {
    const [answer, again] = useAnswer(`${who.csrf} ${hashOf({ ...place, claim: '' })}`, () => api.claims(place), nobody), last = useRef(''), [helps, help] = useState(false);
    // The list stays as it was asked for while its claims are worked through; what was done shows in its lines. Back in the list it is asked for anew.
    const [done, set] = useState<ReadonlyMap<string, api.Claim>>(new Map()), isHere = answer.is === 'here';
    useEffect(() => { document.title = `${place.claim === '' ? t('claims') : place.claim} \u00b7 ${t('app')}`; }, [place.claim]);
    useEffect(() => set(new Map()), [isHere && answer.value]);
    // The focus goes back to the claim that was open; at the start to the newest.
    useEffect(() => {
        if (place.claim !== '') last.current = place.claim;
        else if (isHere && (document.activeElement === null || document.activeElement === document.body))
            (links().find((a) => a.textContent === last.current) ?? links()[0])?.focus({ preventScroll: false });
    }, [place.claim, isHere, isHere && answer.value]);
    useEffect(() => { if (place.claim === '' && done.size > 0) again(); }, [place.claim]);
    const rows = (list: api.Listed): api.Listed => ({ ...list, claims: list.claims.map((r) => { const now = done.get(r.claim); return now === undefined ? r : { ...now, etag: now.etag }; }) });
    return (
        <>
            <main class={place.claim === '' ? '' : 'has-open'} tabIndex={-1} onKeyDown={(e) => onKey(e, place, () => help(true))}>
                {answer.is === 'waiting' ? <p class="small">{t('loading')}</p> : answer.is === 'failed' ? <Failed why={answer.why} again={again} />
                    : <List listed={rows(answer.value)} place={place} who={who} again={again} />}
                {place.claim !== '' && <OpenPane place={place} who={who} nobody={nobody} changed={(c) => set(new Map([...done, [c.claim, c]]))} />}
            </main>
            <Help open={helps} close={() => help(false)} who={who} />
        </>
    );
}

function Desk({ who, nobody, left }: { who: api.Session; nobody: () => void; left: () => void }): JSX.Element {
    const place = usePlace(), other = pageOf(place.page, who);
    useEffect(() => { if (other !== null) document.title = `${t(other.title)} \u00b7 ${t('app')}`; }, [other]);
    return (
        <>
            <Who who={who} page={other === null ? '' : place.page} left={left} />
            {place.claim === '' && <Tour page={other === null ? '' : place.page} who={who} />}
            {other === null && place.claim === '' && Object.hasOwn(PAGES, place.page) && <p class="not-yours" role="status">{t('not-yours', { page: t(PAGES[place.page]!.title), roles: PAGES[place.page]!.roles.map((r) => t(`role-${r}` as Key)).join(', ') })}</p>}
            {other === null ? <Claims who={who} place={{ ...place, page: '' }} nobody={nobody} /> : <main tabIndex={-1}><other.Page who={who} nobody={nobody} /></main>}
        </>
    );
}

/** A session that ends by itself takes nothing away: the pages wait, unseen, until the same person is let in again. Whoever signs out, or
 * comes in their place, finds nothing of them. */
function Page(): JSX.Element {
    const [who, set] = useState<api.Session | null>(null), [why, fail] = useState<api.Trouble | null>(null), [isOut, out] = useState(false), focus = useRef<Element | null>(null);
    // The same person is the same object: what the pages hold on to speaks for the new session at once.
    const take = (s: api.Session) => { set(who !== null && s.name !== undefined && who.name === s.name && who.role === s.role ? Object.assign(who, s) : s); out(false); }, look = () => { fail(null); api.session().then(take, fail); };
    const nobody = () => { if (!isOut) focus.current = document.activeElement; out(true); };
    useEffect(look, []);
    useEffect(() => { if (!isOut && focus.current instanceof HTMLElement && focus.current.isConnected) focus.current.focus(); }, [isOut]);
    if (why !== null) return <main><h1>{t('app')}</h1><Failed why={why} again={look} /></main>;
    if (who === null) return <main><p class="small">{t('loading')}</p></main>;
    if (who.role === 'nobody') return <SignIn then={take} />;
    return (
        <>
            {isOut && <SignIn then={take} again={who} />}
            <div class="kept" hidden={isOut}><Desk key={`${who.role} ${who.name}`} who={who} nobody={nobody} left={() => take({ role: 'nobody' })} /></div>
        </>
    );
}

const page = document.getElementById('page')!;
page.textContent = '';
render(<><Hatch /><Page /></>, page);
