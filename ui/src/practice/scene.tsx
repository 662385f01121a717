// scene: the room in its opening, drawn true to proportion: from outside, from above, and the four racks on their pinions enlarged. What moves carries
// data-moves and is placed by motion.ts; what cannot be seen from where the room stands is not drawn (practice_visible), and nothing of a fault shows here
// that would not show in life. Only the debrief draws what was true, larger than it is, and says by how much.
import { JSX } from 'preact';
import { ADJUSTERS, GAP_AT_NM, OpName, Scene, SEE } from '../core/practice';
import type { Reading } from './account';
import { ADDENDUM, BORES, DEDENDUM, INNER_END, PAINTED, PITCH, pinionPath, rackPath, RADIUS, toothPath } from './gear';
import { APART_TIMES, DETAIL_SCALE, MIDDLE_X, PLAN_SCALE, WALL_Y } from './motion';
import { PTools, signed, usePractice } from './use';

/** Where the last tool is being held, and what it shows. */
export interface Held { name: OpName; side: number; place: number; text: string }
export interface Drawn {
    scene: Scene; /** steps that the learner moved, in the order of ADJUSTERS */ moved: readonly number[]; held: Held | null; readings: ReadonlyMap<string, Reading>;
    /** For the debrief: deviations of the true gaps from nominal, mm, fore upper, fore lower, aft upper, aft lower; drawn `times` as large. */ truth?: { off: readonly number[]; times: number } | undefined;
    isRunning?: boolean;
}

const K = PLAN_SCALE, W = 460, H = 352, X = (mm: number) => MIDDLE_X - K * mm, Y = (z: number) => 16 + (2150 - z) * K;
const FACE = 1258, HALF = 1200, COLUMN = 100;
const box = (x1: number, x2: number, z1: number, z2: number) => ({ x: Math.min(X(x1), X(x2)), y: Y(Math.max(z1, z2)), width: Math.abs(X(x1) - X(x2)), height: K * Math.abs(z2 - z1) });
/** +1 fore, drawn on the left; -1 aft. */
const signOf = (side: number) => (side === 0 ? 1 : -1);

// ---- from outside ----

const PLATES = 6, PLATE = 2.7; // drawn as found; how many there are in life is nobody's business but the fitter's

function Fixing({ side, place, steps }: { side: number; place: number; steps: number }): JSX.Element {
    const s = signOf(side), z = place === 1 ? 1900 : 100, from = X(s * (FACE + COLUMN)), y = Y(z), n = PLATES + Math.max(0, steps);
    const plate = (k: number) => (s > 0 ? from - PLATE * (k + 1) : from + PLATE * k) + 0.4, end = from - s * (PLATE * n + 3);
    return (
        <g>
            <path class="d-line" d={`M${from + s * 9} ${y}H${end - s * 5}`} stroke-width="2.6" />
            {Array.from({ length: n }, (_, k) => (
                <rect key={k} x={plate(k)} y={y - 7} width={PLATE - 0.9} height="14" class={k >= PLATES ? 'd-act' : k >= PLATES + steps ? 's-gone' : 's-plate'} />
            ))}
            <rect x={Math.min(end, end - s * 5)} y={y - 5} width="5" height="10" class="d-metal" />
            {steps !== 0 && <text x={end - s * 8} y={y + 5} text-anchor={s > 0 ? 'end' : 'start'} class="fig d-act-text">{signed(steps)}</text>}
        </g>
    );
}

function Column({ side }: { side: number }): JSX.Element {
    const s = signOf(side), mid = s * (FACE + COLUMN / 2), drive = (z1: number, z2: number, half: number, cls: string) => <rect {...box(mid - half, mid + half, z1, z2)} class={cls} />;
    return (
        <g>
            <rect {...box(s * FACE, s * (FACE + COLUMN), 20, 1980)} class="s-column" />
            <path class="s-shaft" d={`M${X(mid)} ${Y(460)}V${Y(1580)}`} />
            {drive(1570, 1650, 46, 'd-metal')}{drive(1650, 1830, 34, 's-motor')}
            <path class="d-fine" d={`M${X(mid) - 3} ${Y(1700)}h6M${X(mid) - 3} ${Y(1740)}h6M${X(mid) - 3} ${Y(1780)}h6`} />
            {[500, 1500].map((z) => (
                <g key={z}>
                    {drive(z - 45, z + 45, 42, 'd-metal')}
                    <path class="d-fine" d={[-3, -1, 1, 3].map((d) => `M${X(mid) + d} ${Y(z + 45)}V${Y(z - 45)}`).join('')} />
                    <rect {...box(s * HALF, s * (FACE - 6), z - 32, z + 32)} class="s-rack" />
                </g>
            ))}
        </g>
    );
}

