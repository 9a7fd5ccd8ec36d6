import type { Artwork } from '../../artwork/types.js';
import type { Opening } from '../../geometry/types.js';
import { type CheckResult, checkOpenings } from '../../rules/check.js';
import { checkCsv } from '../../rules/check-table.js';
import type { Limits } from '../../rules/limits.js';
import { readLimits } from '../../rules/read-limits.js';
import { type Kept, numbered, withoutDropped } from '../dropped-openings.js';
import { eachArtwork, exitOf, type ReadLayer, tellEach } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import { workingOn } from '../failure.js';
import { type FilmFacts, filmFacts } from '../film-and-rules.js';
import { isGrave } from '../grave-warnings.js';
import type { Io } from '../io.js';
import { jsonParts } from '../json-parts.js';
import type { CheckOptionValues } from '../options/stencils.js';
import { makeResults } from '../results.js';
import { sayWarnings, sayWrote } from '../tell.js';
import { refuseUnusedOptions } from '../unused-options.js';
import type { Content } from '../write-together.js';
import { tellCheck } from './words.js';

interface Checked {
  readonly file: string;
  readonly artwork: Artwork;
  readonly result: CheckResult;
}

/** Reads, checks, tells. */
export async function runCheck(patterns: readonly string[], values: CheckOptionValues, io: Io): Promise<ExitCode> {
  refuseUnusedOptions([[values.all === true && values.json === true, '--all', '--json lists every opening anyway']]);
  const film = await filmFacts(values, io);
  const limits =
    values.limits === undefined
      ? undefined
      : await readLimits(new TextDecoder().decode(await io.readFile(values.limits)), values.limits);
  const worked = await eachArtwork(patterns, values, io, (layer) => checkLayer(layer, film, limits, values, io));
  const { results } = worked;
  tellEach(results, values, io, {
    json: ({ file, result }) => ({ ...jsonOf(file, result), openings: [...rowsOf(result)] }),
    words: ({ result }) => tellCheck(result, values.all === true, io),
  });
  const findings = results.some(
    ({ artwork, result }) => result.totals.failed > 0 || artwork.warnings.some((warning) => isGrave(warning, values)),
  );
  return exitOf(worked, findings);
}

async function checkLayer(
  { file, stem, artwork: whole }: ReadLayer,
  { thicknessMm, profileLimits }: FilmFacts,
  limits: Limits | undefined,
  values: CheckOptionValues,
  io: Io,
): Promise<Checked> {
  const { paste, alloy, metalPercent, boards } = values;
  const { artwork, numberAt } = withoutDropped(whole, values, file);
  sayWarnings(artwork.warnings, io, file);
  const checked = workingOn(file, () =>
    checkOpenings(artwork.openings, { thicknessMm, paste, alloy, metalPercent, limits, profileLimits, boards }),
  );
  const result = values.drop === undefined ? checked : withNumbers(checked, numberAt);
  sayWarnings(result.warnings, io, file);
  if (values.out !== undefined) await writeAll(file, stem, artwork.openings, result, values, io);
  return { file, artwork, result };
}

/** The result with the openings' own numbers. */
function withNumbers(result: CheckResult, numberAt: Kept['numberAt']): CheckResult {
  return {
    ...result,
    openings: result.openings.map((check) => ({
      ...check,
      number: numberAt(check.number),
      webTo: check.webTo === undefined ? undefined : numberAt(check.webTo),
    })),
    groups: result.groups.map((group) => ({ ...group, openings: group.openings.map(numberAt) })),
    warnings: result.warnings.map((warning) => numbered(warning, numberAt)),
  };
}

function jsonOf(file: string, result: CheckResult): Record<string, unknown> {
  return { format: 'apertrue-check', version: 1, file, ...result, openings: rowsOf(result) };
}

function* rowsOf({ openings }: CheckResult): Generator<unknown> {
  for (const check of openings) yield { ...check, tag: undefined, line: check.tag?.line };
}

async function writeAll(
  file: string,
  stem: string,
  openings: readonly Opening[],
  result: CheckResult,
  values: CheckOptionValues,
  io: Io,
): Promise<void> {
  const where = { out: values.out as string, overwrite: values.overwrite };
  const make = async (): Promise<Content[]> => {
    const { checkPicture } = await import('../../report/check-picture.js');
    const { outlineText, svgToPng } = await import('../../report/picture.js');
    const picture = checkPicture(openings, result, `${stem}: will it print?`);
    return [checkCsv(result), jsonParts(jsonOf(file, result)), await outlineText(picture), await svgToPng(picture)];
  };
  sayWrote(await makeResults(`${stem}.check`, ['csv', 'json', 'svg', 'png'], where, io, make), io);
}
