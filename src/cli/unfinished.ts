import { unlinkSync } from 'node:fs';

/** Exit codes of a process that was stopped: 128 and the signal's number, as shells count. */
const STOPPED_BY: Readonly<Partial<Record<NodeJS.Signals, number>>> = { SIGINT: 130, SIGTERM: 143, SIGHUP: 129 };

/** Temporary files that are being written now: what nobody may find after the program was stopped. */
const unfinished = new Set<string>();

export function beginFile(temporary: string): void {
  unfinished.add(temporary);
}

export function endFile(temporary: string): void {
  unfinished.delete(temporary);
}

/** Whether this process is writing the file. */
export const isUnfinished = (path: string): boolean => unfinished.has(path);

/** Removes what is half written. Synchronous: nothing else of this process may run between this and its end. */
function removeUnfinished(): void {
  for (const path of unfinished) {
    try {
      unlinkSync(path);
    } catch {
      // It was renamed or never made; both are as they should be.
    }
  }
  unfinished.clear();
}

/** Ctrl-C and its like leave no half-written files and no hidden cursor, and end with the code that shells expect. */
export function stopOnSignals(): void {
  for (const [signal, code] of Object.entries(STOPPED_BY)) {
    process.once(signal, () => {
      removeUnfinished();
      if (process.stderr.isTTY) process.stderr.write('\u001b[?25h\n');
      process.stderr.write('stopped: every file that was written is whole, no half ones are left.\n');
      process.exit(code);
    });
  }
}
