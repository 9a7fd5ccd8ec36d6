/** Takes how far a long piece of work is: what is being done, and how much of how much. */
export type Watch = (doing: string, done: number, total: number) => void;

let watch: Watch | undefined;

/** Names who is told how far long work is, or nobody. No result depends on it. */
export function watchWork(by: Watch | undefined): void {
  watch = by;
}

/** Tells whoever watches that so much of the work is done; to be called again and again from within a loop. */
export function tellHowFar(doing: string, done: number, total: number): void {
  watch?.(doing, done, total);
}
