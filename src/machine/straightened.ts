import { bend } from './place-field.js';
import type { Bends, PlaceField, Profile, ReadingSession } from './types.js';

/** Canvases that differ by less were meant to be the same: whole dots, mm. */
const SAME_CANVAS_MM = 0.5;

/**
 * Sessions as if a machine without bends had been told what cuts the same: each length is as long as the bends made it.
 * What lies on another canvas, such as a witness in a margin, lies nobody knows where on the bed, and stays.
 */
export function straightened(sessions: readonly ReadingSession[], field: PlaceField | undefined): ReadingSession[] {
  if (!field) return [...sessions];
  const { widthMm, heightMm } = field.canvasMm;
  return sessions.map((session) => {
    const { canvas } = session;
    const onBed =
      canvas &&
      Math.abs(canvas.widthMm - widthMm) < SAME_CANVAS_MM &&
      Math.abs(canvas.heightMm - heightMm) < SAME_CANVAS_MM;
    return onBed ? { ...session, features: session.features.map((feature) => straight(feature, field)) } : session;
  });
}

type Feature = ReadingSession['features'][number];

/** Its direction stays: what the bends turn is of second order in its length. */
function straight(feature: Feature, field: Bends): Feature {
  if (!('from' in feature)) return feature;
  const { from, to, nominalMm } = feature;
  const [p, q] = [bend(field, from), bend(field, to)];
  const u = [(to[0] - from[0]) / nominalMm, (to[1] - from[1]) / nominalMm];
  const along = (q[0] - p[0]) * u[0] + (q[1] - p[1]) * u[1];
  return { ...feature, to: [from[0] + along * u[0], from[1] + along * u[1]], nominalMm: along };
}

/** A profile whose sessions are straightened by its own field. */
export const straightProfile = (profile: Profile): Profile => ({
  ...profile,
  sessions: straightened(profile.sessions, profile.field),
});

/** Features laid where a machine without bends would have been told them, as long as the bends make them. */
export function laidStraight<F extends Feature>(features: readonly F[], field: Bends): F[] {
  return features.map((feature) => {
    const own = straight(feature, field);
    if (!('from' in own)) return feature;
    const [x, y] = bend(field, own.from);
    const [dx, dy] = [x - own.from[0], y - own.from[1]];
    return { ...feature, ...own, from: [x, y], to: [own.to[0] + dx, own.to[1] + dy] };
  });
}