/** The wall of the room that one sees: to proportion, so nothing of a millimetre shows; with `truth` its corners stand off as the true gaps do. */
function RoomFront({ truth }: Pick<Drawn, 'truth'>): JSX.Element {
    const off = (i: number) => (truth === undefined ? 0 : truth.off[i]! * truth.times), edge = (side: number, i: number) => signOf(side) * (HALF - off(i));
    const [lt, lb, rt, rb] = [[X(edge(0, 0)), Y(1990)], [X(edge(0, 1)), Y(0)], [X(edge(1, 2)), Y(1990)], [X(edge(1, 3)), Y(0)]].map((p) => p.join(' '));
    if (truth !== undefined) return <path class="d-room" d={`M${lt} L${rt} L${rb} L${lb} Z`} />;
    return (
        <g>
            <path class="d-room" d={`M${lt} L${rt} L${rb} L${lb} Z`} />
            <rect {...box(1130, -1130, 70, 1920)} class="s-trim" rx="3" />
            <path class="d-fine" d={`M${X(1130)} ${Y(760)}H${X(-1130)}M${X(380)} ${Y(70)}V${Y(760)}M${X(-380)} ${Y(70)}V${Y(760)}`} />
            <rect {...box(820, -820, 960, 1720)} class="s-glass" rx="4" />
            <path class="s-blind" d={Array.from({ length: 9 }, (_, i) => `M${X(800)} ${Y(1690 - 62 * i)}H${X(-800)}`).join('')} />
            <path class="d-line" d={`M${X(0)} ${Y(1720)}V${Y(960)}`} /><rect {...box(820, -820, 960, 1720)} class="s-frame" rx="4" />
            <path class="d-fine" d={Array.from({ length: 5 }, (_, i) => `M${X(-560)} ${Y(600 - 50 * i)}H${X(-980)}`).join('')} />
            <rect {...box(980, 900, 380, 420)} class="s-frame" rx="1" /><rect {...box(520, 440, 380, 420)} class="s-frame" rx="1" />
            {[1080, -1080].map((x) => <circle key={x} cx={X(x)} cy={Y(1850)} r="2" class="s-frame" />)}
        </g>
    );
}

/** Two stands with a screw each, under the room's floor. */
const Stands = () => (
    <g data-stands>
        {[760, -760].map((x) => (
            <g key={x}>
                <path class="s-stand" d={`M${X(x)} ${Y(-10)}V${Y(-250)}M${X(x) - 7} ${Y(-8)}h14M${X(x)} ${Y(-220)}L${X(x) - 15} ${Y(-620)}M${X(x)} ${Y(-220)}L${X(x) + 15} ${Y(-620)}M${X(x) - 10} ${Y(-480)}h20M${X(x) - 19} ${Y(-620)}h8M${X(x) + 11} ${Y(-620)}h8`} />
            </g>
        ))}
    </g>
);

function Readings({ tools, readings }: { tools: PTools; readings: Drawn['readings'] }): JSX.Element {
    return (
        <g>
            {[0, 1].flatMap((side) => [1, 0].flatMap((place) => [0, 1].map((travel) => {
                const r = readings.get(`read-gap/${side}/${place}/${travel}`), left = side === 0, y = Y(place === 1 ? 1560 : 470) + 19 * travel, at = tools.show(BigInt(GAP_AT_NM[travel]!), 'mm').text;
                return r === undefined ? null : (
                    <text key={`${side}${place}${travel}`} x={left ? 3 : W - 3} y={y} text-anchor={left ? 'start' : 'end'} class={r.isStale ? 's-stale' : ''} data-read={r.key}>
                        <tspan class="soft">{at}</tspan>{' '}<tspan class="fig">{tools.bare('read-gap', r.nano)}</tspan>
                    </text>
                );
            })))}
        </g>
    );
}

