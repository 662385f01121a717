// banners: the few things that concern every screen: a failed write, no network, a newer version, a clock that went back.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { useApp } from './context';

export function useOnline(): boolean {
    const [online, set] = useState(navigator.onLine);
    useEffect(() => {
        const look = () => set(navigator.onLine);
        addEventListener('online', look);
        addEventListener('offline', look);
        return () => { removeEventListener('online', look); removeEventListener('offline', look); };
    }, []);
    return online;
}

export function Banners(): JSX.Element | null {
    const { app, t } = useApp();
    const behind = Math.round(app.clockBehind() / 60000);
    return (
        <>
            {app.trouble !== null && <div class="banner stop" role="alert"><span>{app.trouble.kind === 'storage-full' ? t('storage-full') : t('store-failed', { detail: app.trouble.detail })}</span></div>}
            {behind > 1 && <div class="banner stop" role="status"><span>{t('clock-behind', { n: behind })}</span></div>}
            {app.update !== null && <div class="banner" role="status"><span>{t('update-waits')}</span><button type="button" class="plain-button" onClick={() => app.update?.()}>{t('update-take')}</button></div>}
        </>
    );
}
