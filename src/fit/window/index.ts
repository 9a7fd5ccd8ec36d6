export { fitWindow, type WindowOptions } from './fit-window.js';
export { joinGrids } from './join-grids.js';
export { type LogisticOptions, type LogisticResult, logistic } from './logistic.js';
export type {
  WindowBoundary,
  WindowCell,
  WindowContradiction,
  WindowMap,
  WindowRange,
  WindowRefusal,
  WindowResult,
  WindowSetting,
} from './types.js';
