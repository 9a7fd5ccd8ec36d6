import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { InputError } from '../../errors.js';
import type { Lanes } from '../each-artwork.js';
import { correctJob } from './job.js';
import type { CorrectInput, CorrectOutcome, CorrectSettings } from './types.js';
import type { WorkerAnswer } from './worker.js';

/** Does jobs, in this thread or in another. */
export type CorrectLane = (input: CorrectInput, settings: CorrectSettings) => Promise<CorrectOutcome>;

/** One in work and one that waits there: while this thread is busy with its own job, it can't hand out more. */
const JOBS_A_THREAD = 3;

/** This thread, and a pool of others where there are several files and the compiled worker is there. */
export async function lanesFor(jobs: number, files: number): Promise<Lanes<CorrectLane>> {
  const worker = fileURLToPath(new URL('./worker.js', import.meta.url));
  const others = Math.min(jobs, files) - 1;
  if (others < 1 || !existsSync(worker)) return { lanes: [correctJob], close: async () => undefined };
  const { Tinypool } = await import('tinypool');
  const pool = new Tinypool({
    filename: worker,
    minThreads: others,
    maxThreads: others,
    concurrentTasksPerWorker: JOBS_A_THREAD,
  });
  const elsewhere: CorrectLane = async (input, settings) => {
    const answer = (await pool.run({ input, settings })) as WorkerAnswer;
    if ('problems' in answer) throw new InputError(answer.problems);
    return answer.outcome;
  };
  const first = Array.from({ length: others }, () => elsewhere);
  const waiting = Array.from({ length: others * (JOBS_A_THREAD - 1) }, () => elsewhere);
  // A thread that must start and warm up costs as much as several files: this one, warm already, does its share.
  return { lanes: [...first, correctJob, ...waiting, correctJob], close: () => pool.destroy() };
}
