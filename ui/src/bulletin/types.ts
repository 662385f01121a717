// types: a bulletin as `mendwright check --export` writes it (src/bulletin/export.h tells the forms; a test holds these
// names to the program's own reference of keys).
import type { Unit } from '../core/core';

export type Text = Readonly<Record<string, string>>;
export interface Amount { nano: number; unit: Unit }
export interface Days { first: number; last: number }
export type Hazard = 'cutting' | 'lifting' | 'stored-energy' | 'electrical' | 'pinch';
export type Per = 'unit' | 'station';

export interface Head {
    id: string; revision: number; title: Text; summary: Text; issued: string; maker: string; contact: string;
    language: string; currency: string; invented: boolean; refers_to: Text[];
}
export interface VinRule { check: 'required' | 'advisory' | 'none'; prefixes: string[] }
export interface Attribute { id: string; name: Text; ask: Text; values: string[] }
export interface Station { id: string; name: Text; label_at: Text; with: Record<string, string> }
export interface Window { from: Days; to: Days }
export interface Variant { id: string; name: Text; codes: string[]; windows: Window[] }
export interface Scope {
    vin: VinRule; labels: string[]; attributes: Attribute[]; stations: Station[]; variants: Variant[]; mixed: 'per-station' | 'whole-unit';
}
export interface LabourStation { station: string; time_s: number | null; share_of_unit: { of: number; by: number } | null }
export interface Labour { unit_s: number | null; once_s: number; stations: LabourStation[] }
export interface Part { id: string; number: string; name: Text; price_minor: number | null; kept: boolean }
export interface Content { part: string; count: number }
export interface Rack {
    id: string; supply: 'ready' | 'cut'; stock: Amount; relief: 'none' | 'upper' | 'lower' | 'both'; keep: 'upper' | 'lower' | null; module: Amount;
    first_tooth: Amount | null; least: Amount | null; greatest: Amount | null; fit: Amount | null;
}
export interface Kit { id: string; number: string; name: Text; for: Record<string, string>; price_minor: number | null; parts: Content[]; racks: Rack[] }
export interface Instrument { id: string; name: Text; resolution: Amount; calibration_u: Amount | null; repeat_u: Amount | null }
export interface Cut {
    kerf: Amount; blade: 'waste' | 'centre'; blade_says: Text; measure: Text; largest_offcut: Amount | null; sliver: Amount | null;
    instrument: string; remeasure_factor: number;
}
export interface Item { id: string; name: Text }
export interface Caution { hazard: Hazard; text: Text }
export interface Inspection { part: string; criterion: Text; otherwise: Text }
export interface Picture { file: string; alt: Text }
export interface Step {
    id: string; title: Text; text: Text; why: Text; per: Per; hazards: Hazard[]; cautions: Caution[]; tools: string[]; protective: string[];
    check_first: Text[]; hold: 'none' | 'confirm' | 'reading' | 'photo'; readings: string[]; photos: string[]; inspections: Inspection[]; picture: Picture | null;
}
export interface Point {
    id: string; name: Text; how: Text; otherwise: Text; station: string; nominal: Amount; low: Amount | null; high: Amount | null;
    instrument: string; factors: Record<string, number>; extension: Amount | null;
}
export interface Adjuster {
    id: string; name: Text; how: Text; station: string; step: Amount; min: number; max: number; setup_s: number; per_step_s: number;
    effects: Record<string, Amount>;
}
export interface TimingStation { station: string; racks: string[] }
export interface Timing {
    module: Amount; limit: Amount; instrument: string; largest_jump: number; setup_s: number; per_jump_s: number; how: Text; stations: TimingStation[];
}
export interface ProofPhoto { id: string; name: Text; per: Per }
export interface Proof { photos: ProofPhoto[]; readings: string[]; keep_old_parts: number }
export interface Caps {
    labour_minor: number | null; kit_minor: number | null; parts_minor: number | null; travel_minor: number | null; consumables_minor: number | null;
    unit_minor: number | null;
}
export interface Claim {
    who: ('shop' | 'mobile' | 'dealer' | 'owner')[]; until: string; days_after_repair: number; rate_minor: number; fastest_s: number | null;
    pays: ('labour' | 'kit' | 'parts' | 'travel' | 'consumables')[]; caps: Caps | null;
}
export interface Decision { guard: 'none' | 'risk'; risk: number }

export interface Bulletin {
    mendwright_bulletin: 1; sha256: string; currency_digits: number; languages: string[];
    bulletin: Head; scope: Scope; labour: Labour; parts: Part[]; kits: Kit[]; instruments: Instrument[]; cut: Cut | null; tools: Item[];
    protective: Item[]; steps: Step[]; points: Point[]; adjusters: Adjuster[]; timing: Timing | null; proof: Proof; claim: Claim; decision: Decision;
}

/** The text in the reader's language, else in the bulletin's own, else any (bulletin_text_in of the program). */
export function textIn(b: Bulletin, text: Text, language: string): string {
    return text[language] ?? text[language.split('-')[0]!] ?? text[b.bulletin.language] ?? Object.values(text)[0] ?? '';
}

export const isGiven = (text: Text): boolean => Object.keys(text).length > 0;

/** Looks like a bulletin of ours: the parts that everything else leans on are there. */
export function isBulletin(value: unknown): value is Bulletin {
    const b = value as Partial<Bulletin> | null;
    return typeof b === 'object' && b !== null && b.mendwright_bulletin === 1 && /^[0-9a-f]{64}$/.test(b.sha256 ?? '') && typeof b.bulletin?.id === 'string' &&
        Array.isArray(b.scope?.stations) && Array.isArray(b.steps) && Array.isArray(b.points) && Array.isArray(b.kits) && typeof b.decision?.risk === 'number';
}
