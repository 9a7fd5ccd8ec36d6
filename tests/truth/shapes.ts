import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Point, Region, Ring } from '../../src/geometry/types.js';
import { box, rounded } from '../export/boards.js';

/** An odd opening and what is known of it by its making. */
export interface Shape {
  readonly kind: string;
  readonly asked: Opening;
  /** Direction of its own two sides. */
  readonly angleDeg: number;
}

type Random = () => number;
const between = (random: Random, least: number, most: number): number => least + (most - least) * random();

const poly = (...xy: number[]): Ring =>
  Array.from({ length: xy.length / 2 }, (_, i): Point => [xy[2 * i], xy[2 * i + 1]]);

/** Kinds by name; `limb` is the narrowest width that they may have. */
export const KINDS: Readonly<Record<string, (random: Random, limb: number) => Region>> = {
  L(random, limb) {
    const [w, h] = [between(random, 3, 8) * limb, between(random, 3, 8) * limb];
    const [a, b] = [between(random, 1, 2) * limb, between(random, 1, 2) * limb];
    return solid(poly(0, 0, w, 0, w, a, b, a, b, h, 0, h));
  },
  U(random, limb) {
    const [w, h] = [between(random, 5, 9) * limb, between(random, 3, 7) * limb];
    const [a, b, c] = [1, 2, 3].map(() => between(random, 1, 1.6) * limb);
    return solid(poly(0, 0, w, 0, w, h, w - a, h, w - a, c, b, c, b, h, 0, h));
  },
  stairs(random, limb) {
    const [w, h] = [between(random, 1, 2) * limb, between(random, 1, 2) * limb];
    return solid(poly(0, 0, 3 * w, 0, 3 * w, h, 2 * w, h, 2 * w, 2 * h, w, 2 * h, w, 3 * h, 0, 3 * h));
  },
  thermal(random, limb) {
    const [r, web] = [between(random, 2.5, 5) * limb, between(random, 0.5, 1) * limb];
    const inner = r - between(random, 1, 1.5) * limb;
    const arc = (radius: number): Point[] => {
      const [from, to] = [Math.asin(web / radius), Math.PI / 2 - Math.asin(web / radius)];
      return Array.from({ length: 25 }, (_, i): Point => {
        const angle = from + ((to - from) * i) / 24;
        return [radius * Math.cos(angle), radius * Math.sin(angle)];
      });
    };
    return solid([...arc(r), ...arc(Math.max(inner, 1.5 * web)).reverse()]);
  },
  bitten(random, limb) {
    const [w, h, b] = [between(random, 3, 8) * limb, between(random, 3, 8) * limb, between(random, 0.2, 0.9) * limb];
    return solid(
      poly(b, 0, w - b, 0, w - b, b, w, b, w, h - b, w - b, h - b, w - b, h, b, h, b, h - b, 0, h - b, 0, b, b, b),
    );
  },
  obround(random, limb) {
    const [w, long] = [between(random, 1, 3) * limb, between(random, 1.2, 8)];
    return solid(rounded(w, w * long, w / 2, 24));
  },
  roundedRectangle(random, limb) {
    const [w, h] = [between(random, 1, 8) * limb, between(random, 1, 8) * limb];
    return solid(rounded(w, h, Math.min(w, h) * between(random, 0.05, 0.45), 16));
  },
  disc: (random, limb) => solid(ellipse(0, 0, between(random, 0.7, 3) * limb)),
  rectangle: (random, limb) => solid(box(between(random, 1, 8) * limb, between(random, 1, 8) * limb)),
  triangle(random, limb) {
    const [w, h] = [between(random, 1.5, 5) * limb, between(random, 1.5, 12) * limb];
    return solid(poly(0, 0, w, 0, between(random, 0, 1) * w, h));
  },
  frame(random, limb) {
    const [w, h, t] = [between(random, 6, 12) * limb, between(random, 6, 12) * limb, between(random, 1, 1.5) * limb];
    return { outer: box(w, h), islands: [rectangle(t - w / 2, t - h / 2, w / 2 - t, h / 2 - t).toReversed()] };
  },
  ring(random, limb) {
    const r = between(random, 2.5, 6) * limb;
    const inner = r - between(random, 1, 1.5) * limb;
    return { outer: ellipse(0, 0, r), islands: [ellipse(0, 0, inner).toReversed()] };
  },
  cross(random, limb) {
    const [a, b] = [between(random, 0.5, 1) * limb, between(random, 2, 4) * limb];
    return solid(poly(-a, -b, a, -b, a, -a, b, -a, b, a, a, a, a, b, -a, b, -a, a, -b, a, -b, -a, -a, -a));
  },
  homePlate(random, limb) {
    const [w, h] = [between(random, 1.5, 5) * limb, between(random, 2, 6) * limb];
    return solid(poly(0, 0, w, 0, w + between(random, 0.2, 0.5) * h, h / 2, w, h, 0, h));
  },
};

/** Those without tips sharper than a right angle. */
export const BLUNT = Object.keys(KINDS).filter((kind) => kind !== 'triangle');

/** A shape of a kind, turned and somewhere. */
export function shapeOf(kind: string, random: Random, limb: number, angleDeg = 360 * random()): Shape {
  const turned = mapOpening(rotation(angleDeg), KINDS[kind](random, limb));
  return { kind, asked: mapOpening(translation(8 + random(), 8 + random()), turned), angleDeg };
}
