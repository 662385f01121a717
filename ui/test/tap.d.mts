export function ok(good: boolean, text: string, note?: unknown): void;
export function same(found: unknown, expected: unknown, text: string): void;
export function difference(a: unknown, b: unknown, path: string): string | null;
export function end(): void;
export function skip(reason: string): void;
export interface Random { share(): number; int(low: number, high: number): number; of<T>(list: readonly T[]): T }
export function seeded(seed: number): Random;
