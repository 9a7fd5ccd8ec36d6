export { fitCalibration, fitSessions } from './fit-sessions.js';
export { type OpeningUncertainty, openingUncertainty } from './opening-uncertainty.js';
export type {
  CalibrationOptions,
  CalibrationResult,
  FlaggedReading,
  ParameterResult,
  ReadingResidual,
  RobustAnswer,
} from './types.js';
