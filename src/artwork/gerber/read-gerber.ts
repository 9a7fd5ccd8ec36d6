import { InputError, type Problem, unlessRefused, type Warning } from '../../errors.js';
import { openingArea } from '../../geometry/area.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Opening, Region } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { compose, type PaintedObject } from '../paint/compose.js';
import { Diagnostics } from '../paint/diagnostics.js';
import { lostPieces } from '../paint/unite.js';
import { layerFromName, sideInFunction } from '../side.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import type { Values } from './attributes.js';
import { interpret } from './interpreter.js';
import { decodeLayer, lexGerber, shorten } from './lex.js';

/**
 * Reads a Gerber layer (RS-274X, X2, X3) into openings, as the Ucamco Gerber layer format specification says, with the
 * deprecated commands that real files hold.
 *
 * @param bytes - the whole file
 * @param options - `acceptAnyLayer` reads layers whose attributes say that they are no paste layer
 * @returns openings in mm, in the order in which the file draws them; the side from the file's attributes
 * @throws {InputError} WRONG_LAYER, NOTHING_DRAWN, FILE_CUT_OFF, APERTURE_UNDEFINED, … with line numbers,
 * all that were found together
 */
export async function readGerber(bytes: Uint8Array, options: ReadOptions = {}): Promise<Artwork> {
  const notes = new Diagnostics(options.name);
  const commands = lexGerber(decodeLayer(bytes), notes);
  const budget = new WorkBudget();
  const { objects, attributes, apertureFunctions } = budget.run(() => interpret(commands, notes));
  const wrong = options.acceptAnyLayer ? undefined : wrongLayer(attributes, options.name);
  const problems = wrong ? [wrong, ...notes.problems] : notes.problems;
  if (problems.length > 0) throw new InputError(problems);
  if ((attributes.get('.FilePolarity')?.[0] ?? '').toLowerCase() === 'negative') {
    notes.warn(
      'FILE_NEGATIVE',
      'the file says that its polarity is negative; it is read as it is drawn.',
      'Look at the picture that `predict` makes.',
    );
  }
  const lost: Region[] = [];
  const openings = budget.run(() => compose(objects, lost));
  if (openings.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file: options.name },
      message: 'the layer draws nothing, so there is no opening to cut.',
      hint: 'Check that this is the paste layer of the right side.',
    });
  }
  const side = sideInFunction(attributes.get('.FileFunction') ?? []);
  return {
    format: 'gerber',
    openings,
    warnings: [
      ...notes.finish(),
      ...lostPieces(lost, options.name),
      ...mostlyCleared(objects, openings, options.name),
      ...suspectLayer(attributes, apertureFunctions, options),
      ...findSuspicious(openings),
    ],
    ...(side ? { side } : {}),
    bounds: boundsOf(openings),
  };
}

/** Windows in thermal pads leave more than this share of what was drawn. Common practice, no source. */
const LEAST_LEFT = 0.5;

/** A warning for a layer of which clear objects hide more than half: a clear plane that comes too late. */
function mostlyCleared(
  objects: readonly PaintedObject[],
  openings: readonly Opening[],
  file: string | undefined,
): Warning[] {
  const dark = objects.filter((object) => object.dark);
  if (dark.length === objects.length) return [];
  const drawn = unlessRefused(() => new WorkBudget().run(() => compose(dark)));
  // What is too tangled without the clear objects can't be compared.
  if (!drawn) return [];
  const area = (list: readonly Opening[]): number => list.reduce((sum, opening) => sum + openingArea(opening), 0);
  const [left, all] = [area(openings), area(drawn)];
  if (left >= LEAST_LEFT * all && openings.length >= LEAST_LEFT * drawn.length) return [];
  return [
    {
      code: 'MOSTLY_CLEARED',
      place: { file },
      message: `clear objects (LPC) hide most of the layer: of ${drawn.length} openings with ${all.toFixed(2)} mm² that are drawn, ${openings.length} with ${left.toFixed(2)} mm² are left.`,
      hint: 'Compare the result with the board.',
    },
  ];
}

/** Kinds of layer by the first value of .FileFunction that are no stencil, in words. */
const OTHER_LAYERS: Readonly<Record<string, string>> = {
  copper: 'a copper layer',
  soldermask: 'a solder mask',
  legend: 'a legend (silk screen)',
  profile: 'the outline of the board',
  plated: 'a drill layer',
  nonplated: 'a drill layer',
  mixedplating: 'a drill layer',
  drillmap: 'a drill map',
  keepout: 'a keep-out layer',
  component: 'a component layer',
  fabricationdrawing: 'a drawing',
  assemblydrawing: 'a drawing',
  arraydrawing: 'a drawing',
  otherdrawing: 'a drawing',
  drawing: 'a drawing',
  vcut: 'a V-cut layer',
  vcutmap: 'a V-cut layer',
  depthrout: 'a routing layer',
  glue: 'a glue layer',
  pads: 'a pad layer',
  viafill: 'a via fill layer',
  viatenting: 'a via tenting layer',
  carbonmask: 'a carbon mask',
  goldmask: 'a gold mask',
  silvermask: 'a silver mask',
  tinmask: 'a tin mask',
  heatsinkmask: 'a heat sink mask',
  peelablemask: 'a peelable mask',
};

/** Functions of apertures that only copper and drill layers have (specification, .AperFunction). */
const OTHER_APERTURES =
  /^(ViaDrill|BackDrill|ComponentDrill|MechanicalDrill|CastellatedDrill|ViaPad|Conductor|NonConductor|AntiPad|ThermalReliefPad|WasherPad)$/i;

/** The refusal of a layer that says itself what it is, or undefined. */
function wrongLayer(attributes: ReadonlyMap<string, Values>, file: string | undefined): Problem | undefined {
  const values = attributes.get('.FileFunction') ?? [];
  const other = OTHER_LAYERS[(values[0] ?? '').toLowerCase()];
  if (!other) return undefined;
  return {
    code: 'WRONG_LAYER',
    place: { file },
    message: `the file says that it is ${other} (${values.join(',')}), not a paste layer.`,
    hint: 'Give the paste layer, or --any-layer to read it all the same.',
  };
}

/** A warning for a layer that does not say what it is, but looks like another kind. */
function suspectLayer(
  attributes: ReadonlyMap<string, Values>,
  apertureFunctions: readonly string[],
  { name: file, jobFunction }: Pick<ReadOptions, 'name' | 'jobFunction'>,
): Warning[] {
  const doubt = (why: string): Warning[] => [
    {
      code: 'LAYER_DOUBTFUL',
      place: { file },
      message: `this may be no paste layer: ${why}.`,
      hint: 'Look at the openings before you cut.',
    },
  ];
  const kind = attributes.get('.FileFunction')?.[0] ?? jobFunction?.split(',')[0].trim();
  if (kind !== undefined)
    return /^(solder)?paste$/i.test(kind) ? [] : doubt(`it is said to be of the kind ${shorten(kind)}`);
  const aperture = apertureFunctions.find((name) => OTHER_APERTURES.test(name));
  if (aperture) return doubt(`it has apertures of the kind ${aperture}`);
  if (file === undefined) return [];
  const named = layerFromName(file);
  return named.kind === undefined || named.kind === 'paste' ? [] : doubt(`its name is that of ${named.what}`);
}
