import { createHash } from 'node:crypto';
import { machineModel } from '../machine/machine-model.js';
import type { Bends, MachineModel, Profile } from '../machine/types.js';
import { fieldOf } from '../stencil/make-stencil.js';
import type { OutputFile } from './results.js';
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

/** The machine that a stencil was corrected for: its five numbers, and how its bed is bent. */
export function machineOf(profile: Profile): { machine: MachineModel; bends?: Bends } {
  const field = fieldOf(profile);
  if (!field) return { machine: machineModel(profile) };
  const { canvasMm, areaMm, terms } = field;
  return { machine: machineModel(profile), bends: { canvasMm, areaMm, terms } };
}

/** Results as sidecars state them: by name and content. */
export const recordOf = (files: readonly OutputFile[]): { readonly name: string; readonly sha256: string }[] =>
  files.map(({ name, bytes }) => ({ name, sha256: sha256(bytes) }));
