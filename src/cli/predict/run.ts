import { join } from 'node:path';
import { dotRegion } from '../../dots/dot-regions.js';
import { eachRun, type Stamp } from '../../dots/stamp.js';
import { isRaster } from '../../export/export-formats.js';
import { invert, mapPoint } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import { copyAt } from '../../geometry/copies.js';
import type { Opening, Point } from '../../geometry/types.js';
import { budgetForSteps } from '../../geometry/work-budget.js';
import { kept, once, present } from '../../kept.js';
import { DEFAULT_LINE_MM } from '../../machine/correct-openings.js';
import { type PredictedOpening, type Prediction, predictCut } from '../../machine/predict-cut.js';
import { outlineText, svgToPng } from '../../report/picture.js';
import { predictionPicture } from '../../report/prediction-picture.js';
import { type StencilDots, withoutBends } from '../../stencil/command.js';
import type { CutFigures } from '../../stencil/faults.js';
import { count, csvText, micrometres, visible } from '../../text.js';
import { eachArtwork, exitOf, type ReadLayer } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { faultRows } from '../machine-words.js';
import { refuseUnusedOptions } from '../options/option.js';
import type { PredictOptionValues } from '../options/stencils.js';
import { certaintyOf } from '../profile-doubts.js';
import { loadProfile } from '../project-file.js';
import { madeBefore, namedFiles, refuseResults, roundedNumbers, writeResults } from '../results.js';
import { refuseIdleStencilOptions, type StencilSettings, stencilOf, stencilSettings } from '../stencil-settings.js';
import { printJson, sayWarnings, sayWrote } from '../tell.js';

const PICTURE_WIDTH_PX = 2200;

type Predicted = Awaited<ReturnType<typeof predictLayer>>;

/** Dots, and the paths that they stand for. */
const BOTH = ['png', 'svg'] as const;

export async function runPredict(patterns: readonly string[], values: PredictOptionValues, io: Io): Promise<ExitCode> {
  refuseIdleStencilOptions(values);
  const { profile } = await loadProfile(values.profile, io);
  // Without a pitch nothing is rounded, and only thin lines need to know how fine the machine is.
  const paths = { pitchMm: { x: DEFAULT_LINE_MM, y: DEFAULT_LINE_MM }, formats: ['svg'] as const };
  const { laid, ...stencil } = await stencilSettings(values, profile, io, () => {
    const why = 'without a pitch there are no rows of dots';
    refuseUnusedOptions([
      [values.sweep !== undefined, '--sweep', why, 'Give --pitch-mm too.'],
      [values.burnEveryNthRow !== undefined, '--burn-every-nth-row', why, 'Give --pitch-mm too.'],
    ]);
    return paths;
  });
  const settings = { ...stencil, laid: { ...laid, formats: laid.formats.some(isRaster) ? BOTH : paths.formats } };
  const worked = await eachArtwork(patterns, values, io, async (layer) => {
    const predicted = await predictLayer(layer, settings, values, io);
    if (await io.exists(join(values.out, `${layer.stem}.job.json`))) io.run.isMade = true;
    return predicted;
  });
  const { results } = worked;
  if (values.json) printJson(results.map(jsonOf), io, roundedNumbers);
  const burnt = results.some(({ inDots, corrected }) => (inDots ?? corrected).summary.burntWebs.length > 0);
  return exitOf(worked, burnt);
}