/** The gauge across a gap, with the corner ringed. */
function GapGauge({ held }: { held: Held }): JSX.Element {
    const s = signOf(held.side), z = held.place === 1 ? 1600 : 400, x = X(s * (FACE - 29)), y = Y(z), r = 15;
    return (
        <g class="s-appear">
            <circle cx={x} cy={y} r={r} class="s-ring" />
            <path class="s-tool" d={`M${X(s * FACE)} ${y - 6}v12M${X(s * HALF)} ${y - 6}v12M${X(s * FACE)} ${y}H${X(s * (HALF - 420))}`} />
            <rect x={Math.min(X(s * (HALF - 60)), X(s * (HALF - 500)))} y={y - 11} width={K * 440} height="22" rx="3" class="s-card" />
            <text x={X(s * (HALF - 280))} y={y + 5} text-anchor="middle" class="fig d-act-text">{held.text}</text>
        </g>
    );
}

export function Elevation(d: Drawn): JSX.Element {
    const tools = usePractice(), { p } = tools, { scene, moved } = d, ground = Y(-620), isScraping = (scene.sees & SEE.scrape) !== 0 && d.truth === undefined;
    const step = (side: number, place: number) => (d.truth !== undefined ? scene.racks[2 * side + place]!.packing : moved[ADJUSTERS.findIndex(([n, s, k]) => n === 'pack' && s === side && k === place)] ?? 0);
    return (
        <svg class="drawing scene" viewBox={`0 0 ${W} ${H}`} role="img" aria-label={p('view-outside')} data-view="outside">
            <rect class="d-wall" x="0" y="6" width={W} height={Y(-110) - 6} /><path class="d-line" d={`M0 6H${W}M0 ${Y(-110)}H${W}`} />
            <path class="s-seam" d={[30, 64, 396, 430].map((x) => `M${x} 8V${Y(-110)}`).join('')} /><rect x="0" y={Y(880)} width={W} height="5" class="s-stripe" /><rect x="0" y={Y(815)} width={W} height="2" class="s-stripe" />
            {[370, -370].map((x) => <g key={x}><circle cx={X(x)} cy={ground - 31} r="31" class="s-wheel" /><circle cx={X(x)} cy={ground - 31} r="15" class="s-hub" /><circle cx={X(x)} cy={ground - 31} r="4" class="s-frame" /></g>)}
            <rect x="0" y={Y(-110)} width={W} height={K * 150} class="s-skirt" /><path class="d-fine" d={`M0 ${Y(-260)}H${W}`} />
            <path class="d-line" d={`M0 ${ground}H${W}`} /><path class="s-earth" d={Array.from({ length: 28 }, (_, i) => `M${8 + 16.4 * i} ${ground + 2}l-6 9`).join('')} />
            <rect {...box(FACE, -FACE, -20, 2010)} class="s-deep" />
            <rect x={X(HALF)} y={Y(-20)} width={2 * K * HALF} height={Math.max(0, 17 * (scene.extension / 960000000))} class="s-shade" />
            {scene.isSupported && d.truth === undefined && <Stands />}
            <RoomFront truth={d.truth} />
            <Column side={0} /><Column side={1} />
            {[0, 1].map((side) => [0, 1].map((place) => <Fixing key={`${side}${place}`} side={side} place={place} steps={step(side, place)} />))}
            <text x={X(FACE + 50)} y="25" text-anchor="middle" class="name">{tools.side(0)}</text><text x={X(-FACE - 50)} y="25" text-anchor="middle" class="name">{tools.side(1)}</text>
            {[0, 1].map((side) => { const n = moved[4 + side] ?? 0, s = signOf(side); return n === 0 || d.truth !== undefined ? null : <text key={side} x={X(s * (FACE + 130))} y={Y(1000) + 5} text-anchor={s > 0 ? 'end' : 'start'} class="fig d-act-text">{`${p('toe-short')} ${signed(n)}`}</text>; })}
            <Readings tools={tools} readings={d.readings} />
            {isScraping && [0, 1].flatMap((side) => [0, 1].map((place) => scene.racks[2 * side + place]!.gap > 0n ? null : <path key={`${side}${place}`} class="d-stop-line" stroke-width="2" d={[-8, 0, 8].map((dy) => `M${X(signOf(side) * 1229) - 7} ${Y(place === 1 ? 1600 : 400) + dy + 4}l14 -8`).join('')} />))}
            {d.held?.name === 'read-gap' && <GapGauge held={d.held} />}
            {d.truth !== undefined && <text x={W / 2} y={Y(1000)} text-anchor="middle" class="soft">{p('drawn-times', { n: d.truth.times })}</text>}
            <text x={W / 2} y={H - 6} text-anchor="middle" class="soft">{p('view-outside')}</text>
        </svg>
    );
}

