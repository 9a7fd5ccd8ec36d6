export * from './affine.js';
export * from './area.js';
export { intersectRegions, subtractRegions, unionRegions, unionRings } from './boolean.js';
export * from './bounds.js';
export * from './convex.js';
export * from './offset.js';
export * from './shape-cache.js';
export * from './shapes.js';
export type * from './types.js';
