// send: how far a bag is on its way to the maker, in words, and what to do where it does not go on by itself.
import { JSX } from 'preact';
import { Outgoing } from '../store/app';
import { Sender } from '../send/sender';
import { useApp } from './context';

export function SendState({ sender, sent }: { sender: Sender; sent: Outgoing | null }): JSX.Element {
    const { t } = useApp(), role = sender.session?.role;
    const who = role === 'nobody' ? t('send-sign-in') : role !== undefined && sender.session?.shop ? t('send-as', { name: sender.session.name ?? '', shop: sender.session.shop }) : '';
    if (sent === null) return <p class="small">{who === '' ? t('send-why') : who}</p>;
    const word = sent.state === 'sent' ? t('send-sent', { claim: sent.detail }) : sent.state === 'refused' ? t('send-refused', { detail: sent.detail })
        : sent.detail === 'sign-in' ? t('send-sign-in') : sent.detail.startsWith('photos ') ? t('send-photos', { n: sent.detail.slice(7) }) : sent.detail.endsWith('%') ? t('send-part', { done: sent.detail }) : t('send-waiting');
    return <p class={sent.state === 'refused' ? 'stop-text' : 'say'} role="status" data-sent={sent.state}><b>{word}</b></p>;
}
