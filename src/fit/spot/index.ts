export { fitSpot, type SpotOptions, type SpotPoint, type SpotResult } from './fit-spot.js';
