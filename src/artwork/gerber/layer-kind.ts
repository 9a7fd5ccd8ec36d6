import type { Problem, Warning } from '../../errors.js';
import { layerFromName } from '../layer-name.js';
import type { ReadOptions } from '../types.js';
import type { Values } from './attributes.js';
import { shorten } from './lex.js';

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
export function wrongLayer(attributes: ReadonlyMap<string, Values>, file: string | undefined): Problem | undefined {
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
export function suspectLayer(
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
