// truingdraw: the opening as seen from outside: each reading at its corner, room leaning as the readings say (exaggerated, and by how
// much is written), and the plan where the packing goes. Places come from the points' two-level factors; draws what the core computed.
import { JSX } from 'preact';
import { instrumentU, TruingProblem } from '../bulletin/adapt';
import type { Adjuster, Point } from '../bulletin/types';
import type { OpenJob } from '../store/app';
import { PointStrip, uText, beyondText } from './readings';
import { useApp } from './context';

/** Points can be placed when they say on which side and at which height they are. */
export const hasPlaces = (p: TruingProblem): boolean => p.points.filter((x) => 'side' in x.factors && 'height' in x.factors).length >= 4;

interface Corner { side: number; height: number; points: { point: Point; i: number }[] }

function cornersOf(p: TruingProblem): Corner[] {
    const corners = [[1, 1], [-1, 1], [1, -1], [-1, -1]].map(([side, height]): Corner => ({ side: side!, height: height!, points: [] }));
    p.points.forEach((point, i) => corners.find((c) => c.side === point.factors['side'] && c.height === point.factors['height'])?.points.push({ point, i }));
    corners.forEach((c) => c.points.sort((a, b) => (a.point.factors['travel'] ?? 0) - (b.point.factors['travel'] ?? 0)));
    return corners;
}

/** Where an adjuster acts: the middle of the points it moves, each weighted by how much. */
function placeOf(a: Adjuster, p: TruingProblem): { side: number; height: number } {
    let side = 0, height = 0, all = 0;
    for (const x of p.points) {
        const weight = Math.abs(a.effects[x.id]?.nano ?? 0);
        side += weight * (x.factors['side'] ?? 0);
        height += weight * (x.factors['height'] ?? 0);
        all += weight;
    }
    return all === 0 ? { side: 0, height: 0 } : { side: side / all, height: height / all };
}

const W = 360, H = 330, WALL = 34, TOP = 30, BOTTOM = 300, LEFT = 46, RIGHT = W - 46;

