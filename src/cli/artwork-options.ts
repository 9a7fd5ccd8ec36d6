import { type Command, InvalidArgumentError, Option } from 'commander';
import type { KnownDistance, ReadOptions } from '../artwork/types.js';
import { EXPORT_FORMATS } from '../export/export-formats.js';
import { lengthMm, parseCount, parseDpi, parseFormats, parsePitch, parsePositiveMm } from './values.js';

/** What the options of {@link addArtworkOptions} give. */
export interface ArtworkOptionValues {
  readonly dpi?: { x: number; y: number };
  readonly widthMm?: number;
  readonly knownDistance?: KnownDistance;
  readonly polarity?: 'auto' | 'dark' | 'light';
  readonly dropSpecksMm?: number;
  readonly page?: number;
  readonly anyLayer?: boolean;
  readonly side?: 'top' | 'bottom';
}

function parseKnownDistance(text: string): KnownDistance {
  const [from, to, distance] = text.split(/[,;:]/).map((part) => part.trim());
  const distanceMm = distance === undefined ? undefined : lengthMm(distance);
  if (
    !(
      Number.isInteger(Number(from)) &&
      Number.isInteger(Number(to)) &&
      Number(from) >= 1 &&
      Number(to) >= 1 &&
      distanceMm !== undefined &&
      distanceMm > 0
    )
  ) {
    throw new InvalidArgumentError(
      `Expected two opening numbers and the distance of their centres in mm, for example 3,17,25.4; found "${text}".`,
    );
  }
  return { from: Number(from), to: Number(to), distanceMm };
}

/** Adds the options that say how to read artwork; the same for every command that takes artwork. */
export function addArtworkOptions(command: Command): Command {
  return command
    .addOption(
      new Option('--dpi <n>', 'resolution of artwork that is an image, dots per inch; X and Y as 600x1200').argParser(
        parseDpi,
      ),
    )
    .addOption(
      new Option('--width-mm <mm>', 'true width of the whole image, drawing or page, mm')
        .argParser(parsePositiveMm)
        .conflicts('dpi'),
    )
    .addOption(
      new Option('--known-distance <a,b,mm>', 'size by the distance between the centres of two numbered openings')
        .argParser(parseKnownDistance)
        .conflicts(['dpi', 'widthMm']),
    )
    .addOption(
      new Option('--polarity <which>', 'which part of an image is openings').choices(['auto', 'dark', 'light']),
    )
    .addOption(
      new Option('--drop-specks-mm <mm>', 'drop traced openings smaller than a square this wide').argParser(
        parsePositiveMm,
      ),
    )
    .addOption(new Option('--page <n>', 'page of a PDF, counting from 1').argParser(parseCount))
    .option('--any-layer', 'read a layer although it says that it is no paste layer');
}

/**
 * Turns parsed options into what the readers take.
 *
 * @param jobFunction - what a job file in the same archive says of the file
 */
export function readOptionsOf(values: ArtworkOptionValues, name: string, jobFunction?: string): ReadOptions {
  return {
    name,
    ...(values.dpi ? { dpi: [values.dpi.x, values.dpi.y] as const } : {}),
    ...(values.widthMm === undefined ? {} : { widthMm: values.widthMm }),
    ...(values.knownDistance ? { knownDistance: values.knownDistance } : {}),
    ...(values.polarity ? { polarity: values.polarity } : {}),
    ...(values.dropSpecksMm === undefined ? {} : { dropSpecksMm: values.dropSpecksMm }),
    ...(values.page === undefined ? {} : { page: values.page }),
    ...(values.anyLayer ? { acceptAnyLayer: true } : {}),
    ...(values.side ? { side: values.side } : {}),
    ...(jobFunction === undefined ? {} : { jobFunction }),
  };
}

/** Numbers as reports print them: 1137,1200-1214. */
function parseNumbers(text: string, before: readonly number[] = []): number[] {
  const numbers = text.split(',').flatMap((part) => {
    const [, from, to = from] = /^\s*(\d{1,7})\s*(?:[-–]\s*(\d{1,7})\s*)?$/.exec(part) ?? [];
    const [first, last] = [Number(from), Number(to)];
    if (!(first >= 1 && last >= first)) {
      throw new InvalidArgumentError(`Expected numbers of openings, for example 1137,1200-1214; found "${text}".`);
    }
    return Array.from({ length: last - first + 1 }, (_, i) => first + i);
  });
  return [...new Set([...before, ...numbers])].sort((p, q) => p - q);
}

/** Which openings to leave out; the same for every command that can. */
export function dropOption(): Option {
  const words = 'leave out these openings, by the numbers that check and number give: 1137,1200-1214';
  return new Option('--drop <numbers>', words).argParser(parseNumbers);
}

/** The side of the board; for every command that lays a stencil or hands a layer on. */
export function sideOption(): Option {
  const words = 'side of the board that the artwork is for (default: what the file or its name says)';
  return new Option('--side <which>', words).choices(['top', 'bottom']);
}

/** Whether to mirror; the same for every command that lays a stencil. */
export function mirrorOption(): Option {
  const words = 'mirror left to right; auto: bottom layers (default: auto)';
  return new Option('--mirror <when>', words).choices(['auto', 'yes', 'no']);
}

/** What a stencil is written as. */
export function formatOption(words: string): Option {
  return new Option('-f, --format <list>', words).argParser(parseFormats(EXPORT_FORMATS));
}

/** How fine the dots of an image are. */
export function pitchOption(): Option {
  const words = 'dot pitch, mm; X and Y as 0.05x0.0254 (default: the profile’s)';
  return new Option('--pitch-mm <mm>', words).argParser(parsePitch);
}

/** How the beam sweeps; the same for the commands that choose the dots of an image, and the ones that show them. */
export function sweepOption(): Option {
  const words = 'axis along which the beam sweeps; y turns the image by 90 degrees (default: x)';
  return new Option('--sweep <axis>', words).choices(['x', 'y']);
}

/** Rows between burnt ones, likewise. */
export function nthRowOption(): Option {
  const words = 'burn every n-th row only and leave the rows between as film';
  return new Option('--burn-every-nth-row <n>', words).argParser(parseCount);
}
