import type { Problem } from '../../errors.js';
import { problemsOf } from '../file-problem.js';
import { type CorrectInput, type CorrectOutcome, type CorrectSettings, correctJob } from './job.js';

/** A worker's answer: an InputError does not survive the way between threads, its problems do. */
export type WorkerAnswer = { readonly outcome: CorrectOutcome } | { readonly problems: readonly Problem[] };

/** Runs one job in a worker thread. */
export default async function work(task: { input: CorrectInput; settings: CorrectSettings }): Promise<WorkerAnswer> {
  try {
    return { outcome: await correctJob(task.input, task.settings) };
  } catch (error) {
    return { problems: problemsOf(error) };
  }
}
