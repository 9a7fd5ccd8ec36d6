export type { Problem, Warning } from './errors.js';
export { InputError } from './errors.js';
export { openingArea, openingCentroid, openingPerimeter } from './geometry/area.js';
export type { Affine, Box, Opening, OpeningTag, Point, Region, Ring } from './geometry/types.js';
