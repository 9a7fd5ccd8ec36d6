import { type Arc, arcBetween, arcPoints, singleQuadrantCentre } from '../../geometry/arc.js';
import { move } from '../../geometry/move.js';
import type { Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { unionOfRings } from '../paint/clip.js';
import type { Aperture } from './aperture.js';
import { isPlainMap, mapCoordinate } from './coordinates.js';
import { apertureInForce, loadedRegions, tagOf } from './flash.js';
import type { LayerState } from './layer-state.js';
import { loadKey } from './load-state.js';
import { convexLine, convexPath, roundArc, roundLine } from './stroke.js';

/** Radii of an arc's two ends may differ by rounding; more than this and the file is odd, mm and share. */
const RADII_DIFFER = { mm: 0.05, share: 0.02 };
/** What two readings of an arc may miss its end by, to tell which is meant, mm. */
const RADII_AGREE_MM = 0.002;

/**
 * Draws from the current point to the target: a stroke, or an edge of a contour within a region.
 *
 * @param offset - I and J, mm; only for arcs
 */
export function drawTo(layer: LayerState, target: Point, offset: Point, line: number): void {
  const arc = layer.mode === 'line' ? undefined : arcTo(layer, target, offset, line);
  const { region } = layer;
  if (region) {
    if (region.length === 0) region.push([layer.at]);
    const contour = region[region.length - 1];
    if (arc) contour.push(...arcPoints(arc).slice(1, -1));
    contour.push(target);
    return;
  }
  const plain = isPlainMap(layer.coordinates);
  const raw = arc ? arcPoints(arc) : [layer.at, target];
  const points = plain ? raw : raw.map((p) => mapCoordinate(layer.coordinates, p));
  const aperture = apertureInForce(layer, 'a stroke', line);
  if (!aperture) return;
  const tag = tagOf(layer, 'stroke', aperture, line);
  const { dark, sink } = layer;
  if (arc) {
    const regions = strokeRegions(layer, points, plain ? arc : undefined, aperture, line);
    sink.add({ dark, regions, tag, ...(layer.keepLines ? { path: points } : {}) }, line);
    return;
  }
  const at = points[0];
  const regions = straightStroke(layer, at, points[1], aperture, line);
  const path = [ORIGIN, [points[1][0] - at[0], points[1][1] - at[1]] as const];
  sink.add({ dark, regions, at, tag, ...(layer.keepLines ? { path } : {}) }, line);
}

const ORIGIN: Point = [0, 0];
/** More different strokes of one pen than this are not remembered. */
const MAX_STROKES = 20_000;

/** What the pen leaves from the origin to the end of a line, remembered for the next line of the same kind. */
function straightStroke(
  layer: LayerState,
  [x0, y0]: Point,
  [x1, y1]: Point,
  aperture: Aperture,
  line: number,
): readonly Region[] {
  // Ends are sums of decimal numbers: a pad's lines differ in the last bits, which are no difference.
  const [dx, dy] = [Math.round((x1 - x0) * 1e9) / 1e9, Math.round((y1 - y0) * 1e9) / 1e9];
  const key = `${loadKey(layer.load)} ${dx} ${dy}`;
  const strokes = kept(layer.strokes, aperture, () => new Map());
  const known = strokes.get(key);
  if (known) return known;
  const made = strokeRegions(layer, [ORIGIN, [dx, dy]], undefined, aperture, line);
  if (strokes.size < MAX_STROKES) strokes.set(key, made);
  return made;
}

function strokeRegions(
  layer: LayerState,
  points: readonly Point[],
  arc: Arc | undefined,
  aperture: Aperture,
  line: number,
): Region[] {
  if (aperture.diameterMm !== undefined) {
    const diameterMm = aperture.diameterMm * layer.load.scale;
    if (diameterMm === 0) {
      layer.notes.warnOnce(
        'APERTURE_EMPTY',
        line,
        `aperture D${layer.aperture} has no size; what it draws is not there.`,
      );
      return [];
    }
    if (arc) return roundArc(arc, diameterMm);
    return points.length === 2
      ? roundLine(points[0], points[1], diameterMm)
      : unionOfRings(points.slice(1).flatMap((p, k) => roundLine(points[k], p, diameterMm).map(({ outer }) => outer)));
  }
  const image = loadedRegions(layer, aperture);
  if (image.length === 1) {
    const pen = image[0];
    if (aperture.family !== 'rectangle' || pen.islands.length > 0) {
      layer.notes.warnOnce(
        'PEN',
        line,
        `strokes with the aperture D${layer.aperture} (${aperture.family}) are not in the standard; drawn as its hull from end to end.`,
      );
    }
    return points.length === 2 ? convexLine(pen.outer, points[0], points[1]) : convexPath(pen.outer, points);
  }
  if (image.length > 0) {
    layer.notes.warnOnce(
      'PEN',
      line,
      `aperture D${layer.aperture} (${aperture.family}) is no pen for a stroke; only its ends are drawn.`,
    );
  }
  const ends = [points[0], points[points.length - 1]];
  return unionOfRings(
    ends.flatMap(([x, y]) =>
      image.flatMap((r) => [r.outer, ...r.islands].map((ring) => move({ outer: ring, islands: [] }, x, y).outer)),
    ),
  );
}

function arcTo(layer: LayerState, target: Point, offset: Point, line: number): Arc | undefined {
  const { at, notes } = layer;
  const clockwise = layer.mode === 'clockwise';
  if (offset[0] === 0 && offset[1] === 0) {
    notes.warnOnce('ARC_WITHOUT_CENTRE', line, 'an arc has no centre; drawn as a straight line.');
    return undefined;
  }
  const multi = arcBetween(at, target, [at[0] + offset[0], at[1] + offset[1]], clockwise);
  const single = (): Arc =>
    arcBetween(at, target, singleQuadrantCentre(at, target, offset[0], offset[1], clockwise), clockwise);
  let arc = multi;
  if (layer.multiQuadrant === undefined) {
    const quarter = single();
    const meant = radiiDiffer(multi) > RADII_AGREE_MM && radiiDiffer(quarter) < radiiDiffer(multi);
    if (meant) arc = quarter;
    notes.warnOnce(
      'QUADRANT_MODE',
      line,
      `arcs are drawn before the file says how (G74 or G75); each is read as the one of both that meets its end.`,
    );
  } else if (!layer.multiQuadrant) {
    // A full turn can't be written in this mode: start and end at one point are a dot.
    if (at[0] === target[0] && at[1] === target[1]) return undefined;
    arc = single();
  }
  const larger = Math.max(arc.startRadius, arc.endRadius);
  if (radiiDiffer(arc) > RADII_DIFFER.mm + RADII_DIFFER.share * larger) {
    notes.warn(
      'ARC_RADII',
      line,
      `an arc begins with a radius of ${arc.startRadius.toFixed(3)} mm and ends with ${arc.endRadius.toFixed(3)} mm; drawn as a spiral between them.`,
    );
  }
  return arc;
}

const radiiDiffer = (arc: Arc): number => Math.abs(arc.startRadius - arc.endRadius);
