// lazy: the door to the practice pages, which come in a bundle of their own when somebody goes there, so that the first load does not grow by them.
import { FunctionComponent, JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { Frame, Title } from './parts';
import { useApp } from './context';

type Page = FunctionComponent<{ rest: readonly string[] }>;
let come: Page | null = null;

export function Lazy({ rest }: { rest: readonly string[] }): JSX.Element {
    const { t } = useApp(), [page, setPage] = useState<{ at: Page } | null>(come === null ? null : { at: come }), [failed, setFailed] = useState(false);
    useEffect(() => {
        if (page === null) import('../practice/practice').then((m) => { come = m.Practice; setPage({ at: m.Practice }); }, () => setFailed(true));
    }, []);
    if (page === null) return <Frame title={t('practice')} back="" where={<b>{t('practice')}</b>}>{failed && <><Title>{t('practice')}</Title><p>{t('practice-failed')}</p></>}</Frame>;
    return <page.at rest={rest} />;
}
