export { type AttributeOptions, type FaultyCount, pChart, uChart } from './attribute-charts.js';
export {
  type CalibrationControl,
  type CalibrationLine,
  type CheckReading,
  calibratedValue,
  calibrationControl,
} from './calibration-control.js';
export type { ControlChart } from './chart-parts.js';
export {
  type CChart,
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
export { type ControlConstants, controlConstants } from './control-constants.js';
export { type DriftChart, type DriftOptions, driftChart, type HistoryPoint } from './drift-chart.js';
export { courseOf, type HistoryEntry, type ProfileHistory, profileHistory } from './profile-history.js';
export {
  type AgainstProfileOptions,
  type ChartedShift,
  type ReadingsAgainstProfile,
  readingsAgainstProfile,
} from './readings-against-profile.js';
export { type ScatterChart, type ScatterPoint, scatterChart } from './scatter-chart.js';
export { meanAndRangeCharts, meanAndSdCharts, type SubgroupCharts, type SubgroupOptions } from './subgroup-charts.js';
