// tour: what a page is for, said once on the first day: a card above the page until it was read. This browser remembers which were.
import { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { Session } from './api';
import { Key, en, t } from './text';

const READ = 'mendwright.tour.read';
function read(): Set<string> {
    try { return new Set(JSON.parse(localStorage.getItem(READ) ?? '[]') as string[]); } catch { return new Set(); }
}
function keep(names: ReadonlySet<string>): void {
    try { localStorage.setItem(READ, JSON.stringify([...names])); } catch { /* not allowed: it is shown again */ }
}

/** `page` as in the address; '' for the claims. Pages without words of their own have no card. */
export function Tour({ page, who }: { page: string; who: Session }): JSX.Element | null {
    const [done, set] = useState(read), name = page !== '' ? page : who.role === 'technician' ? 'claims-own' : 'claims', key = `tour-${name}`;
    if (done.has(name) || !Object.hasOwn(en, key)) return null;
    const dismiss = () => {
        const now = read().add(name);
        keep(now);
        set(now);
        document.querySelector<HTMLElement>('main')?.focus();
    };
    return (
        <aside class="tour" aria-label={t('tour')} data-tour={name}>
            <p><b>{t('tour')}.</b> {t(key as Key)}</p>
            <button type="button" data-act="tour-done" onClick={dismiss}>{t('tour-done')}</button>
        </aside>
    );
}
