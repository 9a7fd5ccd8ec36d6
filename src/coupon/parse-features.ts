import { parseShipped, type Reader } from '../schema/shipped.js';
import type { FeaturesFile } from './features.js';

/**
 * Reads a features file (contract 1). All problems are gathered; each names file, line and key.
 *
 * @param text - the file's text, JSON
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_VERSION, REPEATED_FEATURE, NOMINAL_MISMATCH
 * @example parseFeatures(JSON.stringify(ruler), 'scale-ruler.features.json').coupon // 'scale-ruler'
 */
export function parseFeatures(text: string, file: string): FeaturesFile {
  return parseShipped('features', text, file, checkedFeatures);
}

/** nominalMm may differ from |to - from| by this much, mm: files from other programs may be rounded to 0.1 um. */
const NOMINAL_TOLERANCE_MM = 1e-3;

/** What the schema can't say. */
const checkedFeatures: Reader<FeaturesFile, FeaturesFile> = (read, tell) => {
  const seen = new Set<string>();
  read.features.forEach((feature, i) => {
    const refuse = (key: string, code: string, message: string, hint: string): void =>
      tell(['features', i, key], message, { code, hint });
    const again = `"${feature.id}" is the name of an earlier feature too.`;
    if (seen.has(feature.id)) refuse('id', 'REPEATED_FEATURE', again, 'Give each feature an id of its own.');
    seen.add(feature.id);
    if ('box' in feature) {
      const [x0, y0, x1, y1] = feature.box;
      const hint = 'Give x0, y0, x1, y1 with x1 > x0 and y1 > y0.';
      if (x1 <= x0 || y1 <= y0) refuse('box', 'BAD_VALUE', 'the box has no area.', hint);
    } else {
      const { from, to, nominalMm } = feature;
      const apartMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
      const message = `nominalMm is ${nominalMm}, but from and to lie ${apartMm.toFixed(4)} mm apart.`;
      if (Math.abs(apartMm - nominalMm) > NOMINAL_TOLERANCE_MM)
        refuse('nominalMm', 'NOMINAL_MISMATCH', message, 'The three must agree to 0.001 mm.');
    }
    if (feature.kind === 'vernier' && feature.zeroLine > feature.lines) {
      const message = `expected a number >= 0 and <= ${feature.lines}; found ${feature.zeroLine}.`;
      tell(['features', i, 'zeroLine'], message);
    }
  });
  return read;
};
