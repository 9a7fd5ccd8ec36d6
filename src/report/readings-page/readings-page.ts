import { type Feature, type FeaturesFile, featureBox } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { couponOrder } from '../../fit/plan/plan-words.js';
import { boxAround } from '../../geometry/bounds.js';
import type { Box } from '../../geometry/types.js';
import { gaugeOf, type ProjectGauge, takenWith } from '../../project/project.js';
import { inGaugeUnit, MM_PER_UNIT } from '../../readings/length.js';
import { LEAST_SHARE, plausibleRange, SLIPS } from '../../readings/question-reading.js';
import { FORM_LINES } from '../../readings/readings-form.js';
import { FORM_COLUMNS } from '../../readings/types.js';
import { OUTCOMES, OUTCOMES_OF, whereOf } from '../../readings/where-to-read.js';
import { escapeXml } from '../../text.js';
import { SCRIPT, STYLE } from './script.js';

/** Round to 10 um: finer than any screen shows. */
const at = (mm: number): string => String(Number(mm.toFixed(2)));

const sidesOf = ({ minX, minY, maxX, maxY }: Box) => [minX, minY, maxX, maxY];

/** What the magnified view shows: the feature with enough around it to be found on the film. */
function viewOf({ minX, minY, maxX, maxY }: Box): Box {
  const size = Math.max(maxX - minX, maxY - minY, 0.6);
  return boxAround([(minX + maxX) / 2, (minY + maxY) / 2], 2.2 * size, 1.4 * size);
}

/** The line to measure along, with a bar across each end; the outline of what is looked at as a whole. */
function markOf(feature: Feature, heightMm: number): string {
  const y = (value: number): number => heightMm - value;
  if ('box' in feature) {
    const [x0, y0, x1, y1] = feature.box;
    return `M${at(x0)} ${at(y(y0))}H${at(x1)}V${at(y(y1))}H${at(x0)}Z`;
  }
  const [[ax, ay], [bx, by]] = [feature.from, feature.to];
  const length = Math.hypot(bx - ax, by - ay);
  const bar = Math.max(0.15, length / 12);
  const [nx, ny] = [(-(by - ay) / length) * bar, ((bx - ax) / length) * bar];
  const end = (x: number, yy: number): string => `M${at(x - nx)} ${at(y(yy - ny))}L${at(x + nx)} ${at(y(yy + ny))}`;
  return `M${at(ax)} ${at(y(ay))}L${at(bx)} ${at(y(by))}${end(ax, ay)}${end(bx, by)}`;
}

function pageFeature(feature: Feature, file: FeaturesFile, gauges: readonly ProjectGauge[]): Record<string, unknown> {
  const gauge = gaugeOf(feature, gauges);
  const box = featureBox(feature);
  const length = 'nominalMm' in feature ? feature : undefined;
  const ofLines = feature.kind === 'vernier' ? [0, feature.lines] : undefined;
  return {
    id: feature.id,
    kind: feature.kind,
    say: feature.say,
    where: whereOf(feature, file),
    outcomes: OUTCOMES_OF[feature.kind],
    box: sidesOf(box),
    view: sidesOf(viewOf(box)),
    mark: markOf(feature, file.canvas.heightMm),
    nominalMm: length?.nominalMm,
    range: length ? plausibleRange(length) : ofLines,
    gauge: gauge && [gauge.resolutionMm, gauge.name],
    unit: gauge?.unit,
    inUnit: gauge?.unit && length && inGaugeUnit(length.nominalMm, gauge.unit),
  };
}

function openingsPath({ openings, canvas }: Coupon): string {
  const ring = (points: readonly (readonly [number, number])[]): string =>
    `M${points.map(([x, y]) => `${at(x)} ${at(canvas.heightMm - y)}`).join('L')}Z`;
  return openings.map(({ outer, islands = [] }) => [outer, ...islands].map(ring).join('')).join('');
}

/** A value as a script may hold it: nothing in it ends the script. */
const inScript = (value: unknown): string =>
  JSON.stringify(value).replaceAll('<', '\\u003c').replaceAll('\u2028', '\\u2028').replaceAll('\u2029', '\\u2029');

/**
 * A page for typing readings in a browser: one file, no network, the same checks as at the prompt.
 *
 * @param coupon - from `generateCoupon`
 * @param gauges - at hand, for rows whose form names none
 * @returns HTML; same inputs, same bytes
 */
export function readingsPage(coupon: Coupon, gauges: readonly ProjectGauge[] = []): string {
  const { canvas, name, title, features } = coupon;
  const order = couponOrder(coupon, takenWith(features.features, gauges));
  const data = {
    header: FORM_COLUMNS.join(','),
    coupon: name,
    // Readings of a coupon of another size are others.
    stamp: `${at(canvas.widthMm)}x${at(canvas.heightMm)} ${features.features.length}`,
    widthMm: canvas.widthMm,
    heightMm: canvas.heightMm,
    form: FORM_LINES,
    slips: SLIPS,
    leastShare: LEAST_SHARE,
    units: MM_PER_UNIT,
    // So many are enough for a start; without a plan all are read.
    first: order?.first ?? features.features.length,
    enoughFor: order?.enoughFor ?? '',
    features: (order?.features ?? features.features).map((feature) => pageFeature(feature, features, gauges)),
  };
  const outcomes = OUTCOMES.map(
    (outcome) => `<button type="button" value="${outcome}" hidden>${outcome} (${outcome[0]})</button>`,
  ).join('');
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<title>${escapeXml(name)}: readings</title>
<style>${STYLE}</style>
</head>
<body>
<header><h1>${escapeXml(name)}</h1><p>${escapeXml(title)}</p><p id="count" role="status"></p><progress id="bar" value="0" aria-labelledby="count"></progress></header>
<main>
<section id="task" aria-label="What to read now">
<h2 id="id"></h2><p id="say"></p><p id="where"></p>
<form id="entry" autocomplete="off">
<label for="value">Reading</label><input id="value" inputmode="text" enterkeyhint="next" spellcheck="false">
<p id="answer" role="alert"></p>
<div class="row" id="outcomes">${outcomes}</div>
<label for="note">Note</label><input id="note">
<div class="row" style="margin-top:10px"><button class="go">Next (Enter)</button><button type="button" id="back">Back (&uarr;)</button><button type="button" id="skip">Skip (&darr;)</button></div>
</form>
<div class="row" style="margin-top:10px"><button type="button" id="save">Download the CSV (Ctrl+S)</button></div>
<details><summary>How it was cut</summary><div class="form" id="form"></div></details>
<p id="help">Type what the gauge shows: 0.31, 0,31, 310um, 12.2mil, 0.0122in. What you typed stays in this browser until the coupon is downloaded; put the CSV in place of the one beside this page.</p>
</section>
<section id="place" aria-label="Where it is">
<svg id="near" role="img" aria-label="The place to read, magnified"><use href="#cuts"/><path class="mark" data-of="near"/></svg>
<svg id="whole" viewBox="0 0 ${at(canvas.widthMm)} ${at(canvas.heightMm)}" role="img" aria-label="The whole coupon"><path id="cuts" class="cut" fill-rule="evenodd" d="${openingsPath(coupon)}"/><path class="mark" data-of="whole"/><rect id="spot" class="spot"/></svg>
</section>
</main>
<script>const DATA = ${inScript(data)};${SCRIPT}</script>
</body>
</html>
`;
}
