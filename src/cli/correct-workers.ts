import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { InputError } from '../errors.js';
import { type CorrectInput, type CorrectOutcome, type CorrectSettings, correctJob } from './correct-job.js';
import type { WorkerAnswer } from './correct-worker.js';

/** Does jobs, in this thread or in others. */
export interface Workers {
  readonly width: number;
  run(input: CorrectInput, settings: CorrectSettings): Promise<CorrectOutcome>;
  close(): Promise<void>;
}

/** A pool of threads where there are several files and the compiled worker is there; else this thread. */
export async function workersFor(jobs: number, files: number): Promise<Workers> {
  const worker = fileURLToPath(new URL('./correct-worker.js', import.meta.url));
  const width = Math.min(jobs, files);
  if (width < 2 || !existsSync(worker)) {
    return { width: 1, run: correctJob, close: async () => undefined };
  }
  const { Tinypool } = await import('tinypool');
  const pool = new Tinypool({ filename: worker, minThreads: width, maxThreads: width });
  return {
    width,
    async run(input, settings) {
      const answer = (await pool.run({ input, settings })) as WorkerAnswer;
      if ('problems' in answer) throw new InputError(answer.problems);
      return answer.outcome;
    },
    close: () => pool.destroy(),
  };
}

/** Takes the items in order, at most `width` at a time. */
export async function eachOf<T>(items: readonly T[], width: number, handle: (item: T) => Promise<void>): Promise<void> {
  let next = 0;
  const lane = async (): Promise<void> => {
    while (next < items.length) {
      const item = items[next];
      next += 1;
      await handle(item);
    }
  };
  await Promise.all(Array.from({ length: Math.max(1, width) }, lane));
}
