/**
 * Draws from a density that is known up to a factor, by the affine-invariant stretch move: no tuning, whatever the
 * scales and correlations of the parameters.
 *
 * @param logDensity - natural logarithm of the density, -Infinity outside its domain
 * @param walkers - starting points, an even number, at least twice the number of parameters; not all on one plane
 * @param random - uniform numbers in [0, 1), seeded by the caller so that the same readings give the same answer
 * @returns for each parameter its value at every walker's place after every kept step
 * Source: J. Goodman, J. Weare, Ensemble samplers with affine invariance, Comm. App. Math. Comp. Sci. 5 (2010), 65-80.
 */
export function sampleEnsemble(
  logDensity: (parameters: Float64Array) => number,
  walkers: readonly Float64Array[],
  steps: { readonly burnIn: number; readonly kept: number },
  random: () => number,
): Float64Array[] {
  const places = walkers.map((walker) => Float64Array.from(walker));
  const densities = places.map(logDensity);
  const size = places[0].length;
  const half = places.length / 2;
  const kept = Array.from({ length: size }, () => new Float64Array(steps.kept * places.length));
  let count = 0;
  const trial = new Float64Array(size);
  for (let step = 0; step < steps.burnIn + steps.kept; step += 1) {
    for (let w = 0; w < places.length; w += 1) {
      // A walker moves along the line to one of the other half.
      const other = places[(w < half ? half : 0) + Math.floor(random() * half)];
      const stretch = (1 + random()) ** 2 / 2;
      for (let k = 0; k < size; k += 1) trial[k] = other[k] + stretch * (places[w][k] - other[k]);
      const density = logDensity(trial);
      const logRatio = (size - 1) * Math.log(stretch) + density - densities[w];
      if (Math.log(random()) >= logRatio) continue;
      places[w].set(trial);
      densities[w] = density;
    }
    if (step < steps.burnIn) continue;
    for (let w = 0; w < places.length; w += 1, count += 1) {
      for (let k = 0; k < size; k += 1) kept[k][count] = places[w][k];
    }
  }
  return kept;
}

/** Uniform numbers from a fixed seed: G. Marsaglia, Xorshift RNGs, J. Stat. Softw. 8 (2003), 14. */
export function seeded(): () => number {
  let state = 2463534242;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 4294967296;
  };
}