// ---- from above ----

const Furniture = () => (
    <g>
        <rect x={X(-560)} y={WALL_Y - 92} width="58" height="84" rx="5" class="s-thing" /><rect x={X(-590)} y={WALL_Y - 88} width="51" height="17" rx="4" class="s-thing" />
        <rect x={X(1130)} y={WALL_Y - 60} width="32" height="52" rx="2" class="s-thing" /><rect x={X(1090)} y={WALL_Y - 48} width="9" height="22" rx="1" class="s-thing" />
        <circle cx={X(640)} cy={WALL_Y - 36} r="10" class="s-thing" /><path class="d-fine" d={`M${X(640) + 6} ${WALL_Y - 46}a12 12 0 0 1 0 20`} />
        <rect x={X(420)} y={WALL_Y - 20} width="46" height="13" rx="2" class="s-thing" /><ellipse cx={X(330)} cy={WALL_Y - 13.5} rx="8" ry="4" class="s-thing" />
    </g>
);

const Padlock = ({ x, y }: { x: number; y: number }) => <g class="s-appear"><path class="s-lock-bow" d={`M${x - 4} ${y}v-4a4 4 0 0 1 8 0v4`} /><rect x={x - 6} y={y} width="12" height="9" rx="1.5" class="d-act" /></g>;

function Meter({ x, y, mark, text }: { x: number; y: number; mark: string; text: string }): JSX.Element {
    return <g class="s-appear"><rect x={x - 36} y={y - 14} width="72" height="28" rx="4" class="s-card" /><text x={x} y={y + 5} text-anchor="middle" class="fig d-act-text">{text}</text><text x={x} y={y - 18} text-anchor="middle" class="soft">{mark}</text></g>;
}

