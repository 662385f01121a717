// pages: the Desk's pages beside the claims. `#/NAME` shows the page of that name; the top of every page links to those that the person may see.
import { JSX } from 'preact';
import type { Role, Session } from './api';
import { CampaignPage } from './campaign';
import { later } from './later';
import { PeoplePage } from './people';
import { ShopsPage } from './shops';
import type { Key } from './text';

/** nobody: to be called when the server says that nobody is signed in any more. */
export interface PageProps { who: Session; nobody: () => void }
export interface DeskPage { title: Key; roles: readonly Role[]; Page: (p: PageProps) => JSX.Element }

export const PAGES: Readonly<Record<string, DeskPage>> = {
    bulletins: { title: 'bul', roles: ['owner'], Page: later(async () => (await import('./bulletin')).BulletinPage) },
    campaign: { title: 'campaign', roles: ['clerk', 'owner'], Page: CampaignPage },
    studies: { title: 'st', roles: ['clerk', 'owner'], Page: later(async () => (await import('./studies')).StudiesPage) },
    units: { title: 'un', roles: ['clerk', 'owner'], Page: later(async () => (await import('./units')).UnitsPage) },
    people: { title: 'people', roles: ['owner'], Page: PeoplePage },
    practice: { title: 'practice', roles: ['owner'], Page: later(async () => (await import('./practice')).PracticePage) },
    shops: { title: 'shops', roles: ['owner'], Page: ShopsPage },
};

/** The page that the address names and the person may see; null: the claims. */
export function pageOf(name: string, who: Session): DeskPage | null {
    const found = Object.hasOwn(PAGES, name) ? PAGES[name]! : null;
    return found !== null && found.roles.includes(who.role) ? found : null;
}
