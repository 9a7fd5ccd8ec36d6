import { join } from 'node:path';
import { type Io, processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';
import { wordsOf } from './command-lines.js';
import type { Desk } from './fill-page.js';

/** What a person types for a feature: a number with or without a unit, or a letter for an outcome. */
export type Hand = (feature: string) => string;
export type Acts = Readonly<Record<string, (...words: string[]) => Promise<string | undefined>>>;

/** The day on which all examples happen. */
const DAY = new Date('2031-04-09T10:00:00Z');
/** As in `enter`: reading goes on until nothing more is needed. */
const ENOUGH = /That is enough/;

/** A desk in the current folder: commands run as typed, `enter` is answered by the hand of whoever sits there. */
export function deskOf(hand: Hand, acts: Acts): Desk {
  return {
    async run(command) {
      let shown = '';
      const write = (text: string): void => void (shown += text);
      const io: Io = {
        ...processIo(),
        out: write,
        say: write,
        now: () => DAY,
        isTerminal: false,
        columns: 96,
        configFolder: join(process.cwd(), 'own-settings'),
        input: {
          isTerminal: false,
          async *lines() {
            for (;;) {
              const feature = /([A-Z0-9.-]+)(?: \[[^\]]*\])?> $/i.exec(shown)?.[1] ?? '';
              const isAsked = shown.endsWith('type the right value> ');
              // All is read, and only a slip would be gone back to.
              if (shown.endsWith('q ends> ')) return;
              const typed = ENOUGH.test(shown) ? 'q' : isAsked ? 'y' : hand(feature);
              yield typed;
            }
          },
        },
      };
      const code = await run(wordsOf(command), io);
      if (code !== 0 && code !== 3) throw new Error(`apertrue ${command}\nended with exit code ${code}\n${shown}`);
      return code === 3 ? `${shown.trimEnd()}\n(exit code 3)` : shown;
    },
    async act([name, ...words]) {
      if (!(name in acts)) throw new Error(`nobody knows how to do "${name}"`);
      return (await acts[name](...words)) ?? '';
    },
  };
}
