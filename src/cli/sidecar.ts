import { createHash } from 'node:crypto';
import { type Content, partsOf } from './write-together.js';

/** SHA-256 of a file's content, as sidecars state it. */
export function sha256(content: Content): string {
  const hash = createHash('sha256');
  for (const part of partsOf(content)) hash.update(part);
  return hash.digest('hex');
}

/** For JSON.stringify: numbers to a picometre, which is beyond any laser and free of the noise of doubles. */
export function roundedNumbers(_key: string, value: unknown): unknown {
  return typeof value === 'number' && !Number.isInteger(value) ? Number(value.toFixed(9)) : value;
}
