// main: starts the Desk: who is signed in, the list, the open claim beside it, and the keyboard.
import { JSX, render } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import './style.css';
import type { Bulletin } from '../bulletin/types';
import * as api from './api';
import { Place, hashOf, usePlace } from './address';
import { ClaimPage } from './claim';
import { List } from './list';
import { PAGES, pageOf } from './pages';
import { Hatch } from './parts';
import { Key, t } from './text';

type Answer<T> = { is: 'waiting' } | { is: 'here'; value: T } | { is: 'failed'; why: api.Trouble };

/** The answer of a call that is made again whenever `key` changes. The last answer stays until the next is here. */
function useAnswer<T>(key: string, call: () => Promise<T>, onNobody: () => void): [Answer<T>, () => void] {
    const [answer, set] = useState<Answer<T>>({ is: 'waiting' }), [round, again] = useState(0);
    useEffect(() => {
        let isLate = false;
        call().then((value) => { if (!isLate) set({ is: 'here', value }); }, (e: unknown) => {
            if (isLate) return;
            const why = e instanceof api.Trouble ? e : new api.Trouble(0, String(e));
            if (why.status === 401) onNobody();
            set({ is: 'failed', why });
        });
        return () => { isLate = true; };
    }, [key, round]);
    return [answer, () => again(round + 1)];
}

const Failed = ({ why, again }: { why: api.Trouble; again: () => void }): JSX.Element => (
    <div class="empty" role="alert"><p>{t('failed', { detail: why.message })}</p><button type="button" onClick={again}>{t('again')}</button></div>
);

// ---- signing in ----

