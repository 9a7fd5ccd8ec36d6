export {
  type CalibrationOptions,
  type CalibrationResult,
  fitCalibration,
  fitSessions,
  type ReadingResidual,
} from './fit-sessions.js';
