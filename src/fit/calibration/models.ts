import type { ParameterName } from '../../machine/types.js';

/** A model with some of the five parameters tied together or taken by name instead of fitted. */
export interface CalibrationModel {
  /** In plain words. */
  readonly name: string;
  /** For each of the five: the number of the free parameter it follows, or the value it is taken as. */
  readonly follows: readonly (number | { readonly assumed: number })[];
  readonly freeNames: readonly string[];
  readonly assumed: readonly ParameterName[];
}

type Choice<T extends string> = T;
export type ScaleChoice = Choice<'two' | 'one' | 'none'>;
export type ShearChoice = Choice<'free' | 'none'>;
export type KerfChoice = Choice<'two' | 'one' | 'none'>;

const SCALE_WORDS = { two: 'a scale for each axis', one: 'one scale for both axes', none: 'scale taken as 1' };
const SHEAR_WORDS = { free: 'shear', none: 'no shear' };
const KERF_WORDS = { two: 'a kerf for each axis', one: 'one kerf for both axes', none: 'no kerf' };

export function calibrationModel(scale: ScaleChoice, shear: ShearChoice, kerf: KerfChoice): CalibrationModel {
  const freeNames: string[] = [];
  const assumed: ParameterName[] = [];
  const add = (name: string): number => freeNames.push(name) - 1;
  const take = (names: ParameterName[], value: number): { assumed: number }[] => {
    assumed.push(...names);
    return names.map(() => ({ assumed: value }));
  };
  const scales =
    scale === 'two'
      ? [add('scaleX'), add('scaleY')]
      : scale === 'one'
        ? both(add('scale'))
        : take(['scaleX', 'scaleY'], 1);
  const shears = shear === 'free' ? [add('shear')] : take(['shear'], 0);
  const kerfs =
    kerf === 'two'
      ? [add('kerfXMm'), add('kerfYMm')]
      : kerf === 'one'
        ? both(add('kerfMm'))
        : take(['kerfXMm', 'kerfYMm'], 0);
  return {
    name: [SCALE_WORDS[scale], SHEAR_WORDS[shear], KERF_WORDS[kerf]].join(', '),
    follows: [...scales, ...shears, ...kerfs],
    freeNames,
    assumed,
  };
}

function both(index: number): number[] {
  return [index, index];
}

/** Most parameters first; among equals, what is given up first stands first: shear, then an axis's own kerf, then its own scale. */
export const MODELS: readonly CalibrationModel[] = (() => {
  const order: [ScaleChoice, ShearChoice, KerfChoice][] = [];
  for (const scale of ['two', 'one', 'none'] as const) {
    for (const kerf of ['two', 'one', 'none'] as const) {
      for (const shear of ['free', 'none'] as const) order.push([scale, shear, kerf]);
    }
  }
  const preference = ([scale, shear, kerf]: [ScaleChoice, ShearChoice, KerfChoice]): number =>
    (shear === 'none' ? 0 : 1) +
    (scale === 'none' ? 20 : 0) +
    (kerf === 'none' ? 40 : 0) +
    (scale === 'one' ? 4 : 0) +
    (kerf === 'one' ? 2 : 0);
  return order
    .map((choice) => ({ model: calibrationModel(...choice), preference: preference(choice) }))
    .filter(({ model }) => model.freeNames.length > 0)
    .sort((a, b) => b.model.freeNames.length - a.model.freeNames.length || a.preference - b.preference)
    .map(({ model }) => model);
})();

/** The five parameters from the free ones. */
export function fullParameters(model: CalibrationModel, free: readonly number[]): number[] {
  return model.follows.map((follow) => (typeof follow === 'number' ? free[follow] : follow.assumed));
}

/** The free ones from the five: tied ones are averaged. */
export function freeParameters(model: CalibrationModel, full: readonly number[]): number[] {
  return model.freeNames.map((_, index) => {
    const tied = full.filter((__, k) => model.follows[k] === index);
    return tied.reduce((sum, value) => sum + value, 0) / tied.length;
  });
}

/** |A u| is the same for a mirrored machine: of the two, the one that doesn't mirror. Changes `free` in place. */
export function unmirror(model: CalibrationModel, free: number[]): void {
  model.freeNames.forEach((name, k) => {
    if (!name.startsWith('scale') || free[k] >= 0) return;
    free[k] = -free[k];
    const shear = model.freeNames.indexOf('shear');
    if (name !== 'scaleY' && shear >= 0) free[shear] = -free[shear];
  });
}

/** A gradient by the five parameters, gathered onto the free ones, in place of `out`. */
export function gatherGradient(model: CalibrationModel, gradient: Float64Array, out: Float64Array): void {
  const { follows } = model;
  out.fill(0, 0, model.freeNames.length);
  for (let k = 0; k < follows.length; k += 1) {
    const follow = follows[k];
    if (typeof follow === 'number') out[follow] += gradient[k];
  }
}

/** A matrix over the free parameters, written out for all five; zero rows for assumed ones. */
export function fullMatrix(model: CalibrationModel, free: readonly (readonly number[])[]): number[][] {
  return model.follows.map((a) =>
    model.follows.map((b) => (typeof a === 'number' && typeof b === 'number' ? free[a][b] : 0)),
  );
}
