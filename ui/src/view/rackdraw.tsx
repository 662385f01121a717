// rackdraw: a rack to scale with its kept end, the mark, the blade's side and the offcut, and the cut itself enlarged, so that one
// sees where in the tooth it falls. Draws what the core computed.
import { JSX } from 'preact';
import type { RackCut } from '../bulletin/adapt';
import { useApp } from './context';

const W = 350, LEFT = 14, RIGHT = 14, BODY = W - LEFT - RIGHT, TOP = 46, H = 22;
const nano = (n: bigint | number): number => Number(n);

/** The toothed edge between two places: straight-sided teeth of this pitch (px), one tooth's middle at `first`. */
function teeth(from: number, to: number, pitch: number, first: number, y: number, height: number): string {
    if (pitch < 0.9) return `M${from} ${y}H${to}`;
    const k0 = Math.ceil((from - first) / pitch - 0.5), parts = [`M${from} ${y}`];
    for (let k = k0; ; k++) {
        const middle = first + k * pitch;
        if (middle + pitch / 2 > to) break;
        if (middle - pitch / 2 < from) continue;
        parts.push(`L${(middle - pitch * 0.34).toFixed(2)} ${y}L${(middle - pitch * 0.16).toFixed(2)} ${y - height}L${(middle + pitch * 0.16).toFixed(2)} ${y - height}L${(middle + pitch * 0.34).toFixed(2)} ${y}`);
    }
    return parts.join('') + `L${to} ${y}`;
}

export function RackDrawing({ cut }: { cut: RackCut }): JSX.Element | null {
    const { t, length } = useApp(), plan = cut.plan, source = cut.source;
    if (plan === null || source === null) return null;
    const isCut = plan.status === 'cut', scale = BODY / nano(plan.stock), x = (nm: bigint | number) => LEFT + nano(nm) * scale;
    const mark = x(plan.mark), kerf = Math.max(2.5, nano(plan.kerf) * scale), pitch = Math.PI * source.module.nano * scale, first = x(source.first_tooth?.nano ?? 0);
    const kept = t(source.keep === 'upper' ? 'end-upper' : source.keep === 'lower' ? 'end-lower' : 'end-either');
    const relief = source.relief === 'none' ? 0 : 12, both = source.relief === 'both';
    const end = isCut ? mark : x(plan.stock), yTeeth = TOP, label = isCut ? t('mark-at', { n: length(plan.mark), end: kept }) : t('no-cut');
    const place = Math.min(Math.max((LEFT + mark) / 2, 90), W - 90);
    return (
        <svg class="drawing" viewBox={`0 0 ${W} ${isCut && plan.toothFraction >= 0 ? 290 : 128}`} role="img" aria-label={`${cut.rack}: ${label}`}>
            <text x={LEFT} y="20" class="big">{cut.rack}</text>
            <text x={W - RIGHT} y="20" text-anchor="end" class="soft">{t('drawn-scale')} {'\u00b7'} {length(plan.stock)}</text>
            <path class="d-metal" d={`${teeth(LEFT + relief, end - (both ? relief : 0), pitch, first, yTeeth, 4)}${both ? `L${end - relief} ${yTeeth + 9}L${end} ${yTeeth + 9}` : ''}L${end} ${yTeeth + H}L${LEFT} ${yTeeth + H}L${LEFT} ${yTeeth + (relief > 0 ? 9 : 0)}${relief > 0 ? `L${LEFT + relief} ${yTeeth + 9}` : ''}Z`} />
            <text x={LEFT} y={yTeeth - 8} class="soft">{kept}, {t('kept-end')}</text>
            {isCut && (
                <>
                    <rect class="d-waste" x={mark + kerf} y={yTeeth} width={Math.max(0, x(plan.stock) - mark - kerf)} height={H} />
                    <rect class="d-blade" x={mark} y={yTeeth - 12} width={kerf} height={H + 22} />
                    <path class="d-act-line" d={`M${mark} ${yTeeth - 14}V${yTeeth + H + 30}`} />
                    <text x={Math.min(W - RIGHT, Math.max(mark + kerf + 4, W - RIGHT))} y={yTeeth - 8} text-anchor="end" class="soft">{t('waste')} {length(plan.offcut)}</text>
                    <path class="d-line" d={`M${LEFT} ${yTeeth + H + 18}H${mark}M${LEFT} ${yTeeth + H + 12}v12M${LEFT} ${yTeeth + H + 18}l7-4v8zM${mark} ${yTeeth + H + 18}l-7-4v8z`} />
                    <text x={place} y={yTeeth + H + 40} text-anchor="middle" class="fig d-act-text">{length(plan.mark)}</text>
                    {plan.toothFraction >= 0 && <CutEnlarged cut={cut} />}
                </>
            )}
        </svg>
    );
}

/** The teeth around the cut: the tooth's phase is the core's (0 the middle of a gap, 1/2 the middle of a tooth). */
function CutEnlarged({ cut }: { cut: RackCut }): JSX.Element {
    const { t } = useApp(), plan = cut.plan!, module = cut.source!.module.nano, p = 76, m = p / Math.PI, cx = 170, y = 218, root = y + 1.25 * m, tip = y - m;
    const kerf = (nano(plan.kerf) / module) * m, tan = Math.tan((20 * Math.PI) / 180), times = Math.round(p / (Math.PI * module * (BODY / nano(plan.stock))));
    const first = cx + (0.5 - plan.toothFraction) * p, half = (at: number) => p / 4 + (at - y) * tan;
    const profile = (from: number, to: number): string => {
        const points: [number, number][] = [];
        for (let k = -4; k <= 4; k++) {
            const c = first + k * p;
            points.push([c - half(root), root], [c - half(tip), tip], [c + half(tip), tip], [c + half(root), root]);
        }
        const at = (x: number): number => { // height of the profile at x
            for (let i = 1; i < points.length; i++) {
                const [ax, ay] = points[i - 1]!, [bx, by] = points[i]!;
                if (x >= ax && x <= bx) return bx === ax ? by : ay + ((by - ay) * (x - ax)) / (bx - ax);
            }
            return root;
        };
        return `M${from} 262L${from} ${at(from).toFixed(1)}` + points.filter(([x]) => x > from && x < to).map(([x, h]) => `L${x.toFixed(1)} ${h.toFixed(1)}`).join('') + `L${to} ${at(to).toFixed(1)}L${to} 262Z`;
    };
    const isSliver = plan.warnings.includes('sliver'), middle = cx - plan.partTooth / module * m / 2;
    return (
        <g>
            <path d={`M${LEFT} 136H${W - RIGHT}`} class="d-fine" />
            <text x={LEFT} y="154" class="soft">{t('tooth')}, {t('enlarged', { n: times })}</text>
            <path class="d-metal" d={profile(40, cx)} />
            <path class="d-waste" d={profile(cx + kerf, 310)} />
            <rect class="d-blade" x={cx} y="164" width={kerf} height="98" />
            <path class="d-act-line" d={`M${cx} 160V276`} />
            <path class="d-blade" d={`M${cx + kerf + 22} 172l-16-6v12z`} /><text x={cx + kerf + 28} y="177">{t('keep-blade')}</text>
            {isSliver && <path class="d-stop-line" stroke-width="3" d={`M${middle - 7} ${tip - 16}l7 12 7-12zM${middle} ${tip - 4}v10`} />}
        </g>
    );
}
