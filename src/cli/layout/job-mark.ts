import { basename } from 'node:path';
import type { LayoutOptionValues } from '../options/stencils.js';
import { sha256 } from '../sidecar.js';

/** What was asked for, without where and how it is told of. */
export function parametersOf({
  profile: _,
  out: __,
  overwrite: ___,
  report: ____,
  json: _____,
  ...values
}: LayoutOptionValues) {
  return {
    ...values,
    outline: values.outline && basename(values.outline),
    drill: values.drill && basename(values.drill),
  };
}

/** Long enough to tell the jobs of a workshop apart, short enough to be cut. */
const MARK_DIGITS = 6;

/** The mark by which a film names its job: the same for the same artwork, profile and options. */
export function jobMark(source: Uint8Array, profile: Uint8Array, values: LayoutOptionValues): string {
  const parts = [sha256(source), sha256(profile), JSON.stringify(parametersOf(values))];
  return sha256(parts.join('\n')).slice(0, MARK_DIGITS);
}
