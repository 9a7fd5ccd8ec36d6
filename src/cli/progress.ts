import type { Io } from './io.js';

/** Work that takes no longer needs no progress, ms. */
const SHORT_MS = 1000;

/**
 * Tells how far work in equal parts is, and about how long the rest will take. Nothing where there is no terminal, with
 * --quiet, or in the first second.
 *
 * @param doing - what is done, for example "correcting file"
 * @returns to be called after each part
 */
export function progressOf(io: Io, doing: string, total: number): () => void {
  const start = io.now().getTime();
  let done = 0;
  return () => {
    done += 1;
    const passedMs = io.now().getTime() - start;
    if (passedMs < SHORT_MS || done >= total) return;
    const leftMs = (passedMs / done) * (total - done);
    io.progress?.(`${doing} ${done + 1} of ${total}, about ${timeWords(leftMs)} left`);
  };
}

function timeWords(ms: number): string {
  const seconds = Math.max(1, Math.round(ms / 1000));
  return seconds < 90 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
}
