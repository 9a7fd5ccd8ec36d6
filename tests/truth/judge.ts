import { orientedBox } from '../../src/geometry/oriented-box.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import type { FaultKind } from '../../src/stencil/faults.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { cutOfDots, cutOfPaths, type Laser, onFilm, opened, pathsOf } from './laser.js';
import { area, extents, grown, minus, type Paths, pieces, type Vec } from './polygons.js';
import type { Shape } from './shapes.js';

/** What was found out about one shape; lengths in mm on the film. */
export interface Verdict {
  readonly listed: boolean;
  /** What the last look says of the dots. */
  readonly faults: readonly FaultKind[];
  /** What the dots' cut lacks of the asked area, corners counting, as a share. */
  readonly lostOfAsked: number;
  /** Area of the asked opening that the beam can't reach from inside, beyond what right corners lose, as a share. */
  readonly lostShare: number;
  /** What the command in paths loses of the asked area, as a share, beyond corners. */
  readonly pathLossShare: number;
  readonly asked: readonly [number, number];
  readonly byPaths: readonly [number, number];
  readonly byDots: readonly [number, number];
  readonly dotAreaErrorShare: number;
  /**
   * How far width and height are off in dots of their own direction, along the shape's own walls and along the smallest
   * box around it; from what was asked, or from what the beam can make of it where that is nearer.
   */
  readonly offDots: number;
  readonly pieces: { readonly asked: number; readonly paths: number; readonly dots: number };
  /** Area of what can be cut and lies further than a dot from the dots' cut, mm². */
  readonly missingMm2: number;
  /** Area of the dots' cut that lies further than a dot outside of what was asked, mm². */
  readonly beyondMm2: number;
}

/** How deep the beam rounds a right corner at most, whichever way it is turned. */
const cornerDepth = (kerfX: number, kerfY: number): number => (Math.hypot(kerfX, kerfY) - Math.min(kerfX, kerfY)) / 2;

export function judge({ kind, asked, angleDeg }: Shape, laser: Laser): Verdict {
  const { model, pitch } = laser;
  const wanted = pathsOf([asked]);
  const whole = area(wanted);
  const { openings, narrow } = correctOpenings([asked], model, { lineMm: pitch });
  const possible = opened(wanted, model);
  const depth = 2 * cornerDepth(model.kerfXMm, model.kerfYMm) + 2e-3;
  const beyond = (paths: Paths): number => (paths.length > 0 ? area(minus(wanted, grown(paths, depth, depth))) : whole);
  const cut = cutOfPaths(openings, model);
  const { commanded, check } = makeStencil({ openings: [asked] }, model, { pitchMm: pitch, formats: ['png'] });
  if (!commanded.dots) throw new Error('no dots');
  const { placement, placed } = commanded.dots.image;
  const { originMm } = commanded.frame;
  const [x, y] = onFilm(model, originMm);
  const onCanvas = cutOfDots(placed, placement.lines, laser);
  const burnt = onCanvas.map((ring) => ring.map(([u, v]): Vec => [u + x, v + y]));
  // A stencil is laid on by its whole, and a stamp may lie half a dot off: laid on by the middle of its box here.
  const dot = Math.max(pitch.x, pitch.y);
  return {
    listed: narrow.length > 0,
    faults: check.faults.flatMap(({ what }) => what),
    lostOfAsked: 1 - area(burnt) / whole,
    lostShare: beyond(possible) / whole,
    pathLossShare: beyond(cut) / whole,
    asked: extents(wanted, angleDeg),
    byPaths: extents(cut, angleDeg),
    byDots: extents(burnt, angleDeg),
    dotAreaErrorShare: (area(burnt) - area(possible)) / whole,
    offDots: Math.max(
      ...[kind === 'disc' || kind === 'ring' ? 0 : angleDeg, orientedBox(asked.outer).angleDeg].map((angle) =>
        offDots(angle, burnt, wanted, possible, laser),
      ),
    ),
    pieces: { asked: pieces(wanted), paths: pieces(cut), dots: pieces(burnt) },
    missingMm2: possible.length > 0 ? area(minus(cut, grown(burnt, 2.9 * dot, 2.9 * dot))) : 0,
    beyondMm2: area(minus(burnt, grown(cut, 2.9 * dot, 2.9 * dot))),
  };
}

function offDots(angleDeg: number, burnt: Paths, wanted: Paths, possible: Paths, { pitch }: Laser): number {
  const got = extents(burnt, angleDeg);
  const [want, best] = [wanted, possible].map((paths) => extents(paths, angleDeg));
  const off = [0, 1].map((k) => {
    const turn = ((angleDeg + 90 * k) * Math.PI) / 180;
    const dot = Math.hypot(Math.cos(turn) * pitch.x, Math.sin(turn) * pitch.y);
    return Math.min(Math.abs(got[k] - want[k]), Math.abs(got[k] - best[k])) / dot;
  });
  return Math.max(...off);
}
