import type { Problem, Warning } from '../../errors.js';

/** So many of one kind are listed; the rest are counted, so that a broken file does not bury its reader. */
const LISTED_PER_CODE = 8;
const LISTED_PROBLEMS = 20;

/** Gathers what is to be said about one file while it is read. */
export class Diagnostics {
  readonly problems: Problem[] = [];
  private readonly warnings: Warning[] = [];
  private readonly counts = new Map<string, number>();

  /** The line that is being read, from 1; undefined for the file as a whole. */
  line: number | undefined;

  constructor(private readonly file: string | undefined) {}

  /** Something to know, although the reading goes on. */
  warn(code: string, message: string, hint?: string): void {
    const count = (this.counts.get(code) ?? 0) + 1;
    this.counts.set(code, count);
    if (count <= LISTED_PER_CODE) this.warnings.push({ code, message, hint, place: this.place });
  }

  /** The same, said once for the whole file in these words. */
  warnOnce(code: string, message: string, hint?: string): void {
    if (!this.warnings.some((known) => known.code === code && known.message === message))
      this.warn(code, message, hint);
  }

  /** Something that makes the result wrong: reading goes on only to find more of them. */
  fail(code: string, message: string, hint = 'Export the file again.'): void {
    const said = this.problems.some((p) => p.code === code && p.message === message && p.place?.line === this.line);
    if (!said && this.problems.length < LISTED_PROBLEMS) this.problems.push({ code, message, hint, place: this.place });
  }

  private get place(): { readonly file: string | undefined; readonly line: number | undefined } {
    return { file: this.file, line: this.line };
  }

  /** All warnings, with a line for what was only counted. */
  finish(): Warning[] {
    const more: Warning[] = [];
    for (const [code, count] of this.counts) {
      if (count > LISTED_PER_CODE) {
        more.push({
          code,
          message: `${count - LISTED_PER_CODE} more of the kind ${code} are not listed.`,
          place: { file: this.file },
        });
      }
    }
    return [...this.warnings, ...more];
  }
}
