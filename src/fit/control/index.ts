export {
  type CalibrationControl,
  type CalibrationLine,
  type CheckReading,
  calibratedValue,
  calibrationControl,
} from './calibration-control.js';
export {
  type CChart,
  type ControlChart,
  type CusumChart,
  type CusumOptions,
  cChart,
  cusumChart,
  type EwmaChart,
  type EwmaOptions,
  ewmaChart,
  type IndividualsChart,
  type IndividualsOptions,
  individualsChart,
} from './charts.js';
export { compareProfiles, type ParameterChange, type ProfileComparison } from './compare-profiles.js';
export { type DriftChart, type DriftOptions, driftChart, type HistoryPoint } from './drift-chart.js';
export { courseOf, type HistoryEntry, type ProfileHistory, profileHistory } from './profile-history.js';
