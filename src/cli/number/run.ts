import { readArtwork } from '../../artwork/read.js';
import type { Artwork, ReadOptions } from '../../artwork/types.js';
import { InputError } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';
import { words } from '../../report/document/blocks.js';
import { createMeasurer } from '../../rules/measure.js';
import { count, csvText, visible } from '../../text.js';
import { eachArtwork, exitOf, type ReadLayer } from '../each-artwork.js';
import { type ExitCode, isOfUnsaidSize } from '../exit-codes.js';
import type { Io } from '../io.js';
import type { NumberOptionValues } from '../options/stencils.js';
import { makeResults } from '../results.js';
import { printJson, sayWarnings, sayWrote } from '../tell.js';

type NumberedRow = ReturnType<typeof rowsOf>[number];

interface Numbered {
  readonly file: string;
  /** `mm`, or percent of the artwork's width where its size is not known. */
  readonly unit: 'mm' | 'percent of the width';
  readonly openings: readonly NumberedRow[];
}

/** Artwork without a size is read as if it were so wide, mm: lengths then are percent of its width. */
const UNSIZED_WIDTH_MM = 100;

/** Reads, numbers, writes. */
export async function runNumber(patterns: readonly string[], values: NumberOptionValues, io: Io): Promise<ExitCode> {
  const unsized = new Set<Artwork>();
  const read = async (bytes: Uint8Array, options: ReadOptions = {}): Promise<Artwork> => {
    try {
      return await readArtwork(bytes, options);
    } catch (error) {
      if (!(error instanceof InputError && error.code === 'SIZE_UNKNOWN')) throw error;
      const artwork = await readArtwork(bytes, { ...options, widthMm: UNSIZED_WIDTH_MM });
      unsized.add(artwork);
      io.run.isUnsized = true;
      return artwork;
    }
  };
  const work = (layer: ReadLayer): Promise<Numbered> => numberLayer(layer, unsized.has(layer.artwork), values, io);
  const worked = await eachArtwork(patterns, values, io, work, read);
  if (values.json && worked.results.length > 0) printJson(worked.results, io);
  return exitOf(worked);
}

async function numberLayer(layer: ReadLayer, unsized: boolean, values: NumberOptionValues, io: Io): Promise<Numbered> {
  const { file, stem, artwork } = layer;
  const { openings } = artwork;
  const result: Numbered = { file, unit: unsized ? 'percent of the width' : 'mm', openings: rowsOf(openings) };
  const make = async (): Promise<string[]> => [await pageOf(stem, openings, result), csvOf(result)];
  const paths = await makeResults([`${stem}.numbers.html`, `${stem}.numbers.csv`], values, io, make);
  // Nobody has said how wide it is, so nobody said it wrongly.
  sayWarnings(unsized ? artwork.warnings.filter((one) => !isOfUnsaidSize(one)) : artwork.warnings, io, file);
  sayWrote(paths, io);
  const size = unsized ? '; its size is not known, so lengths are percent of its width' : '';
  if (!values.json) io.out(`${visible(file)}: ${count(openings.length, 'opening')}${size}\n`);
  return result;
}

/** What is told of each opening. */
function rowsOf(openings: readonly Opening[]) {
  const measure = createMeasurer();
  return openings.map((opening, i) => {
    const { centre, widthMm, heightMm } = measure(opening);
    return { number: i + 1, centre, width: widthMm, height: heightMm };
  });
}

async function pageOf(stem: string, openings: readonly Opening[], { unit }: Numbered): Promise<string> {
  const { reportHtml } = await import('../../report/document/html.js');
  const caption = `${count(openings.length, 'opening')}, as they are counted in every report.`;
  const layers = [{ name: 'openings', openings: openings.map((region, i) => ({ number: i + 1, region })) }];
  const unsized =
    'The artwork does not say how large it is. Measure the distance between the centres of two openings on the board, and give their numbers and the distance: --known-distance 3,17,25.4';
  return reportHtml({
    title: `${stem}: numbers of the openings`,
    blocks: [...(unit === 'mm' ? [] : [words(unsized, 'warning')]), { kind: 'stencil', layers, words: caption }],
  });
}

function csvOf({ unit, openings }: Numbered): string {
  const suffix = unit === 'mm' ? 'mm' : 'percent';
  return csvText<NumberedRow>(
    {
      opening: ({ number }) => number,
      [`centre_x_${suffix}`]: ({ centre }) => centre[0].toFixed(4),
      [`centre_y_${suffix}`]: ({ centre }) => centre[1].toFixed(4),
      [`width_${suffix}`]: ({ width }) => width.toFixed(4),
      [`height_${suffix}`]: ({ height }) => height.toFixed(4),
    },
    openings,
  );
}
