export { type BetweenDays, betweenDays } from './between-days.js';
export type { ControlChart } from './chart-parts.js';
export { type EwmaChart, ewmaChart, type IndividualsChart, individualsChart } from './charts.js';
export { compareProfiles, type ParameterChange, type ProfileComparison } from './compare-profiles.js';
export { type DriftChart, type DriftOptions, driftChart, type HistoryPoint } from './drift-chart.js';
export { courseOf, type HistoryEntry, type ProfileHistory, profileHistory } from './profile-history.js';
export {
  type AgainstProfileOptions,
  type ChartedShift,
  type ReadingsAgainstProfile,
  readingsAgainstProfile,
} from './readings-against-profile.js';
export { type ScatterChart, type ScatterPoint, scatterChart } from './scatter-chart.js';
export { type Change, type DayValue, seekChange } from './seek-change.js';