async function predictLayer(layer: ReadLayer, settings: StencilSettings, values: PredictOptionValues, io: Io) {
  const { file, stem } = layer;
  const { fit } = settings.profile;
  const names = ['svg', 'png', 'csv'].map((ending) => `${stem}.predict.${ending}`);
  await refuseResults(names, values, io);
  const numbered = await stencilOf(layer, settings, await madeBefore(file, layer.bytes, io));
  const { stencil, numberAt, faults, narrow, warnings } = numbered;
  const { mirrored, openings: asked } = stencil.asked;
  const { corrected: told, dots, bed } = stencil.commanded;
  const budget = budgetForSteps(asked);
  const predicted = (openings: readonly Opening[], numbers?: readonly number[]): Prediction =>
    budget.run(() => predictCut(withoutBends(openings, bed), fit, { asked, numbers }));
  const asDrawn = predicted(asked);
  const inDots = dots && withFigures(predictDots(dots, predicted), stencil.check.figures);
  const corrected = once(() => predicted(told.openings, told.numbers));
  const panels = [
    { title: 'As drawn, not corrected', prediction: asDrawn },
    { title: inDots ? 'Corrected, in whole dots' : 'Corrected', prediction: inDots ?? corrected() },
  ];
  const svg = await outlineText(predictionPicture(asked, panels, stem));
  const png = svgToPng(svg, PICTURE_WIDTH_PX);
  // What the picture does not show is worked out while it is drawn.
  const result = {
    ...{ file, mirrored, numberAt },
    asDrawn: withoutFilm(asDrawn),
    corrected: withoutFilm(corrected()),
    inDots: inDots && withoutFilm(inDots),
    narrow,
    certainty: certaintyOf(settings.profile, boundsOf(asked)),
    faults,
    warnings,
  };
  const paths = await writeResults(namedFiles(names, [svg, await png, csvOf(result)]), values, io);
  if (!values.json) io.out(words(result));
  sayWarnings(warnings, io, file, { listed: values.json ? [] : ['NOT_AS_ASKED'] });
  sayWrote(paths, io);
  return result;
}

/** Film is kept until it is drawn: that of a batch would fill the memory. */
const withoutFilm = (prediction: Prediction): Prediction => ({ ...prediction, film: [] });

/** A prediction with the figures that the record of the stencil has: of one thing there is one number. */
function withFigures(prediction: Prediction, figures: CutFigures | undefined): Prediction {
  if (!figures) return prediction;
  const { rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm, meanAreaErrorPercent } = figures;
  const { rmsPlaceErrorMm: rmsPositionErrorMm, maxPlaceErrorMm: maxPositionErrorMm } = figures;
  const widths = { rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm };
  const places = { rmsPositionErrorMm, maxPositionErrorMm };
  return { ...prediction, summary: { ...prediction.summary, ...widths, ...places, meanAreaErrorPercent } };
}

/** The dots that `correct` burns, cut virtually. */
function predictDots(
  { corrected, image }: StencilDots,
  predicted: (openings: readonly Opening[], numbers: readonly number[]) => Prediction,
): Prediction {
  const back = invert(image.placement.toPixels);
  const toMm = ([column, line]: readonly [number, number]): Point => [
    back.a * column + back.b * line,
    back.c * column + back.d * line,
  ];
  const { rowsPerLine } = image.placement;
  const film = (1 - 1 / rowsPerLine) / 2;
  const stamps = new Map<Stamp, Opening[]>();
  const burntStamp = ({ rows }: Stamp): Opening[] => {
    if (rowsPerLine === 1) return [dotRegion(rows, toMm)];
    // Each run by itself, with film between rows: what the beam burns of them runs together.
    const runs: Opening[] = [];
    const lineAt = (row: number, line: number): number => row + line + (line === 0 ? film : -film);
    eachRun(rows, (from, to, row) =>
      runs.push(dotRegion([[from, to]], ([column, line]) => toMm([column, lineAt(row, line)]))),
    );
    return runs;
  };
  const burnt: Opening[] = [];
  const numbers: number[] = [];
  image.placed.forEach(({ stamp, column, row }, i) => {
    if (stamp.count === 0) return;
    const [x, y] = mapPoint(back, [column, row]);
    for (const region of kept(stamps, stamp, () => burntStamp(stamp)))
      numbers[burnt.push(copyAt(region, x, y)) - 1] = corrected.numbers[i];
  });
  return predicted(burnt, numbers);
}

