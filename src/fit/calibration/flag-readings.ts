import { isForJaws } from '../../coupon/features.js';
import { likelyCause } from './causes.js';
import { predictLength } from './design.js';
import { type Observation, type Observations, placeOf } from './observations.js';
import type { OutlierSearch } from './outliers.js';
import type { FlaggedReading } from './types.js';
import { readingVariance } from './weighted-fit.js';

/** How far a right reading may lie from its prediction when causes are tried, in standard deviations. */
const FITS = 4;
/** What should be wider than this, but is said to be missing, is a contradiction, mm. */
const GONE_MARGIN_MM = 0.05;

/** Names the readings that stand out, with the likely cause. */
export function flagReadings(
  lengths: readonly Observation[],
  search: OutlierSearch,
  eye: Observations['eye'],
): FlaggedReading[] {
  const { parameters } = search.clean;
  const predicted = lengths.map((length) => predictLength(length, parameters));
  const tolerance = lengths.map((length, i) => {
    const residual = Math.abs(length.valueMm - predicted[i]);
    const sd = search.distance[i] === 0 ? 0 : residual / Math.abs(search.distance[i]);
    return FITS * Math.max(sd, length.resolutionMm / 2, 1e-6);
  });
  const context = { lengths, predicted, parameters, tolerance, outliers: new Set(search.outliers) };
  const numeric = search.outliers.map((i): FlaggedReading => {
    const length = lengths[i];
    const found = likelyCause(i, context);
    return {
      ...placeOf(length),
      readingMm: length.valueMm,
      expectedMm: predicted[i],
      distance: search.distance[i],
      cause: found.cause,
      sentence: `${length.feature.id} reads ${short(length.valueMm)} mm where about ${predicted[i].toFixed(3)} mm were expected: ${found.because}.`,
    };
  });
  return [...numeric, ...missingButExpected(eye, search), ...closedButWide(eye, lengths, parameters)];
}

const short = (mm: number): string => String(Number(mm.toFixed(5)));

/** What is said not to be there, but should be by far. Whether openings are `closed` is no matter of the kerf. */
function missingButExpected(eye: Observations['eye'], { clean }: OutlierSearch): FlaggedReading[] {
  const { parameters } = clean;
  return eye.flatMap((seen): FlaggedReading[] => {
    const expectedMm = predictLength(seen, parameters);
    const readingMm = seen.reading.readingMm;
    // What a gauge of coarse steps shows as nothing may be there by nearly a step.
    const like = clean.groups.find(({ gauge }) => gauge === seen.gauge);
    const resolutionMm = Math.max(seen.resolutionMm, like?.resolutionMm ?? 0);
    const scatter = FITS * Math.sqrt(readingVariance({ noise: like?.noise ?? seen.noise, resolutionMm }, clean));
    const margin = readingMm === undefined ? Math.max(GONE_MARGIN_MM, scatter) : scatter;
    if (expectedMm < margin || (seen.kind === 'opening' && readingMm === undefined)) return [];
    const said = readingMm === undefined ? 'is said to have burnt away' : `reads ${readingMm} mm`;
    return [
      {
        ...placeOf(seen),
        ...(readingMm === undefined ? {} : { readingMm }),
        expectedMm,
        distance: Number.NEGATIVE_INFINITY,
        cause: 'unclear',
        sentence: `${seen.feature.id} ${said}, but about ${expectedMm.toFixed(3)} mm were expected: look again; if it is true, the film burnt there.`,
      },
    ];
  });
}

/** A slot may come through where a round hole as wide does not, but not one of half its width. */
const OTHER_SHAPE_SHARE = 0.5;

/** What is said to be closed on a coupon of which narrower openings came through, as their widths were read. */
function closedButWide(
  eye: Observations['eye'],
  lengths: readonly Observation[],
  parameters: readonly number[],
): FlaggedReading[] {
  const shapeOf = ({ feature }: Pick<Observation, 'feature'>): string => (feature.kind === 'opening' && feature.shape) || 'slot'; // biome-ignore format: one thought
  return eye.flatMap((seen): FlaggedReading[] => {
    if (seen.kind !== 'opening' || seen.reading.outcome !== 'closed') return [];
    const expectedMm = predictLength(seen, parameters);
    const narrower = lengths
      .filter((other) => other.kind === 'opening' && other.session === seen.session && !isForJaws(other.feature))
      .map((other) => ({ other, widthMm: predictLength(other, parameters) }))
      .filter(({ other, widthMm }) => {
        const share = shapeOf(other) === shapeOf(seen) ? 1 : OTHER_SHAPE_SHARE;
        return widthMm <= Math.min(share * expectedMm, expectedMm - GONE_MARGIN_MM);
      })
      .sort((a, b) => a.widthMm - b.widthMm)[0];
    if (!narrower) return [];
    const { other, widthMm } = narrower;
    return [
      {
        ...placeOf(seen),
        expectedMm,
        distance: Number.NEGATIVE_INFINITY,
        cause: 'unclear',
        sentence: `${seen.feature.id} is said to be closed, about ${expectedMm.toFixed(3)} mm wide, but ${other.feature.id} of ${widthMm.toFixed(3)} mm came through: look again; if it is true, the beam failed there.`,
      },
    ];
  });
}
