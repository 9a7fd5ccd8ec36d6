export type { Chart } from './chart.js';
export { type ControlPlotOptions, controlPlot, scatterPlot } from './control-plot.js';
export { kerfByLineEnergy } from './kerf-by-line-energy.js';
export { placeArrows } from './place-arrows.js';
export { type PlottedReading, plottedReadings } from './plotted-reading.js';
export { readingsAndFit } from './readings-and-fit.js';
export { residualMap } from './residual-map.js';
export { residualsBySize } from './residuals-by-size.js';
export { windowMap } from './window-map.js';
