import type { OpeningTag, Point, Region } from '../../geometry/types.js';
import type { Aperture } from './aperture.js';
import { mapCoordinate } from './coordinates.js';
import type { LayerState } from './layer-state.js';
import { isPlain, loadKey, loadMap } from './load-state.js';

/** Puts the aperture in force at a point. */
export function flash(layer: LayerState, target: Point, line: number): void {
  const at = mapCoordinate(layer.coordinates, target);
  const block = layer.aperture === undefined ? undefined : layer.sink.blocks.get(layer.aperture);
  if (block) {
    const key = isPlain(layer.load) ? '' : loadKey(layer.load);
    layer.sink.flashBlock(block, loadMap(layer.load), key, at, layer.dark, layer.attributes.tag(undefined), line);
    return;
  }
  const aperture = apertureInForce(layer, 'a flash', line);
  if (!aperture) return;
  const regions = loadedRegions(layer, aperture);
  if (regions.length === 0) {
    layer.notes.warnOnce(
      'APERTURE_EMPTY',
      line,
      `aperture D${layer.aperture} has no size; what it flashes is not there.`,
    );
  }
  layer.sink.add({ dark: layer.dark, regions, at, tag: tagOf(layer, 'flash', aperture, line) }, line);
}

/** The aperture chosen last. One that was never defined is a problem where it is used. */
export function apertureInForce(layer: LayerState, what: string, line: number): Aperture | undefined {
  const code = layer.aperture;
  const aperture = code === undefined ? undefined : layer.apertures.get(code);
  if (aperture) return aperture;
  if (code === undefined) {
    layer.notes.fail(
      'APERTURE_NONE',
      line,
      `${what} comes before any aperture is chosen.`,
      'Export the file with embedded apertures (RS-274X).',
    );
  } else if (layer.sink.blocks.has(code)) {
    layer.notes.warn('BLOCK_STROKE', line, `block aperture D${code} can't draw ${what}; it is left out.`);
  } else {
    layer.notes.fail(
      'APERTURE_UNDEFINED',
      line,
      `aperture D${code} is used but never defined before.`,
      'The file may need a separate aperture list; export it with embedded apertures (RS-274X).',
    );
  }
  return undefined;
}

/** An aperture's image under the load state, worked out once for each state. */
export function loadedRegions(layer: LayerState, aperture: Aperture): readonly Region[] {
  return isPlain(layer.load) ? aperture.regions : aperture.loaded(loadKey(layer.load), loadMap(layer.load));
}

export function tagOf(layer: LayerState, drawn: 'flash' | 'stroke', aperture: Aperture, line: number): OpeningTag {
  return { ...layer.attributes.tag(aperture.attributes), drawn, shape: aperture.family, line };
}
