import type { ReadingSession } from '../../machine/types.js';

/** A scale this near 1 needs no explanation. */
const USUAL_DEVIATION = 0.03;
/** A machine's own scale error may hide what a wrong resolution does, up to this share (belts, drums). */
const MATCH = 0.015;

const SCREEN_DPI = [72, 90, 96];
/** Usual ones only: with enough odd resolutions, some pair of them gives any scale. */
const IMAGE_DPI = [...SCREEN_DPI, 100, 150, 200, 254, 300, 400, 500, 508, 600, 1000, 1200, 1270, 2400, 2540];

interface Candidate {
  readonly scale: number;
  readonly because: string;
}

/** Likely reasons for scales far from 1: a resolution that the program assumes, or a unit that it mistakes. */
export function scaleHints(scaleX: number, scaleY: number, sessions: readonly ReadingSession[]): string[] {
  const canvas = sessions.find((session) => session.canvas)?.canvas;
  const far = (scale: number): boolean => Math.abs(scale - 1) > USUAL_DEVIATION;
  if (!far(scaleX) && !far(scaleY)) return [];
  const hints: string[] = [];
  const alike = Math.abs(scaleX / scaleY - 1) < USUAL_DEVIATION;
  if (alike) {
    const reasons = reasonsFor((scaleX + scaleY) / 2, canvas?.pitchXMm);
    hints.push(sentence('The scale', (scaleX + scaleY) / 2, reasons));
  } else {
    if (far(scaleX)) hints.push(sentence('Scale X', scaleX, reasonsFor(scaleX, canvas?.pitchXMm)));
    if (far(scaleY)) hints.push(sentence('Scale Y', scaleY, reasonsFor(scaleY, canvas?.pitchYMm)));
    hints.push(...unlikeHints(scaleX / scaleY, canvas));
  }
  return hints;
}

function sentence(what: string, scale: number, reasons: readonly string[]): string {
  const found =
    reasons.length > 0
      ? `likely ${reasons.join(', or ')}`
      : 'no usual mistake of units or resolution gives that; look for a scaling in the program or the printer settings';
  return `${what} is ${Number(scale.toPrecision(5))}, far from 1: ${found}. The profile is right for this way of working; keep to it, or set the resolution right and cut new coupons.`;
}

/** The nearest candidates first, at most two. */
function reasonsFor(scale: number, pitchMm: number | undefined): string[] {
  const off = (candidate: Candidate): number => Math.abs(Math.log(scale / candidate.scale));
  const fitting = candidates(pitchMm)
    .filter((candidate) => off(candidate) < MATCH)
    .sort((a, b) => off(a) - off(b));
  // A plain mistake of units or screen resolution is likelier than an odd pair of resolutions.
  const best = fitting.slice(0, 2);
  return best.map(({ because }) => because);
}

function candidates(pitchMm: number | undefined): Candidate[] {
  const list: Candidate[] = [
    { scale: 25.4, because: 'mm were taken as inches' },
    { scale: 1 / 25.4, because: 'inches were taken as mm' },
    { scale: 10, because: 'mm were taken as cm' },
    { scale: 0.1, because: 'cm were taken as mm' },
    { scale: 0.0254, because: 'mm were taken as mil' },
    { scale: 1 / 0.0254, because: 'mil were taken as mm' },
  ];
  for (const dpi of SCREEN_DPI) {
    list.push({ scale: 25.4 / dpi, because: `mm were taken as pixels of ${dpi} dpi` });
    list.push({ scale: dpi / 25.4, because: `pixels of ${dpi} dpi were taken as mm` });
    for (const other of SCREEN_DPI) {
      if (other !== dpi)
        list.push({ scale: dpi / other, because: `a drawing made for ${dpi} dpi was taken as ${other} dpi` });
    }
  }
  if (pitchMm !== undefined) {
    const own = 25.4 / pitchMm;
    const ownWords = `${Number(own.toPrecision(4))} dpi`;
    for (const dpi of IMAGE_DPI) {
      const ratio = own / dpi;
      if (Math.abs(ratio - 1) < USUAL_DEVIATION) continue;
      list.push({
        scale: ratio,
        because: `the program ignores the resolution in the file (${ownWords}) and assumes ${dpi} dpi`,
      });
      list.push({
        scale: 1 / ratio,
        because: `the program resamples to its own ${ownWords} what it takes as ${dpi} dpi`,
      });
    }
  }
  return list;
}

function unlikeHints(ratio: number, canvas: ReadingSession['canvas']): string[] {
  const near = (value: number): boolean => Math.abs(Math.log(ratio / value)) < MATCH;
  const pitchRatio = canvas ? canvas.pitchXMm / canvas.pitchYMm : 1;
  if (canvas && Math.abs(pitchRatio - 1) > USUAL_DEVIATION && near(1 / pitchRatio)) {
    return ['The ratio of the scales is that of the pitches: the program takes the dots as square.'];
  }
  for (const factor of [2, 3, 4, 0.5, 1 / 3, 0.25]) {
    if (near(factor)) {
      const words = factor > 1 ? `X is ${factor} times Y` : `Y is ${Math.round(1 / factor)} times X`;
      return [`The scales differ by a whole factor (${words}): the line interval and the dot pitch are not set alike.`];
    }
  }
  return ['The scales of X and Y differ by more than machines do: look for different settings of the two axes.'];
}
