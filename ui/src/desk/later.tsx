// later: a page whose code comes when it is first opened, so that whoever only rules on claims does not load it.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { PageProps } from './pages';
import { t } from './text';

type Page = (p: PageProps) => JSX.Element;

/** The page that `load` brings. Until it is here that it is being loaded is shown; where it does not come, why, and a way to ask again. */
export function later(load: () => Promise<Page>): Page {
    let here: Page | null = null;
    return function Later(p: PageProps): JSX.Element {
        const [, drawn] = useState(0), [why, fail] = useState(''), [round, again] = useState(0);
        useEffect(() => {
            let isGone = false;
            if (here === null) load().then((page) => { here = page; if (!isGone) drawn(1); }, (e: unknown) => { if (!isGone) fail(e instanceof Error ? e.message : String(e)); });
            return () => { isGone = true; };
        }, [round]);
        const Here = here;
        if (Here !== null) return <Here {...p} />;
        if (why !== '') return <div class="empty" role="alert"><p>{t('failed', { detail: why })}</p><button type="button" onClick={() => { fail(''); again(round + 1); }}>{t('again')}</button></div>;
        return <p class="small" aria-busy="true">{t('loading')}</p>;
    };
}
