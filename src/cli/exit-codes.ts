/** The exit codes of every command; the README lists them. */
export const EXIT = {
  /** Done, nothing to worry about. */
  done: 0,
  /** A bug in apertrue; please report it with --debug. */
  bug: 1,
  /** The request or a file can't be worked with; nothing was written for it. */
  badInput: 2,
  /** Done and written, but something is not as asked, or nobody can vouch for it: openings, checks, readings. */
  findings: 3,
  /** A batch: some files failed, the others are done. */
  someFailed: 4,
} as const;

export type ExitCode = (typeof EXIT)[keyof typeof EXIT];