export function Plan(d: Drawn): JSX.Element {
    const tools = usePractice(), { p, show } = tools, { scene, held } = d, front = WALL_Y + K * 60, back = WALL_Y - K * 1000, wall = K * 46;
    const room = `M${X(HALF)} ${back}V${front - 5}H${X(1300)}V${front}H${X(-1300)}V${front - 5}H${X(-HALF)}V${back}H${X(-HALF) - wall}V${front - wall - 3}H${X(HALF) + wall}V${back}Z`;
    const isOff = scene.isIsolated, wire = isOff ? 's-wire off' : 's-wire', isApart = (scene.sees & SEE.apart) !== 0;
    return (
        <svg class="drawing scene" viewBox={`0 0 ${W} ${H}`} role="img" aria-label={p('view-above')} data-view="above">
            <rect x="12" y="14" width={W - 24} height={WALL_Y - 14} class="s-floor" /><path class="s-plank" d={Array.from({ length: 8 }, (_, i) => `M14 ${32 + 16 * i}H${W - 14}`).join('')} />
            <rect x={W - 52} y="40" width="36" height="62" rx="2" class="s-thing" /><circle cx={W - 34} cy="58" r="9" class="s-thing" /><path class="d-fine" d={`M${W - 52} 76h36`} />
            <path class="s-body" d={`M12 14V${WALL_Y}H${X(FACE + COLUMN)}M${W - 12} 14V${WALL_Y}H${X(-FACE - COLUMN)}`} />
            <path class="d-fine" d={`M12 14h76l6 -8 9 16 6 -8H${W - 12}`} />
            <path class={wire} d={`M44 56V74M44 94V${WALL_Y - 34}H${X(FACE + 50)}V${WALL_Y - 22}M44 ${WALL_Y - 34}M44 ${100}V26H${W - 44}V${WALL_Y - 34}H${X(-FACE - 50)}V${WALL_Y - 22}`} />
            <rect x="26" y="34" width="36" height="22" rx="2" class="d-metal" /><text x="35" y="50" text-anchor="middle" class="mark">+</text><text x="53" y="50" text-anchor="middle" class="mark">{'\u2212'}</text>
            <circle cx="44" cy="84" r="11" class="s-switch" /><path class="s-lever" d="M44 84V74" transform={isOff ? 'rotate(90 44 84)' : ''} />
            {isOff && <Padlock x={60} y={92} />}
            {[0, 1].map((side) => { const s = signOf(side), x = X(s * (FACE + 50)); return (
                <g key={side}>
                    <rect x={Math.min(X(s * FACE), X(s * (FACE + COLUMN)))} y={WALL_Y - 13} width={K * COLUMN} height="17" class="s-column" />
                    <circle cx={x} cy={WALL_Y - 25} r="7.5" class="s-motor" /><text x={x} y={WALL_Y - 20.5} text-anchor="middle" class="tiny">M</text>
                    <circle cx={x} cy={WALL_Y - 4} r="4.2" class="d-metal" /><path class="d-line" d={`M${x} ${WALL_Y - 8}v4`} data-moves={`spin/${side}`} data-way={side === 0 ? '+' : '-'} data-about={`${x} ${WALL_Y - 4}`} />
                </g>
            ); })}
            {scene.isSupported && [760, -760].map((x) => <path key={x} class="s-stand" d={`M${X(x) - 8} ${WALL_Y + 82}h16v16h-16zl16 16m0 -16l-16 16`} />)}
            <g data-moves="room">
                <path class="s-inside" d={`M${X(HALF) + wall} ${back}V${front - wall - 3}H${X(-HALF) - wall}V${back}Z`} />
                <Furniture />
                <path class="s-room" d={room} />
                {[0, 1].map((side) => { const s = signOf(side), x = X(s * (HALF + 22)); return <g key={side}><path class="s-bar" d={`M${x} ${WALL_Y - K * 974}V${front - 6}`} /><path class="s-teeth" d={`M${x - s * 2.4} ${WALL_Y - K * 974}V${front - 6}`} /></g>; })}
            </g>
            {scene.isSupported && [760, -760].map((x) => <path key={x} class="s-hidden" d={`M${X(x) - 8} ${WALL_Y + 82}h16v16h-16z`} />)}
            <path class="d-fine" d={`M${X(1560)} ${WALL_Y + 7}V${WALL_Y + 7 + K * 960}${[0, 150, 500, 960].map((mm) => `M${X(1560) - 6} ${WALL_Y + 7 + K * mm}h12`).join('')}`} />
            {[0, 150, 960].map((mm) => <text key={mm} x={X(1560) - 9} y={WALL_Y + 12 + K * mm} text-anchor="end" class="soft">{show(BigInt(mm) * 1000000n, 'mm').text}</text>)}
            <g data-moves="wedge"><path class="d-act" d={`M${X(1560)} ${WALL_Y + 7}l11 -6v12z`} /></g>
            {isApart && !d.isRunning && <text x={W - 6} y={H - 24} text-anchor="end" class="d-stop-text">{p('apart-seen', { n: APART_TIMES })}</text>}
            {held?.name === 'read-volts' && <Meter x={held.side === 0 ? 110 : W - 110} y={WALL_Y - 40} mark={tools.side(held.side)} text={held.text} />}
            {held?.name === 'read-amps' && <Meter x={120} y={62} mark={p('o-read-amps')} text={held.text} />}
            {held?.name === 'read-time' && <Meter x={W - 60} y={H - 62} mark={p('o-read-time')} text={held.text} />}
            {held?.name === 'check-tape' && <Meter x={W - 60} y={H - 62} mark={p('o-check-tape')} text={held.text} />}
            <text x={W / 2} y={H - 6} text-anchor="middle" class="soft">{p('view-above')}</text>
        </svg>
    );
}

// ---- the racks on their pinions ----

const S = DETAIL_SCALE, DW = 210, DH = 176, CX = 74, CY = 86, PINION = pinionPath(S), REF = CY + S * (INNER_END + 960);
const ENDLESS = rackPath(S, -14 * PITCH, 14 * PITCH, 11);
const racks = new Map<number, string>();
/** Drawn once for each end there is. */
function rackOf(off: number): string {
    const key = Math.round(off * 100);
    let path = racks.get(key);
    if (path === undefined) { path = rackPath(S, INNER_END + off, INNER_END + off + 110, 11); racks.set(key, path); }
    return path;
}

