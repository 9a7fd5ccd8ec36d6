import { InputError } from '../errors.js';
import { grouped } from '../kept.js';
import { micrometres } from '../micrometres.js';
import type { CutFigures, Fault } from '../stencil/faults.js';
import { count, runsOf } from '../words.js';
import { fixedMm } from './machine-words.js';
import { row } from './tell.js';

const SHOWN = 12;

/** Less than this at a tip says nothing beside what dots are off by. */
const TOLD_TIP_MM = 0.01;

/** How near a stencil comes to what was asked, in words. */
export function figuresRow(figures: CutFigures | undefined): string {
  return figures ? row('comes out', figuresText(figures)) : '';
}

export function figuresText(figures: CutFigures): string {
  const { rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm, maxTipLossMm } = figures;
  const { rmsPlaceErrorMm, maxPlaceErrorMm } = figures;
  const widths = `widths off by ${micrometres(rmsWidthErrorMm)} µm rms, ${micrometres(meanWidthErrorMm)} on average, ${micrometres(maxWidthErrorMm)} at most${maxTipLossMm > TOLD_TIP_MM ? ` (the beam is rounder than some tips, and takes up to ${micrometres(maxTipLossMm)} µm there)` : ''}`;
  const places = `places by ${micrometres(rmsPlaceErrorMm)} µm rms, ${micrometres(maxPlaceErrorMm)} at most`;
  const areas = `areas by ${figures.meanAreaErrorPercent.toFixed(1).replace(/^-0\.0$/, '0.0')} % on average`;
  return `${widths}; ${places}; ${areas}`;
}

const size = (sizes: readonly number[]): string => `${sizes.map(fixedMm).join(' x ')} mm`;

/** What is wrong with one opening, in words. */
export function faultText({ at, askedMm, gotMm, askedMm2, gotMm2, ...fault }: Fault): string {
  const { what, parts, lost, offMm } = fault;
  const asked = `at ${at.map(fixedMm).join(', ')}: asked ${size(askedMm)}`;
  if (what.includes('missing')) return `${asked}, missing`;
  const more = [
    parts ? `in ${parts} pieces` : '',
    lost ? `a part of ${size(lost.sizeMm)} near ${lost.at.map(fixedMm).join(', ')} is missing` : '',
    what.includes('cut off') ? 'cut off at the edge of the canvas' : '',
    fault.with ? `joined to ${fault.with.join(', ')}` : '',
    what.includes('area') ? `area ${((100 * (gotMm2 - askedMm2)) / askedMm2).toFixed(1)} %` : '',
    offMm ? `off its place by ${offMm.map(micrometres).join(', ')} µm` : '',
  ].filter(Boolean);
  return [`${asked}, comes out ${size(gotMm)}`, ...more].join('; ');
}

/** Openings that do not come out as asked, a line for those that share a fault. @param name - how an opening is called */
export function faultRows<F extends Fault>(faults: readonly F[], name: (fault: F) => string): string {
  if (faults.length === 0) return '';
  const groups = alike(faults, name);
  const more = groups.slice(SHOWN).reduce((sum, group) => sum + group.length, 0);
  return [
    row('not right', `${count(faults.length, 'opening does', 'openings do')} not come out as asked:`),
    ...groups
      .slice(0, SHOWN)
      .map(([first, ...others]) => row('', `${name(first)} ${faultText(first)}${likeIt(others.map(name))}`)),
    more > 0 ? row('', `… and ${more} more, all in the .job.json`) : '',
  ].join('');
}

/** Faults that differ only in the place and the number of the opening. */
function alike<F extends Fault>(faults: readonly F[], name: (fault: F) => string): F[][] {
  const key = (fault: F): string => `${name(fault).replace(NUMBER, '')} ${faultText({ ...fault, at: [0, 0] })}`;
  return [...grouped(faults, key).values()];
}

const NUMBER = /\d+$/;

function likeIt(names: readonly string[]): string {
  if (names.length === 0) return '';
  const numbers = names.flatMap((name) => NUMBER.exec(name)?.[0] ?? []).map(Number);
  return `; ${names.length} like it${numbers.length > 0 ? `: ${runsOf(numbers)}` : ''}`;
}

/**
 * Refuses what will not come out as asked, before anything is written.
 *
 * @throws {InputError} NOT_AS_ASKED
 */
export function refuseFaults<F extends Fault>(faults: readonly F[], name: (fault: F) => string): void {
  if (faults.length === 0) return;
  throw new InputError(
    faults.slice(0, SHOWN).map((fault) => ({
      code: 'NOT_AS_ASKED',
      message: `${name(fault)} does not come out as asked (${faultText(fault)}), and --strict was given${faults.length > SHOWN ? `; so it is with ${faults.length - 1} more` : ''}.`,
      hint: 'Give a finer pitch, widen it in the artwork, or leave out --strict.',
    })),
  );
}
