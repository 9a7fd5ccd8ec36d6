import { createHash } from 'node:crypto';

/** SHA-256 of a file's content, as sidecars state it. */
export function sha256(content: Uint8Array | string): string {
  return createHash('sha256').update(content).digest('hex');
}

/** For JSON.stringify: numbers to a picometre, which is beyond any laser and free of the noise of doubles. */
export function roundedNumbers(_key: string, value: unknown): unknown {
  return typeof value === 'number' && !Number.isInteger(value) ? Number(value.toFixed(9)) : value;
}
