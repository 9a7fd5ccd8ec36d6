export { couponOrder, planGauge, type ReadWith } from './coupon-order.js';
export {
  type PlanGauge,
  type PlannedReading,
  type PlanOptions,
  type PlanTargets,
  planReadings,
  type ReadingPlan,
  USUAL_GAUGE,
  USUAL_TARGETS,
} from './plan-readings.js';
export { planSentences, targetWords } from './plan-words.js';
export { uncheckedSentences } from './unchecked.js';
export { type NextReadings, type Reach, whatNext } from './what-next.js';
