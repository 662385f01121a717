// home: the jobs on this phone; opening one; who works here. The first screens, before any bulletin has its say.
import { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { makeKey, pkcs8Of, publicOf, readSecret, secretFile } from '../bag/bag';
import type { VinRepair } from '../core/core';
import { LANGUAGES } from '../text';
import { nextTask, tasksOf } from '../job/plan';
import { EventError } from '../job/events';
import { readWork } from '../bag/read';
import { save as saveFile } from './finish';
import { useDraft } from './keypad';
import { Act, Frame, Title, VerdictLine, useTaskTitle } from './parts';
import { ScanButton, scannedIn, ScannedNote } from './scan';
import { go, useApp, useSender } from './context';

const ID = /^[a-z0-9]+(-[a-z0-9]+)*$/;

export function FileButton(p: { label: string; accept: string; onFile: (file: File) => void; id: string; capture?: boolean; primary?: boolean }): JSX.Element {
    return (
        <label class={`file ${p.primary ? 'act' : 'second'}`}>{p.label}
            <input type="file" accept={p.accept} data-file={p.id} {...(p.capture ? { capture: 'environment' as const } : {})}
                onChange={(e) => { const file = e.currentTarget.files?.[0]; e.currentTarget.value = ''; if (file !== undefined) p.onFile(file); }} />
        </label>
    );
}

export function Home(): JSX.Element {
    const { app, t, say } = useApp();
    const title = useTaskTitle(), session = useSender()?.session;
    const [said, setSaid] = useState<{ text: string; bad: boolean } | null>(null);
    const foot = <Act id="open" onClick={() => go(app.settings.technician === '' ? 'settings/open' : 'open')}>{t('open-job')}</Act>;
    const add = async (file: File) => {
        try {
            const work = await readWork(file), before = app.jobs.reduce((n, j) => n + j.events.length, 0);
            if (!(await app.seekBulletin(work.file.bulletin.sha256, new URL('./', document.baseURI).href))) return setSaid({ text: t('need-bulletin'), bad: true });
            if ((await app.merge(work.file, work.photos.map((p) => ({ ...p, hashes: [], isFlat: true })))) === null) return setSaid(null); // the banner says why
            setSaid({ text: t('added-events', { n: app.jobs.reduce((n, j) => n + j.events.length, 0) - before }), bad: false });
        } catch (e) {
            if (!(e instanceof Error)) throw e;
            setSaid({ text: t('not-events', { detail: e instanceof EventError ? e.message : e.message }), bad: true });
        }
    };
    return (
        <Frame title={t('jobs')} where={<b>Mendwright</b>} foot={foot}>
            {app.jobs.length === 0 ? <><Title>{t('no-jobs')}</Title><p>{t('no-jobs-why')}</p></> : <Title>{t('jobs')}</Title>}
            {app.jobs.length > 0 && (
                <div class="rows">
                    {app.jobs.map((j) => {
                        const next = nextTask(tasksOf(j.bulletin, j.job, app.acks(j.record.id)));
                        return (
                            <a class="row" key={j.record.id} href={`#/j/${j.record.id}`}>
                                <span><b>{j.record.vin}</b><br /><small>{j.bulletin.bulletin.id} {'\u00b7'} {say(j.bulletin, j.bulletin.bulletin.title)}</small></span>
                                <small>{next === null ? t('finished') : t('next-is', { task: title(j, next) })}</small>
                            </a>
                        );
                    })}
                </div>
            )}
            <p class="small">{t('saved-here')}</p>
            {session?.csrf !== undefined && typeof session.shop === 'string' && <p><a class="second" data-act="shop-jobs" href="#/join">{t('join-list')}</a></p>}
            <p><a class="second" data-act="practice" href="#/practice">{t('practice')}</a></p>
            <FileButton id="events" label={t('add-events')} accept=".json,.zip,application/json,application/zip" onFile={(f) => void add(f)} />
            {said !== null && <p class={`say${said.bad ? ' bad' : ''}`} role="status">{said.text}</p>}
        </Frame>
    );
}

// ---- open a job ----

/** The few that are shown: the likeliest, and the likeliest of two characters that changed places, which is how people mistype. */
function likeliest(repairs: VinRepair[]): VinRepair[] {
    const first = repairs.slice(0, 4), swap = repairs.find((r) => r.kind === 'swap');
    return swap === undefined || first.includes(swap) ? first : [...first, swap];
}

/** vin, bulletin: from a link such as #/open/VIN/OV-26-03 (a code on the job sheet); "" when there is none. */
export function Open(p: { vin: string; bulletin: string }): JSX.Element {
    const tools = useApp(), { app, t, say } = tools;
    const [vin, setVin] = useDraft('open/vin'), [chosen, setChosen] = useDraft('open/bulletin');
    const [failed, setFailed] = useState(false);
    // Bulletins come in while this is on the screen: on a phone that has just been let in the one that is named may be the last of them.
    const unread = app.draft('open/scanned') === '' ? '' : (JSON.parse(app.draft('open/scanned')) as { bulletin: string }).bulletin, asked = unread !== '' ? unread : p.bulletin;
    const named = app.bulletins.find((x) => x.bulletin.id === asked)?.sha256;
    useEffect(() => { if (p.vin !== '') setVin(p.vin.slice(0, 24)); }, [p.vin]);
    useEffect(() => { if (named !== undefined) setChosen(named); else if (asked !== '') setChosen(''); }, [named, asked]);
    const text = vin.toUpperCase().replace(/[\s-]/g, ''), check = app.core.vinCheck(text);
    const b = app.bulletins.find((x) => x.sha256 === chosen) ?? app.bulletins[0];
    const repairs = check.fault === 'check' || (check.fault === 'character' && text.length === 17) ? likeliest(app.core.vinRepair(text)) : [];
    const scanned = scannedIn(tools, 'open/scanned', vin), missing = named === undefined ? asked : '';
    // In place of one that is named and not here no other is taken, unless somebody chooses it.
    const isPicked = missing === '' || b?.sha256 === chosen;
    const isForm = check.fault === 'none' || check.fault === 'check';
    const isOpen = b !== undefined && isPicked && (check.fault === 'none' || (check.fault === 'check' && b.scope.vin.check !== 'required'));
    const message = text === '' ? '' : check.fault === 'length' ? (text.length > 17 ? t('vin-long') : t('vin-short', { n: text.length })) : check.fault === 'character' ? t('vin-character', { n: check.at + 1 })
        : check.fault === 'check' ? `${t('vin-check', { found: check.found, expected: check.expected })} ${t(b?.scope.vin.check === 'required' ? 'vin-required' : 'vin-advisory')}` : t('vin-good');
    const bad = text !== '' && (check.fault === 'character' || check.fault === 'check' || text.length > 17);
    const years = check.years.length === 2 ? t('vin-or', { a: check.years[0]!, b: check.years[1]! }) : String(check.years[0] ?? '');
    const open = async () => {
        const id = await app.openJob(b!, check.vin);
        if (id === null) return setFailed(true);
        app.dropDrafts('open/');
        go(`j/${id}`);
    };
    const addBulletin = async (file: File) => {
        try {
            setFailed(!(await app.addBulletin(JSON.parse(await file.text()))));
        } catch {
            setFailed(true);
        }
    };
    if (b === undefined) {
        return (
            <Frame title={t('open-job')} back="" where={<b>{t('open-job')}</b>}>
                <Title>{t('no-bulletin')}</Title><p>{t('no-bulletin-why')}</p>
                <FileButton id="bulletin" label={t('add-bulletin')} accept=".json,application/json" onFile={(f) => void addBulletin(f)} />
                {failed && <p class="say bad" role="status">{t('not-a-bulletin')}</p>}
            </Frame>
        );
    }
    return (
        <Frame title={t('open-job')} back="" where={<b>{t('open-job')}</b>} invented={b.bulletin.invented}
            foot={<Act id="open-job" off={!isOpen} onClick={() => void open()}>{t('open-job')}</Act>}>
            <Title>{t('open-job')}</Title>
            <label class="field"><span>{t('vin')}</span>
                <span class={`entry${bad ? ' bad' : ''}`}>
                    <input class="code" type="text" autocapitalize="characters" autocomplete="off" spellcheck={false} maxLength={24} data-field="vin" aria-describedby="vin-say" value={vin} onInput={(e) => setVin(e.currentTarget.value)} />
                </span>
            </label>
            <p id="vin-say" class={`say${bad ? ' bad' : ''}`} aria-live="polite">{message}{isForm && years !== '' && text.length === 17 && ` ${t('vin-years', { years })}`}</p>
            <ScannedNote scanned={scanned} />
            {missing !== '' && <p class="say bad" role="status" data-missing>{t('scanned-no-bulletin', { id: missing })}</p>}
            {repairs.length > 0 && (
                <>
                    <p>{t('vin-repairs')}</p>
                    <div class="rows">
                        {repairs.map((r) => (
                            <button type="button" class="row" key={r.vin} data-repair={r.vin} onClick={() => setVin(r.vin)}>
                                <b class="whole">{r.vin}</b><small>{r.kind === 'swap' ? t('vin-change-swap', { n: r.at }) : t('vin-change', { n: r.at, was: r.was, now: r.now })}</small>
                            </button>
                        ))}
                    </div>
                </>
            )}
            <ScanButton to="open" />
            <label class="field"><span>{t('bulletin')}</span>
                <select value={isPicked ? b.sha256 : ''} onChange={(e) => setChosen(e.currentTarget.value)}>
                    {!isPicked && <option value="">{t('choose-bulletin')}</option>}
                    {app.bulletins.map((x) => <option key={x.sha256} value={x.sha256}>{`${x.bulletin.id}, ${t('lead', { name: t('revision', { n: x.bulletin.revision }) })} ${say(x, x.bulletin.title)}`}</option>)}
                </select>
            </label>
            {isPicked && <p class="small" lang={b.bulletin.language}>{say(b, b.bulletin.summary)}</p>}
            <FileButton id="bulletin" label={t('add-bulletin')} accept=".json,application/json" onFile={(f) => void addBulletin(f)} />
            {failed && <p class="say bad" role="status">{t('not-a-bulletin')}</p>}
        </Frame>
    );
}

// ---- settings ----

/** The shop's signing key: brought from a file, or made here; its public half is what the owner needs. */
function KeyPart({ shop }: { shop: string }): JSX.Element {
    const { app, t } = useApp(), key = app.settings.key, [said, setSaid] = useState<string | null>(null);
    const addKey = async (file: File) => {
        const secret = readSecret(await file.text());
        if (secret === null) return setSaid(t('key-bad'));
        const pkcs8 = pkcs8Of(secret.seed), publicHex = await publicOf(pkcs8);
        if (publicHex === null) return setSaid(t('key-cannot'));
        await app.saveSettings({ key: { shop: secret.shop, publicHex, pkcs8 } });
        setSaid(null);
    };
    const make = async () => {
        const made = await makeKey(shop);
        if (made === null) return setSaid(t('key-cannot'));
        await app.saveSettings({ key: made });
        setSaid(null);
    };
    return (
        <>
            <h2>{t('key')}</h2>
            <p>{key === null ? t('key-none') : t('key-has', { shop: key.shop })}</p>
            {key === null ? (
                <>
                    <FileButton id="key" label={t('key-add')} accept="*" onFile={(f) => void addKey(f)} />
                    <button type="button" class="second" data-act="make-key" disabled={shop === ''} onClick={() => void make()}>{t('key-make')}</button>
                    <p class="small">{t('key-make-why')}</p>
                </>
            ) : (
                <>
                    <p class="small">{t('key-public')}</p>
                    <p class="public-key" data-public={key.publicHex}>{key.publicHex}</p>
                    <button type="button" class="second" data-act="save-key" onClick={() => saveFile(new Blob([secretFile(key)], { type: 'text/plain' }), `${key.shop}.key`)}>{t('key-save')}</button>
                    <p class="small">{t('key-save-why')}</p>
                    <button type="button" class="second" data-act="remove-key" onClick={() => void app.saveSettings({ key: null })}>{t('key-remove')}</button>
                </>
            )}
            {said !== null && <p class="say bad" role="status">{said}</p>}
        </>
    );
}

export function SettingsPage({ then }: { then: string }): JSX.Element {
    const { app, t } = useApp();
    const [technician, setTechnician] = useDraft('settings/technician'), [shop, setShop] = useDraft('settings/shop');
    const name = technician || app.settings.technician, place = shop || app.settings.shop;
    const good = ID.test(name) && name.length <= 48 && ID.test(place) && place.length <= 48;
    const save = async () => {
        if (!(await app.saveSettings({ technician: name, shop: place }))) return;
        app.dropDrafts('settings/');
        go(then);
    };
    const id = (label: string, value: string, set: (v: string) => void, example: string, field: string) => {
        const bad = value !== '' && !ID.test(value);
        return (
            <label class="field"><span>{label}</span>
                <span class={`entry${bad ? ' bad' : ''}`}><input type="text" autocapitalize="none" autocomplete="off" spellcheck={false} maxLength={48} data-field={field} value={value} onInput={(e) => set(e.currentTarget.value.toLowerCase().replace(/[ _]/g, '-'))} /></span>
                <span class={`say${bad ? ' bad' : ''}`}>{bad ? t('bad-id', { example }) : ''}</span>
            </label>
        );
    };
    return (
        <Frame title={t('settings')} back={then === '' ? '' : ''} where={<b>{t('settings')}</b>} foot={<Act id="save" off={!good} onClick={() => void save()}>{t('save')}</Act>}>
            <Title>{t('who')}</Title>
            <p class="small">{t('who-why')}</p>
            {id(t('technician'), name, setTechnician, 'ines', 'technician')}
            {id(t('shop'), place, setShop, 'fern-mobile-2', 'shop')}
            <h2>{t('language')}</h2>
            <div class="choices">
                {LANGUAGES.map(([code, label]) => <button type="button" key={code} lang={code} data-language={code} aria-pressed={app.settings.language === code} onClick={() => void app.saveSettings({ language: code })}>{label}</button>)}
            </div>
            <KeyPart shop={ID.test(place) ? place : ''} />
        </Frame>
    );
}

export function NoJob(): JSX.Element {
    const { t } = useApp();
    return <Frame title={t('jobs')} back="" where={null}><VerdictLine shape="uncertain" word={t('no-jobs')} /></Frame>;
}
