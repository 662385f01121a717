export function exported(program: string, file: string): string;
export function serve(pages: string, program: string, files: string[]): Promise<{ url: string; state: { pages: string; requests: number; paths: string[] }; close(): Promise<unknown> }>;
export function serveOwn(pages: string, program: string, files: string[]): Promise<{ url: string; state: { pages: string; requests: number; paths: string[]; lost: number }; close(): Promise<{ code: number; said: string }> }>;
export interface Begun { url: string; port: number; end(): Promise<{ code: number; said: string }>; stop(): Promise<number> }
export function beginServing(program: string, store: string, folder: string): Promise<Begun>;
