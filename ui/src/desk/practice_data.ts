// practice_data: the calls on practice, and the forms of their answers (src/serve/files/openapi.json).
import { call, Session, writing } from './api';

export interface PersonSum { person: string; shop: string; results: number; tried: number; passed: number; exams: number; hints: number; cautions: number; right: number; questions: number; last_ms: number }
export interface ExerciseSum { set: string; exercise: string; results: number; people: number; passed: number; hints: number; cautions: number; mean_s: number; mean_moves: number }
export interface QuestionSum { set: string; exercise: string; question: string; answered: number; right: number }
export interface Apart { set: string; exercise: string; point: string; people: number; mean_nm: number; sd_nm: number; range_nm: number; lowest: string; highest: string }
export interface Gauge {
    set?: string; exercise?: string; parts: number; operators: number; repeats: number; repeatability_sd_mm: number; reproducibility_sd_mm: number; gauge_sd_mm: number; part_sd_mm: number;
    percent_study: number; percent_study_interval: number[]; percent_tolerance: number | null; ndc: number | null; notes: string[];
}
export interface ResultRow { person: string; shop: string; set: string; exercise: string; mode: 'practice' | 'exam'; passed: boolean; came_ms: number; seconds: number; moves: number; hints: number; cautions: number; right: number; questions: number }
export interface Results { results: ResultRow[]; looked_at: number; people: PersonSum[]; exercises: ExerciseSum[]; questions: QuestionSum[]; disagree: Apart[]; gauge: Gauge | null }

export type Text = Readonly<Record<string, string>>;
export interface ExerciseHead { id: string; level: 'easy' | 'medium' | 'hard'; title: Text; limits: { minutes: number; moves: number }; questions: { id: string; text: Text }[] }
export interface SetHead { set: string; sha256: string; title: Text; language: string; exam: boolean; exercises: ExerciseHead[] }
export interface Kept { set: string; sha256: string; by: string; kept_ms: number }
export interface Sets { sets: SetHead[]; kept: Kept[] }
export interface FaultAt { line: number; column: number; path: string; message: string }
export interface Checked { valid: boolean; set: string | null; exercises: number; faults: FaultAt[]; warnings: FaultAt[]; more_faults: number; more_warnings: number }

const read = async <T>(answer: Promise<Response>): Promise<T> => (await (await answer).json()) as T;
const at = (set: string): string => `practice/sets/${encodeURIComponent(set)}`;

export const results = (): Promise<Results> => read(call('practice/results'));
export const sets = (): Promise<Sets> => read(call('practice/sets'));
export const check = (who: Session, text: string): Promise<Checked> => read(call('practice/check', { method: 'POST', ...writing(who, null, { text }) }));
export const share = (who: Session, set: string, text: string): Promise<{ set: string }> => read(call(at(set), { method: 'PUT', ...writing(who, null, { text }) }));
export const withdraw = async (who: Session, set: string): Promise<void> => void (await call(at(set), { method: 'DELETE', ...writing(who, null) }));
export const gauge = (who: Session, csv: string): Promise<Gauge> => read(call('practice/gauge', { method: 'POST', ...writing(who, null, { csv }) }));

/** A text in English, else in the set's own language, else in any. */
export const textOf = (text: Text, own: string): string => text['en'] ?? text[own] ?? Object.values(text)[0] ?? '';
