/**
 * apertrue as a library: what the commands are made of. Lengths are millimetres, y points up; see DEVELOPERS.md for the
 * words and conventions.
 */
export { listArchive } from './artwork/archive/list-archive.js';
export { readDrill } from './artwork/drill/read-drill.js';
export { readOutline } from './artwork/gerber/read-outline.js';
export { readArtwork } from './artwork/read.js';
export { findSuspicious } from './artwork/suspicious.js';
export type { Artwork, ArtworkFormat, KnownDistance, ReadOptions } from './artwork/types.js';
export type {
  CellFeature,
  DimensionalFeature,
  Feature,
  FeaturesFile,
  VernierFeature,
} from './coupon/features.js';
export { generateCoupon } from './coupon/generate.js';
export { parseFeatures } from './coupon/parse-features.js';
export type { Coupon, CouponOptions } from './coupon/types.js';
export type { Place, Problem, Warning } from './errors.js';
export { InputError } from './errors.js';
export type { ExportFormat } from './export/export-formats.js';
export type { WriteOptions, Written } from './export/types.js';
export { writeArtwork } from './export/write.js';
export { fitCalibration, fitSessions } from './fit/calibration/fit-sessions.js';
export { openingUncertainty } from './fit/calibration/profile-fit.js';
export type { CalibrationOptions, CalibrationResult } from './fit/calibration/types.js';
export { ewmaChart, individualsChart } from './fit/drift/charts.js';
export { driftChart } from './fit/drift/drift-chart.js';
export { readingsAgainstProfile } from './fit/drift/readings-against-profile.js';
export * from './fit/linear/least-squares.js';
export { planReadings } from './fit/plan/plan-readings.js';
export { fitSpot } from './fit/spot/fit-spot.js';
export { fitWindow } from './fit/window/fit-window.js';
export { logistic } from './fit/window/logistic.js';
export { openingArea, openingCentroid, openingPerimeter } from './geometry/area.js';
export type { Affine, Box, Opening, OpeningTag, Point, Region, Ring } from './geometry/types.js';
export { findHeat } from './layout/heat.js';
export { layStencil } from './layout/lay-stencil.js';
export { packSheet } from './layout/pack.js';
export { type Corrected, type CorrectOptions, correctOpenings, type NarrowPart } from './machine/correct-openings.js';
export { type CalibratedExtent, calibratedExtent, machineModel } from './machine/machine-model.js';
export { type Prediction, type PredictOptions, predictCut } from './machine/predict-cut.js';
export { parseProfile, profileText } from './machine/profile-file.js';
export type { MachineModel, Measured, Profile, ProfileFit, ReadingSession } from './machine/types.js';
export { parseReadings } from './readings/parse-readings.js';
export type { Outcome, Reading } from './readings/types.js';
export { type CheckOptions, type CheckResult, checkOpenings } from './rules/check.js';
export { readRules } from './rules/treat/read-rules.js';
export { treatOpenings } from './rules/treat/treat.js';
export type { CutFigures, Fault, FaultKind } from './stencil/faults.js';
export type { CutCheck } from './stencil/guard.js';
export {
  makeStencil,
  type Stencil,
  type StencilOptions,
  type StencilProfile,
  writeStencil,
} from './stencil/make-stencil.js';