export function TruingDrawing({ open, problem, plan }: { open: OpenJob; problem: TruingProblem; plan: number | null }): JSX.Element {
    const tools = useApp(), { app, t, show, figure, stationName } = tools, b = open.bulletin, isSwapped = app.settings.mirrored;
    const corners = cornersOf(problem), sign = isSwapped ? -1 : 1, steps = plan === null ? null : problem.answer.plans[plan]?.steps ?? null;
    const isLeft = (side: number) => side * sign > 0;
    const deviation = (c: Corner) => c.points.length === 0 ? 0 : c.points.reduce((n, x) => n + Number(problem.readings[x.i]! - BigInt(x.point.nominal.nano)), 0) / c.points.length;
    const worst = Math.max(...corners.map((c) => Math.abs(deviation(c))), 1), px = 9; // drawn px of the worst lean
    // A gap is drawn 24 px wide where it is nominal, so that is the drawing's own scale; leans are drawn this many times as large.
    const gapPx = 24 / Math.max(Number(problem.points[0]!.nominal.nano), 1), factor = Math.max(1, Math.round(px / (worst * gapPx))), lean = (c: Corner) => (deviation(c) / worst) * px;
    const corner = (side: number, height: number) => corners.find((c) => c.side === side && c.height === height)!;
    const at = (c: Corner): [number, number] => {
        const gap = 24 + lean(c);
        return [isLeft(c.side) ? LEFT + gap : RIGHT - gap, c.height > 0 ? TOP + 12 : BOTTOM - 12];
    };
    const [lt, lb, rt, rb] = [at(corner(sign, 1)), at(corner(sign, -1)), at(corner(-sign, 1)), at(corner(-sign, -1))];
    const name = (side: number) => { const id = corner(side, 1).points[0]?.point.station ?? ''; return stationName(b, id === '' ? null : id); };
    const say = (n: number) => (n > 0 ? `+${n}` : `\u2212${-n}`);
    const slots = new Map<string, number>(), us = new Set(problem.u.map((u) => Math.round(u))), sameU = us.size === 1 ? uText(tools, problem.u[0]!, problem.points[0]!.nominal.unit) : null;
    const rowY = (height: number, rows: number, k: number) => (height > 0 ? TOP + 42 : BOTTOM - 28 - 22 * (rows - 1)) + 22 * k;
    return (
        <div>
            <svg class="drawing" viewBox={`0 0 ${W} ${H}`} role="img" aria-label={t('from-outside')}>
                <rect class="d-wall" x={LEFT - WALL} y={TOP - 6} width={WALL} height={BOTTOM - TOP + 12} /><rect class="d-wall" x={RIGHT} y={TOP - 6} width={WALL} height={BOTTOM - TOP + 12} />
                <path class="d-line" d={`M${LEFT} ${TOP - 6}V${BOTTOM + 6}M${RIGHT} ${TOP - 6}V${BOTTOM + 6}`} stroke-width="2" />
                <path class="d-room" d={`M${lt} L${rt} L${rb} L${lb} Z`} />
                <text x={LEFT} y="18" class="soft" text-anchor="middle">{name(sign)}</text><text x={RIGHT} y="18" class="soft" text-anchor="middle">{name(-sign)}</text>
                <text x={W / 2} y="160" class="soft" text-anchor="middle">{t('from-outside')}</text><text x={W / 2} y="176" class="soft" text-anchor="middle">{t('leans', { n: factor })}</text>
                {sameU !== null && <text x={W / 2} y="192" class="soft" text-anchor="middle">{`${show(0n, problem.points[0]!.nominal.unit).unit} \u00b1${sameU}`}</text>}
                {corners.map((c) => (
                    <g key={`${c.side}${c.height}`}>
                        {c.points.map(({ point, i }, k) => {
                            const v = problem.answer.points[i]!.verdict, left = isLeft(c.side), x = left ? LEFT + 46 : RIGHT - 46, y = rowY(c.height, c.points.length, k);
                            const s = show(problem.readings[i]!, point.nominal.unit);
                            return (
                                <g key={point.id} data-corner={point.id}>
                                    <text x={x} y={y} text-anchor={left ? 'start' : 'end'} class={`fig${v === 'outside' ? ' d-stop-text' : ''}`}>{s.text}{sameU === null && <tspan class="soft"> {'\u00b1'}{uText(tools, problem.u[i]!, point.nominal.unit)}</tspan>}</text>
                                    {v === 'outside' && <path class="d-stop" d={left ? `M${x - 12} ${y - 10}v10l8-5z` : `M${x + 12} ${y - 10}v10l-8-5z`} />}
                                    {v === 'uncertain' && <path class="d-line" d={left ? `M${x - 12} ${y - 10}v10l8-5z` : `M${x + 12} ${y - 10}v10l-8-5z`} />}
                                </g>
                            );
                        })}
                    </g>
                ))}
                {[1, -1].flatMap((height) => corner(sign, height).points.map(({ point }, k, list) => point.extension === null ? null : (
                    <text key={`${height}${k}`} x={W / 2} y={rowY(height, list.length, k) - 1} class="soft" text-anchor="middle">{t('is-out', { n: figure(BigInt(point.extension.nano), point.extension.unit) })}</text>
                )))}
                {steps !== null && problem.adjusters.map((a, i) => {
                    const n = steps[i]!;
                    if (n === 0) return null;
                    const place = placeOf(a, problem), left = isLeft(place.side), middle = Math.abs(place.side) < 0.2;
                    const slot = `${Math.round(place.side)}/${Math.round(place.height * 2)}`, used = slots.get(slot) ?? 0;
                    slots.set(slot, used + 1);
                    const cx = middle ? W / 2 : left ? LEFT - 22 : RIGHT + 22, cy = (TOP + BOTTOM) / 2 - place.height * ((BOTTOM - TOP) / 2 - 44) + used * 46;
                    return (
                        <g key={a.id} data-packing={a.id}>
                            {Array.from({ length: Math.min(Math.abs(n), 6) }, (_, k) => <rect key={k} x={cx - 12} y={cy - 4 - k * 6} width="24" height="4" class={n > 0 ? 'd-act' : 'd-ghost'} />)}
                            <text x={cx} y={cy + 17} text-anchor="middle" class="fig d-act-text">{say(n)}</text>
                        </g>
                    );
                })}
            </svg>
            <button type="button" class="plain-button" onClick={() => void app.saveSettings({ mirrored: !isSwapped })}>{t('swap-sides')}</button>
        </div>
    );
}

/** Every reading on its strip, with where the plan brings it as an open wedge. */
export function Strips({ problem, plan, open }: { problem: TruingProblem; plan: number | null; open: OpenJob }): JSX.Element {
    const tools = useApp(), { t, say, langOf, figure, app } = tools, b = open.bulletin;
    return (
        <div class="rows">
            {problem.points.map((p, i) => {
                const r = problem.readings[i]!, v = problem.answer.points[i]!, after = plan === null ? undefined : problem.answer.plans[plan]?.predicted[i];
                const judged = { simple: v.verdict, guarded: v.verdict, guard: 0n, low: v.low, high: v.high, margin: 0n, p: v.p };
                return (
                    <div key={p.id} data-strip={p.id} data-verdict={v.verdict}>
                        <div class="row"><span lang={langOf(b, p.name)}>{say(b, p.name)}</span><b class={v.verdict === 'outside' ? 'stop-text' : ''} style={{ whiteSpace: 'nowrap' }}>{figure(r, p.nominal.unit)}</b></div>
                        <PointStrip point={p} reading={r} answer={judged} u={instrumentU(app.core, b, p.instrument)} after={after} />
                        <div class="row small"><span class={v.verdict === 'outside' ? 'stop-text' : ''}>{v.verdict === 'outside' ? beyondText(tools, p, r) ?? t('outside') : t(v.verdict)}</span>{after !== undefined && after !== r && <span style={{ color: 'var(--act)' }}>{t('predicted', { n: figure(after, p.nominal.unit) })}</span>}</div>
                    </div>
                );
            })}
        </div>
    );
}
