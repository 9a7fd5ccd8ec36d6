/** Which values of a command come from the project file; an option of the command line is never among them. */
const ANSWERS = new WeakMap<object, ReadonlySet<string>>();

/** Notes that these values of a command were filled in from the project file. */
export function noteProjectAnswers(values: object, keys: Iterable<string>): void {
  ANSWERS.set(values, new Set(keys));
}

/** The keys of a command's values that the project file answered. */
export function projectAnswers(values: object): ReadonlySet<string> {
  return ANSWERS.get(values) ?? new Set();
}
