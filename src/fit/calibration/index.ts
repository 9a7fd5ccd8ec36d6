export { fitCalibration, fitSessions } from './fit-sessions.js';
export { foreseen, type NextReading } from './foresee.js';
export { gaugeName } from './gauges.js';
export type { ParameterResult } from './profile-fit.js';
export { type OpeningUncertainty, openingUncertainty } from './profile-fit.js';
export type {
  CalibrationOptions,
  CalibrationResult,
  FlaggedReading,
  ReadingResidual,
  RobustAnswer,
} from './types.js';
