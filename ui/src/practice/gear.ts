// gear: the shapes of a pinion and of a rack that truly mesh: module 2, 18 teeth, 20 degrees (ISO 53), drawn to scale. Pure geometry for the drawing; what
// turns how far comes from the model. Units: mm; y is out of the wall, so the rack of a room that runs out moves to +y and the pinion turns clockwise on the
// drawing.
export const MODULE = 2, TEETH = 18, PITCH = Math.PI * MODULE, RADIUS = (MODULE * TEETH) / 2, ADDENDUM = MODULE, DEDENDUM = 1.25 * MODULE;
const ANGLE = (20 * Math.PI) / 180, BACKLASH = 0.12; // of tooth thickness, drawn so that the flanks do not run into one line

const inv = (a: number): number => Math.tan(a) - a; // involute function

/** The pinion's outline about its middle; a tooth points to +x at angle 0. */
export function pinionPath(k: number): string {
    const base = RADIUS * Math.cos(ANGLE), tip = RADIUS + ADDENDUM, root = RADIUS - DEDENDUM, points: [number, number][] = [];
    const half = (r: number) => (Math.PI / 2 - BACKLASH / MODULE) / TEETH + inv(ANGLE) - inv(Math.acos(Math.min(1, base / r)));
    for (let t = 0; t < TEETH; t++) {
        const middle = (2 * Math.PI * t) / TEETH, radii = [root, base, base + 0.5, RADIUS - 0.4, RADIUS, RADIUS + 0.7, RADIUS + 1.4, tip];
        for (const r of radii) points.push([r, middle - half(Math.max(r, base))]);
        for (const r of [...radii].reverse()) points.push([r, middle + half(Math.max(r, base))]);
    }
    return 'M' + points.map(([r, a]) => `${(k * r * Math.cos(a)).toFixed(2)} ${(k * r * Math.sin(a)).toFixed(2)}`).join('L') + 'Z';
}

/** The rack at extension 0, pitch line at x = 0, teeth to -x, a space at y = 0 where the pinion's tooth is. It goes from `inner` (its free end, a negative
 * y) to `outer`; `back`: how thick it is behind its teeth. */
export function rackPath(k: number, inner: number, outer: number, back: number): string {
    const slope = Math.tan(ANGLE), points: [number, number][] = [[back, inner]], wide = PITCH / 4 - BACKLASH / 2;
    // One tooth, cut off where the rack ends.
    const xAt = (y: number, middle: number): number => { const d = Math.abs(y - middle), x = (d - wide) / slope; return Math.max(-ADDENDUM, Math.min(DEDENDUM, x)); };
    const middleOf = (y: number) => (Math.floor(y / PITCH) + 0.5) * PITCH;
    points.push([xAt(inner, middleOf(inner)), inner]);
    for (let n = Math.floor(inner / PITCH); (n + 0.5) * PITCH < outer + PITCH; n++) {
        const c = (n + 0.5) * PITCH;
        for (const [x, dy] of [[DEDENDUM, -(wide + DEDENDUM * slope)], [-ADDENDUM, -(wide - ADDENDUM * slope)], [-ADDENDUM, wide - ADDENDUM * slope], [DEDENDUM, wide + DEDENDUM * slope]] as const) {
            const y = c + dy;
            if (y > inner && y < outer) points.push([x, y]);
        }
    }
    points.push([xAt(outer, middleOf(outer)), outer], [back, outer]);
    return 'M' + points.map(([x, y]) => `${(k * x).toFixed(2)} ${(k * y).toFixed(2)}`).join('L') + 'Z';
}

/** The n-th tooth (0 the first whole one from the free end `inner` of a rack that was cut right) as a shape of its own. */
export function toothPath(k: number, middle: number): string {
    const slope = Math.tan(ANGLE), wide = PITCH / 4 - BACKLASH / 2;
    return 'M' + [[DEDENDUM, -(wide + DEDENDUM * slope)], [-ADDENDUM, -(wide - ADDENDUM * slope)], [-ADDENDUM, wide - ADDENDUM * slope], [DEDENDUM, wide + DEDENDUM * slope]]
        .map(([x, dy]) => `${(k * x!).toFixed(2)} ${(k * (middle + dy!)).toFixed(2)}`).join('L') + 'Z';
}

/** Where the free end stands at extension 0: 155 pitches in, in the middle of a space; at the outer stop 13.9 mm inside of the pinion's middle. */
export const INNER_END = -155 * PITCH;
/** Bores of the rack, mm apart; the first from the end on. */
export const BORES = 80, FIRST_BORE = INNER_END + 12;
/** The painted tooth: the second whole one from the end. */
export const PAINTED = INNER_END + 1.5 * PITCH;
/** Degrees that a pinion has turned when its rack has moved by mm. */
export const turned = (mm: number): number => ((mm / RADIUS) * 180) / Math.PI;
