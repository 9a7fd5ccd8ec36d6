export { traceGrey } from './trace.js';
