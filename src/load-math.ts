import type { MathNode } from 'mathjs';

/**
 * What reads formulas. Only patterns and rules need it, so it is no part of the program's start, and it is the bundled
 * build, which loads in a third of the time that the smallest modular one takes.
 */
export async function loadMath(): Promise<{ parse: (text: string) => MathNode }> {
  const bundle: unknown = await import('mathjs/lib/browser/math.js' as string);
  const { default: math } = bundle as { default: { parse: (text: string) => MathNode } };
  return math;
}
