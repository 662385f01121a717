// read: another phone's work, from its events.json or its bag; bounded, and refused with a reason.
import { EventError, EventFile, readEvents } from '../job/events';
import { sha256 } from './bag';
import { readZip } from './zip';

const SIZE_MAX = 512 * 1024 * 1024;

export interface Work { file: EventFile; photos: { path: string; sha256: string; bytes: ArrayBuffer }[] }

export async function readWork(file: File): Promise<Work> {
    if (file.size > SIZE_MAX) throw new EventError('the file is larger than 512 MiB');
    const bytes = new Uint8Array(await file.arrayBuffer());
    if (bytes[0] !== 0x50 || bytes[1] !== 0x4b) return { file: readEvents(new TextDecoder('utf-8', { fatal: true }).decode(bytes)), photos: [] };
    const inside = readZip(bytes), events = inside.find((f) => /^[^/]+\/data\/events\.json$/.test(f.path));
    if (events === undefined) throw new EventError('the zip holds no data/events.json');
    const data = events.path.slice(0, -'events.json'.length), list = readEvents(new TextDecoder('utf-8', { fatal: true }).decode(events.bytes));
    const photos: Work['photos'] = [];
    for (const e of list.events) {
        if (e.type !== 'photo_taken') continue;
        const found = inside.find((f) => f.path === data + String(e.payload['path']));
        if (found === undefined) throw new EventError(`the zip lacks ${String(e.payload['path'])}`);
        const sum = await sha256(new Uint8Array(found.bytes));
        if (sum !== e.payload['sha256']) throw new EventError(`${String(e.payload['path'])} is not the picture that its entry names`);
        photos.push({ path: String(e.payload['path']), sha256: sum, bytes: new Uint8Array(found.bytes).buffer });
    }
    return { file: list, photos };
}
