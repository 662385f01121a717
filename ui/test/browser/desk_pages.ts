// desk_pages: every page of the Desk, for the tests that walk them all: its address, what stands on the screen once its data is there, and who may
// see it. A page of pages.tsx that is not in this list fails them.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { same } from '../tap.mjs';
import type { Served } from './desk_kit';

export type Role = 'nobody' | 'technician' | 'clerk' | 'owner';
export interface Walked {
    /** As in pages.tsx; '' for what is no page of its own there. */ name: string;
    title: string;
    hash: (s: Served) => string;
    /** On the screen with the data of the page, and on no other page. */ wanted: string;
    roles: readonly Role[];
}
const ALL: readonly Role[] = ['technician', 'clerk', 'owner'], DESK: readonly Role[] = ['clerk', 'owner'], OWNER: readonly Role[] = ['owner'];

/** The technician of the tests is of the shop of rulings[0]. */
export const WALKED: readonly Walked[] = [
    { name: '', title: 'claims', hash: () => '', wanted: 'tr[data-claim]', roles: ALL },
    { name: '', title: 'a claim', hash: (s) => s.rulings[0]!.claim, wanted: '#claim-title', roles: ALL },
    { name: 'campaign', title: 'campaign', hash: () => 'campaign', wanted: '[data-figure="money.paid_minor"]', roles: DESK },
    { name: 'bulletins', title: 'bulletins', hash: () => 'bulletins', wanted: '.bulletins [data-begin="OV-26-03"]', roles: OWNER },
    { name: 'bulletins', title: 'a draft', hash: () => `bulletins?draft=${DRAFT}`, wanted: '.editor .cm-line', roles: OWNER },
    { name: 'studies', title: 'studies', hash: () => 'studies', wanted: '.questions [data-study]', roles: DESK },
    { name: 'studies', title: 'a study', hash: () => 'studies/labour', wanted: '.answer .sentence', roles: DESK },
    { name: 'units', title: 'units found', hash: (s) => `units?vin=${s.rulings[0]!.vin.slice(-6)}`, wanted: 'tr[data-vin]', roles: DESK },
    { name: 'people', title: 'people', hash: () => 'people', wanted: '.people [data-person]', roles: OWNER },
    { name: 'practice', title: 'practice', hash: () => 'practice', wanted: '.practice [data-set="first-steps"]', roles: OWNER },
    { name: 'shops', title: 'shops', hash: () => 'shops', wanted: '.shops tbody [data-shop]', roles: OWNER },
];

/** The names in pages.tsx, against the list here. */
export function holdsAll(root: string): void {
    const text = readFileSync(join(root, 'ui/src/desk/pages.tsx'), 'utf8'), table = /PAGES:[^=]*= \{\n([\s\S]*?)\n\};/.exec(text)?.[1] ?? '', names = [...table.matchAll(/^ {4}'?([\w-]+)'?: \{/gm)].map((m) => m[1]!);
    same([names.length > 0, [...new Set(WALKED.map((w) => w.name).filter((n) => n !== ''))].sort()], [true, names.sort()], 'every page of pages.tsx is walked (desk_pages.ts)');
}

export const DRAFT = 'walked';
/** The draft that the list names: begun by whoever calls it, an owner who is signed in on the page. */
export async function beginDraft(page: import('playwright-core').Page): Promise<void> {
    const status = await page.evaluate(async (name) => {
        const who = (await (await fetch('/api/v1/session')).json()) as { csrf: string }, held = (await (await fetch('/api/v1/bulletins')).json()) as { bulletins: { id: string; revision: number }[] }, b = held.bulletins[0]!;
        const text = await (await fetch(`/api/v1/bulletins/${b.id}/${b.revision}/file`)).text();
        return (await fetch(`/api/v1/drafts/${name}`, { method: 'PUT', body: JSON.stringify({ text }), headers: { 'Content-Type': 'application/json', 'X-Mendwright-Csrf': who.csrf, 'If-None-Match': '*' } })).status;
    }, DRAFT);
    if (status >= 300) throw new Error(`the draft cannot be begun: ${status}`);
}
