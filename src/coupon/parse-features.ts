import { parseJsonFile } from '../schema/json-file.js';
import type { FeaturesFile } from './features.js';
import { featuresSchema } from './features-schema.js';

/**
 * Reads a features file (contract 1). All problems are gathered; each names file, line and key.
 *
 * @param text - the file's text, JSON
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_VERSION, REPEATED_FEATURE, NOMINAL_MISMATCH
 * @example parseFeatures(JSON.stringify(ruler), 'scale-ruler.features.json').coupon // 'scale-ruler'
 */
export function parseFeatures(text: string, file: string): FeaturesFile {
  return parseJsonFile(featuresSchema, text, file);
}