function words(result: Predicted): string {
  const { asDrawn, corrected, inDots } = result;
  const columns = present<[string, Prediction]>(
    ['as drawn', asDrawn],
    ['corrected', corrected],
    inDots && ['in dots', inDots],
  );
  const line = (label: string, pick: (p: Prediction) => string): string =>
    `  ${label.padEnd(38)}${columns.map(([, p]) => pick(p).padStart(12)).join('')}\n`;
  return [
    `${visible(result.file)}: what will come out of ${count(asDrawn.summary.openings, 'opening')}, ${result.mirrored ? 'mirrored' : 'not mirrored'}\n`,
    `  ${''.padEnd(38)}${columns.map(([title]) => title.padStart(12)).join('')}\n`,
    line('width error, root mean square, µm', (p) => micrometres(p.summary.rmsWidthErrorMm)),
    line('width error, mean (+ is too wide), µm', (p) => micrometres(p.summary.meanWidthErrorMm)),
    line('width error, largest, µm', (p) => micrometres(p.summary.maxWidthErrorMm)),
    line('place error, root mean square, µm', (p) => micrometres(p.summary.rmsPositionErrorMm)),
    line('place error, largest, µm', (p) => micrometres(p.summary.maxPositionErrorMm)),
    line('area error, mean, %', (p) => p.summary.meanAreaErrorPercent.toFixed(1)),
    line('webs burnt away', (p) => String(p.summary.burntWebs.length)),
    line('parts narrower than the kerf', (p) => (p === asDrawn ? '-' : String(result.narrow.length))),
    certaintyWords(result.certainty),
    faultRows(result.faults, ({ opening }) => `opening ${opening}`),
  ].join('');
}

/** Width is along the side of the opening nearer to X. `corrected` is in whole dots where a pitch is known. */
function csvOf({ numberAt, asDrawn, corrected, inDots }: Predicted): string {
  const best = (inDots ?? corrected).items;
  type Row = readonly [drawn: PredictedOpening, best: PredictedOpening];
  const cut = (name: string, of: 0 | 1): Record<string, (row: Row) => string> => ({
    [`${name}_width_mm`]: (row) => row[of].cutWidthMm.toFixed(5),
    [`${name}_height_mm`]: (row) => row[of].cutHeightMm.toFixed(5),
    [`${name}_area_mm2`]: (row) => row[of].cutAreaMm2.toFixed(5),
    [`${name}_dx_mm`]: (row) => row[of].dxMm.toFixed(5),
    [`${name}_dy_mm`]: (row) => row[of].dyMm.toFixed(5),
  });
  return csvText<Row>(
    {
      opening: ([{ number }]) => numberAt(number),
      asked_width_mm: ([{ askedWidthMm }]) => askedWidthMm.toFixed(5),
      asked_height_mm: ([{ askedHeightMm }]) => askedHeightMm.toFixed(5),
      asked_area_mm2: ([{ askedAreaMm2 }]) => askedAreaMm2.toFixed(5),
      ...cut('as_drawn', 0),
      ...cut('corrected', 1),
    },
    asDrawn.items.map((drawn, i) => [drawn, best[i]]),
  );
}

function jsonOf({ numberAt, ...result }: Predicted): unknown {
  const told = ({ summary, items }: Prediction): unknown => ({
    summary: { ...summary, burntWebs: summary.burntWebs.map((pair) => pair.map(numberAt)) },
    openings: items.map((item) => ({ ...item, number: numberAt(item.number) })),
  });
  const { asDrawn, corrected, inDots } = result;
  return { ...result, asDrawn: told(asDrawn), corrected: told(corrected), inDots: inDots && told(inDots) };
}

/** One sentence for both axes. */
function certaintyWords(certainty: Predicted['certainty']): string {
  const um = (mm: number): string =>
    mm === 0 ? 'not stated' : Number.isFinite(mm) ? `± ${(1000 * mm).toFixed(1)} µm` : 'unknown';
  const parts = certainty.map(
    ({ axis, lengthMm, lengthUncertaintyMm, widthUncertaintyMm }) =>
      `across ${axis.toUpperCase()} widths ${um(widthUncertaintyMm)}, places over ${lengthMm.toFixed(0)} mm ${um(lengthUncertaintyMm)}`,
  );
  return `  The profile itself is that sure (95 %), and no figure above is surer: ${parts.join('; ')}.\n`;
}