/** One rack, seen from above with its cover off. What stands off or was worn is drawn only where it can be seen: at the outer stop. */
export function Detail({ side, place, d }: { side: number; place: number; d: Drawn }): JSX.Element {
    const tools = usePractice(), { p, place: nameOf } = tools, i = 2 * side + place, rack = d.scene.racks[i]!, sees = (d.scene.sees & SEE.ends) !== 0 || d.truth !== undefined || d.isRunning === true;
    const ahead = rack.teeth * PITCH, off = Number(rack.off) / 1e6, apart = sees ? Math.max(0, 2 * ADDENDUM - Number(rack.depth) / 1e6) : 0, flip = side === 0 ? '' : `translate(${DW} 0) scale(-1 1)`;
    const held = d.held !== null && d.held.side === side && d.held.place === place ? d.held : null, isAtStop = (d.scene.sees & SEE.ends) !== 0 && d.isRunning !== true;
    const end = d.readings.get(`read-end/${side}/${place}/0`), count = d.readings.get(`count-teeth/${side}/${place}/0`), px = CX + S * RADIUS, endY = CY + S * (INNER_END + off + ahead + 960);
    const id = `clip-${side}-${place}`, text = (x: number) => (side === 0 ? x : DW - x), anchor = side === 0 ? 'start' : 'end';
    return (
        <svg class="drawing scene detail" viewBox={`0 0 ${DW} ${DH}`} role="img" aria-label={nameOf(side, place)} data-view={`rack-${side}-${place}`}>
            <defs><clipPath id={id}><rect x="1" y="24" width={DW - 2} height={DH - 48} /></clipPath></defs>
            <g clip-path={`url(#${id})`}>
                <g transform={flip}>
                    <rect x="0" y="0" width={CX - 12} height={DH} class="d-wall" /><path class="d-line" d={`M${CX - 12} 0V${DH}`} /><rect x={px + S * (11 + apart)} y="0" width="80" height={DH} class="s-side" /><path class="s-sidehatch" d={Array.from({ length: 14 }, (_, k) => `M${px + S * (11 + apart)} ${16 * k}l60 -60`).join('')} /><path class="d-line" d={`M${px + S * (11 + apart)} 0V${DH}`} />
                    <g transform={`translate(${px + S * apart} ${CY + S * ahead})`}>
                        <path class="d-metal" d={ENDLESS} data-moves={`bar/${side}`} data-ahead={ahead + off} />
                        <g data-moves={`rack/${side}`} data-ahead={ahead + off}><path class="d-metal" d={rackOf(off)} /><path class="s-painted" d={toothPath(S, PAINTED)} /></g>
                        <g data-moves={`bore/${side}`}>{[-1, 0, 1, 2].map((k) => <circle key={k} cx={S * 7} cy={S * BORES * k} r="4" class="s-bore" />)}</g>
                    </g>
                    <g transform={`translate(${CX} ${CY})`}>
                        <g data-moves={`pinion/${side}`}>
                            <path class="s-pinion" d={PINION} /><circle r={S * 12} class="s-line" /><circle r={S * 8} class="s-axle" /><rect x={-S * 1.5} y={-S * 9.6} width={S * 3} height={S * 3.6} class="d-blade" /><circle cx={S * (RADIUS - DEDENDUM - 1.6)} r="2.6" class="d-blade" />
                        </g>
                    </g>
                    {(isAtStop || d.truth !== undefined) && <path class="s-ref" d={`M${px - S * 2} ${REF}H${px + S * 13}M${px + S * 15.5} ${REF - 5}l-8 5 8 5z`} />}
                    {held?.name === 'read-end' && <g class="s-appear"><path class="s-tool" d={`M${px + S * 5} ${REF}V${endY}M${px + S * 5 - 5} ${REF}h10M${px + S * 5 - 5} ${endY}h10`} /></g>}
                </g>
                {held?.name === 'count-teeth' && [0, 1, 2, 3].map((k) => <text key={k} x={text(px + S * 4)} y={endY + S * PITCH * (k + 0.5) + 5} text-anchor="middle" class={`mark${k === 1 ? ' d-act-text' : ''}`}>{k + 1}</text>)}
            </g>
            <path class="d-fine" d={`M0 24H${DW}M0 ${DH - 24}H${DW}`} />
            <text x="8" y="17" class="name">{nameOf(side, place)}</text>
            <text x={DW - 8} y={DH - 7} text-anchor="end" class={end?.isStale ? 's-stale' : ''}>{end === undefined ? '' : <><tspan class="soft">{p('end-short')}</tspan> <tspan class="fig">{tools.bare('read-end', end.nano)}</tspan></>}</text>
            <text x="8" y={DH - 7} class={count?.isStale ? 's-stale' : ''}>{count === undefined ? '' : <><tspan class="soft">{p('teeth-short')}</tspan> <tspan class="fig">{tools.bare('count-teeth', count.nano)}</tspan></>}</text>
            {isAtStop && d.truth === undefined && <text x={text(px + S * 12)} y={REF - 8} text-anchor={anchor} class="tiny">{p('mark')}</text>}
        </svg>
    );
}
