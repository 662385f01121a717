// motion: moves what moves in the drawing, without drawing it anew: the room in plan, its scale's wedge, the racks and pinions of the four details. One
// place knows how a pose (how far each side is out) becomes attributes; a run is a list of samples of the model, shown at its true speed or faster.
import type { Sample } from '../core/practice';
import { BORES, FIRST_BORE, INNER_END, PITCH, turned } from './gear';

export const PLAN_SCALE = 0.11, DETAIL_SCALE = 3; // px of the drawing a mm
export const APART_MM = 5, APART_TIMES = 4; // sides further apart than can be overlooked are drawn that many times as far
export const TRACK_MM = 2360, WALL_Y = 152, MIDDLE_X = 230;

const END_MM = 45; // the window shows 28 mm either way

export type Pose = readonly [fore: number, aft: number]; // m

/** Every moving thing carries data-moves; root: the element around all drawings. drawnApart: how far apart the sides are drawn, mm, where that is not
 * what the pose says. */
export function pose(root: HTMLElement | null, [fore, aft]: Pose, drawnApart?: number): void {
    if (root === null) return;
    const middle = (500 * (fore + aft)), apart = 1000 * (fore - aft), drawn = drawnApart ?? (Math.abs(apart) > APART_MM ? apart * APART_TIMES : 0);
    const turn = (-Math.atan2(drawn, TRACK_MM) * 180) / Math.PI;
    for (const e of root.querySelectorAll<SVGElement>('[data-moves]')) {
        const [what, side] = e.dataset['moves']!.split('/') as [string, string | undefined], s = 1000 * (side === '1' ? aft : fore);
        if (what === 'room') e.setAttribute('transform', `rotate(${turn.toFixed(4)} ${MIDDLE_X} ${WALL_Y}) translate(0 ${(PLAN_SCALE * middle).toFixed(3)})`);
        else if (what === 'wedge') e.setAttribute('transform', `translate(0 ${(PLAN_SCALE * middle).toFixed(3)})`);
        // Of a rack, what can be seen: near its free end the end, elsewhere a piece that goes on and on; a whole rack would be 170 teeth a frame.
        else if (what === 'rack' || what === 'bar') {
            const hasEnd = INNER_END + s + Number(e.dataset['ahead']) > -END_MM, at = what === 'rack' ? s : s % PITCH;
            e.setAttribute('visibility', hasEnd === (what === 'rack') ? 'visible' : 'hidden');
            e.setAttribute('transform', `translate(0 ${(DETAIL_SCALE * at).toFixed(3)})`);
        } else if (what === 'bore') e.setAttribute('transform', `translate(0 ${(DETAIL_SCALE * ((FIRST_BORE + s) % BORES)).toFixed(3)})`);
        else if (what === 'pinion') e.setAttribute('transform', `rotate(${(turned(s) % 360).toFixed(3)})`);
        else if (what === 'spin') e.setAttribute('transform', `rotate(${((turned(s) * (e.dataset['way'] === '-' ? -1 : 1)) % 360).toFixed(2)} ${e.dataset['about'] ?? '0 0'})`);
    }
}

/** Where both sides are at a time of the run, on straight lines between samples. */
export function poseAt(samples: readonly Sample[], time: number): Pose {
    const last = samples[samples.length - 1]!;
    if (time >= last.time) return last.at;
    let low = 0, high = samples.length - 1;
    while (high - low > 1) { const mid = (low + high) >> 1; if (samples[mid]!.time <= time) low = mid; else high = mid; }
    const a = samples[low]!, b = samples[high]!, part = b.time > a.time ? Math.max(0, (time - a.time) / (b.time - a.time)) : 1;
    return [a.at[0] + (b.at[0] - a.at[0]) * part, a.at[1] + (b.at[1] - a.at[1]) * part];
}

export interface Playing { stop(): void; speed(times: number): void }

/** Shows a run; `done` is called once, at its end or when it is stopped short. Frames are counted where whoever measures finds them (performance entries). */
export function playRun(root: HTMLElement | null, samples: readonly Sample[], times: number, done: () => void): Playing {
    let speed = times, shown = 0, was = -1, frame = 0, frames = 0, isOver = samples.length === 0;
    const began = performance.now(), end = samples[samples.length - 1]?.time ?? 0;
    const finish = () => {
        if (isOver) return;
        isOver = true;
        cancelAnimationFrame(frame);
        pose(root, samples[samples.length - 1]!.at);
        performance.measure('practice-run', { start: began, detail: { frames } });
        done();
    };
    const step = (now: number) => {
        if (was >= 0) shown += ((now - was) / 1000) * speed;
        was = now;
        frames++;
        if (shown >= end) return finish();
        pose(root, poseAt(samples, shown));
        frame = requestAnimationFrame(step);
    };
    if (isOver) done(); else frame = requestAnimationFrame(step);
    return { stop: finish, speed: (n) => { speed = n; } };
}
