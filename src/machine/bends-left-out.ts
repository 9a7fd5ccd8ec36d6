import type { Warning } from '../errors.js';
import type { ModelSource } from './machine-model.js';
import type { PlaceField } from './types.js';

/** Bends belong to places of the bed, and whoever works with openings alone does not know where on it they lie. */
export function bendsLeftOut(source: ModelSource & { readonly field?: PlaceField }): Warning[] {
  if (!source.field || source.field.terms.length === 0) return [];
  return [
    {
      code: 'BENDS_LEFT_OUT',
      message: 'the profile knows bends of the bed, which are not applied here: only the five numbers are.',
      hint: 'Use makeStencil, which knows where on the bed each opening lies.',
    },
  ];
}
