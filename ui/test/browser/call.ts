// call: the program's command line, for tests that set a store up by it and hold pages against what it says.
import { spawnSync } from 'node:child_process';

/** Calls PROGRAM with --json; gives the lines it printed, each as JSON. An exit code that is not among `codes` is an error with what it said. */
export const caller = (program: string, codes: readonly number[] = [0, 1, 4]) => (...words: string[]): any[] => {
    const done = spawnSync(program, [...words, '--json'], { encoding: 'utf8', maxBuffer: 2 ** 26 });
    if (!codes.includes(done.status ?? -1)) throw new Error(`${words.join(' ')}: ${done.status} ${done.stderr}${done.stdout}`);
    return done.stdout.trim() === '' ? [] : done.stdout.trim().split('\n').map((line) => JSON.parse(line));
};