function SignIn({ then }: { then: (s: api.Session) => void }): JSX.Element {
    const [said, say] = useState(''), form = useRef<HTMLFormElement>(null);
    const go = (e: Event) => {
        e.preventDefault();
        const told = new FormData(form.current!);
        api.signIn(String(told.get('name')), String(told.get('password'))).then(then, (why: Error) => say(why.message));
    };
    return (
        <main class="sign-in">
            <h1>{t('nobody')}</h1>
            <p>{t('nobody-why')}</p>
            <form ref={form} onSubmit={go}>
                <label>{t('name')} <input name="name" required maxLength={64} autocomplete="username" /></label>
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

/** j, k, arrows: along the list, or with a claim open (j, k) to the next one; Escape closes it; / goes to the VIN. Single keys work only while the
 * focus is in the list or the claim (WCAG 2.1, 2.1.4). */
function onKey(e: KeyboardEvent, place: Place): void {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    if (e.key === 'Escape' && isTyping(e)) links()[0]?.focus();
    else if (e.key === 'Escape' && place.claim !== '') location.hash = hashOf({ ...place, claim: '' });
    else if (!isTyping(e)) move(e);
}

function move(e: KeyboardEvent): void {
    const all = links(), inClaim = (e.target as Element).closest('.claim') !== null, by = { j: 1, k: -1, ArrowDown: 1, ArrowUp: -1, Home: -1e9, End: 1e9 }[e.key];
    if (e.key === '/') {
        e.preventDefault();
        document.querySelector<HTMLInputElement>('input[name="vin"]')?.focus();
        return;
    }
    // In the claim the arrows scroll, as everywhere.
    if (by === undefined || all.length === 0 || (inClaim && e.key !== 'j' && e.key !== 'k')) return;
    e.preventDefault();
    const at = all.findIndex((a) => a === document.activeElement), from = inClaim || at < 0 ? all.findIndex((a) => a.getAttribute('aria-current') === 'true') : at;
    const next = all[Math.max(0, Math.min(all.length - 1, from < 0 ? 0 : from + by))]!;
    if (inClaim) location.hash = next.hash;
    else next.focus();
}

function Help(): JSX.Element {
    const key = (...names: string[]) => names.map((n) => <kbd key={n}>{n}</kbd>), parts = t('help').split(/\{(\w+)\}/), keys: Record<string, JSX.Element[]> = { move: key('j', 'k', '\u2191', '\u2193'), open: key('Enter'), close: key('Esc'), find: key('/') };
    const more = t('help-next').split(/\{(\w+)\}/);
    return <footer class="help">{parts.map((p, i) => (i % 2 === 1 ? keys[p] : p))}; {more.map((p, i) => (i % 2 === 1 ? key('j', 'k') : p))}.</footer>;
}

// ---- the page ----

interface OpenClaim { c: api.Claim; b: Bulletin | null }

function OpenPane({ place, nobody }: { place: Place; nobody: () => void }): JSX.Element | null {
    const [answer, again] = useAnswer<OpenClaim>(place.claim, async () => { const c = await api.claim(place.claim); return { c, b: await api.bulletin(c) }; }, nobody);
    if (answer.is === 'failed') return <section class="claim"><p class="claim-head"><a class="back" href={hashOf({ ...place, claim: '' })}>{t('back')}</a><a class="close" href={hashOf({ ...place, claim: '' })}>{t('close')}</a></p><h1>{place.claim}</h1><Failed why={answer.why} again={again} /></section>;
    if (answer.is === 'waiting' || answer.value.c.claim !== place.claim) return <section class="claim" aria-busy="true"><p class="small">{t('loading')}</p></section>;
    return <ClaimPage shown={{ ...answer.value, place }} />;
}

async function listed(place: Place): Promise<{ list: api.Listed; digits: Map<string, number | null> }> {
    const list = await api.claims(place), digits = new Map<string, number | null>();
    for (const c of list.claims) {
        const key = `${c.bulletin}/${c.revision}`;
        if (!digits.has(key)) digits.set(key, (await api.bulletin(c))?.currency_digits ?? null);
    }
    return { list, digits };
}

function Claims({ who, place, nobody }: { who: api.Session; place: Place; nobody: () => void }): JSX.Element {
    const [answer, again] = useAnswer(hashOf({ ...place, claim: '' }), () => listed(place), nobody), last = useRef('');
    const isHere = answer.is === 'here';
    useEffect(() => { document.title = `${place.claim === '' ? t('claims') : place.claim} \u00b7 ${t('app')}`; }, [place.claim]);
    // The focus goes back to the claim that was open; at the start to the newest.
    useEffect(() => {
        if (place.claim !== '') last.current = place.claim;
        else if (isHere && (document.activeElement === null || document.activeElement === document.body))
            (links().find((a) => a.textContent === last.current) ?? links()[0])?.focus({ preventScroll: false });
    }, [place.claim, isHere, isHere && answer.value]);
    return (
        <>
            <main class={place.claim === '' ? '' : 'has-open'} tabIndex={-1} onKeyDown={(e) => onKey(e, place)}>
                {answer.is === 'waiting' ? <p class="small">{t('loading')}</p> : answer.is === 'failed' ? <Failed why={answer.why} again={again} />
                    : <List listed={answer.value.list} place={place} who={who} digitsOf={(c) => answer.value.digits.get(`${c.bulletin}/${c.revision}`) ?? null} />}
                {place.claim !== '' && <OpenPane place={place} nobody={nobody} />}
            </main>
            <Help />
        </>
    );
}

function Desk({ who, nobody }: { who: api.Session; nobody: () => void }): JSX.Element {
    const place = usePlace(), other = pageOf(place.page, who);
    useEffect(() => { if (other !== null) document.title = `${t(other.title)} \u00b7 ${t('app')}`; }, [other]);
    return (
        <>
            <Who who={who} page={other === null ? '' : place.page} left={nobody} />
            {other === null ? <Claims who={who} place={place} nobody={nobody} /> : <main tabIndex={-1}><other.Page who={who} nobody={nobody} /></main>}
        </>
    );
}

function Page(): JSX.Element {
    const [who, set] = useState<api.Session | null>(null), [why, fail] = useState<api.Trouble | null>(null);
    const nobody = () => set({ role: 'nobody' }), look = () => { fail(null); api.session().then(set, fail); };
    useEffect(look, []);
    if (why !== null) return <main><h1>{t('app')}</h1><Failed why={why} again={look} /></main>;
    if (who === null) return <main><p class="small">{t('loading')}</p></main>;
    return who.role === 'nobody' ? <SignIn then={set} /> : <Desk who={who} nobody={nobody} />;
}

const page = document.getElementById('page')!;
page.textContent = '';
render(<><Hatch /><Page /></>, page);
