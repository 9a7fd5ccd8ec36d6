/** Largest distance between an arc and its chords, pixels. */
const SAGITTA_PX = 0.01;

/**
 * Appends the points of an arc from (x0, y0) to (x1, y1) about a centre, both ends included, turning by `turnRad`
 * (signed). Inner points lie so far out that the chords enclose the arc's own area.
 */
export function pushArc(out: number[], cx: number, cy: number, radius: number, fromRad: number, turnRad: number): void {
  const most = 2 * Math.acos(Math.max(0.5, 1 - SAGITTA_PX / Math.max(radius, 0.02)));
  const steps = Math.max(2, Math.ceil(Math.abs(turnRad) / most));
  const step = turnRad / steps;
  // The ends stay on the arc; the others move out by what the chords lack, s³/12 of area a chord.
  const further = steps === 1 ? radius : radius * (1 + ((step * step) / 12) * (steps / (steps - 1)));
  for (let k = 0; k <= steps; k += 1) {
    const at = fromRad + k * step;
    const here = k === 0 || k === steps ? radius : further;
    out.push(cx + here * Math.cos(at), cy + here * Math.sin(at));
  }
}
