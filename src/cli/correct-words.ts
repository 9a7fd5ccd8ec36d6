import { join } from 'node:path';
import { formatProblem } from '../errors.js';
import { machineModel } from '../profile/machine-model.js';
import type { CorrectOutcome, CorrectReport, CorrectSettings } from './correct-job.js';
import type { Io } from './io.js';

const MM_PER_INCH = 25.4;
const NARROW_SHOWN = 12;
const NUMBERS_SHOWN = 15;

/** Said once wherever something is made that will be cut. */
export const CAUTION =
  'caution: an open beam blinds and burns (class 4); never cut PVC, vinyl or unknown film; extract the fumes; stay with the machine. Its manual and local rules come first.\n';

/** At least as many digits as matter: micrometres. */
const mm = (value: number): string => value.toFixed(3);

function row(label: string, text: string): string {
  return `  ${label.padEnd(12)}${text}\n`;
}

interface Pitch {
  readonly x: number;
  readonly y: number;
}

/** Size of a dot as written, which rows may part from the pitch asked for; undefined when only paths are written. */
function pitchOf({ widthMm, heightMm, widthPx, heightPx }: CorrectReport['canvas']): Pitch | undefined {
  if (widthPx === undefined || heightPx === undefined) return undefined;
  return { x: Number((widthMm / widthPx).toFixed(6)), y: Number((heightMm / heightPx).toFixed(6)) };
}

function inchText(pitch: Pitch): string {
  const [x, y] = [pitch.x, pitch.y].map((v) => String(Number((MM_PER_INCH / v).toFixed(3))));
  return pitch.x === pitch.y ? x : `${x} x ${y}`;
}

function dpiText(pitch: Pitch): string {
  const size = pitch.x === pitch.y ? `${pitch.x}` : `${pitch.x} x ${pitch.y}`;
  return `${inchText(pitch)} dpi (one dot every ${size} mm)`;
}

function settingsText(settings: CorrectSettings): string {
  const { settings: s, film } = settings.profile;
  const parts = [
    s?.powerPercent === undefined ? '' : `power ${s.powerPercent} %`,
    s?.speedMmS === undefined ? '' : `speed ${s.speedMmS} mm/s`,
    s?.passes === undefined ? '' : `${s.passes} pass${s.passes === 1 ? '' : 'es'}`,
    film?.kind ? `film ${film.kind}` : '',
    film?.thicknessMm === undefined ? '' : `${film.thicknessMm} mm thick`,
  ].filter(Boolean);
  return parts.length > 0 ? parts.join(', ') : 'those the coupon was cut with (the profile does not name them)';
}

function canvasText({ canvas }: CorrectReport, settings: CorrectSettings): string[] {
  const model = machineModel(settings.profile);
  const size = `${mm(canvas.widthMm)} x ${mm(canvas.heightMm)} mm`;
  const px = canvas.widthPx === undefined ? '' : `${canvas.widthPx} x ${canvas.heightPx} px = `;
  const lines = [row('canvas', `${px}${size}`)];
  if (Math.abs(model.scaleX - 1) > 0.02 || Math.abs(model.scaleY - 1) > 0.02) {
    lines.push(
      row(
        '',
        `your program will make ${mm(canvas.filmWidthMm)} x ${mm(canvas.filmHeightMm)} mm of it on the film, and that is right`,
      ),
    );
  }
  const pitch = pitchOf(canvas);
  if (pitch) lines.push(row('resolution', dpiText(pitch)));
  const choices = [
    pitch && `a width in pixels: ${canvas.widthPx}`,
    `a width in mm: ${mm(canvas.widthMm)}`,
    pitch && `dots per inch: ${inchText(pitch)}`,
  ].filter(Boolean);
  lines.push(row('type in', `whatever you typed for the coupon, with these numbers: ${choices.join('; ')}`));
  if (pitch && pitch.x !== pitch.y) {
    lines.push(
      row(
        '',
        `the dots are not square: type the height of ${mm(canvas.heightMm)} mm too, not kept in proportion to the width`,
      ),
    );
  }
  return lines;
}

/** Tells about one corrected stencil. */
export function sayReport({ report, files }: CorrectOutcome, settings: CorrectSettings, folder: string, io: Io): void {
  const side = report.side ? `, ${report.side} side` : '';
  const text = [
    `${report.file}: ${report.openings} opening${report.openings === 1 ? '' : 's'}${side}${report.mirrored ? ', mirrored' : ''}\n`,
  ];
  if (report.rules) {
    text.push(
      row(
        'rules',
        `${report.rules.mark.replace(/#.*/, '')}: ${report.rules.changes} changes, ${report.rules.before} openings before`,
      ),
    );
  }
  text.push(...canvasText(report, settings));
  text.push(row('settings', settingsText(settings)));
  if (report.rounding) {
    const { meanAbsAreaErrorPercent: mean, maxAbsAreaErrorPercent: max, maxPositionErrorPx: px } = report.rounding;
    text.push(
      row(
        'rounding',
        `to whole dots: area off by ${mean.toFixed(2)} % on average, ${max.toFixed(1)} % at most; place by ${px.toFixed(2)} dot at most`,
      ),
    );
  }
  if (report.narrow.length > 0) {
    text.push(
      row(
        'narrow',
        `${report.narrow.length} part${report.narrow.length === 1 ? '' : 's'} narrower than the kerf, kept as the thinnest line:`,
      ),
    );
    for (const part of report.narrow.slice(0, NARROW_SHOWN)) {
      const what = part.extent === 'whole' ? '' : `a part near ${mm(part.at[0])}, ${mm(part.at[1])}: `;
      text.push(
        row(
          '',
          `opening ${part.opening}: ${what}asked ${mm(part.askedMm[0])} x ${mm(part.askedMm[1])} mm, comes out ${mm(part.comesOutMm[0])} x ${mm(part.comesOutMm[1])} mm`,
        ),
      );
    }
    if (report.narrow.length > NARROW_SHOWN)
      text.push(row('', `… and ${report.narrow.length - NARROW_SHOWN} more, all in the .job.json`));
  }
  for (const warning of report.warnings) {
    if (warning.code === 'NARROWER_THAN_KERF') continue;
    const numbers = warning.openings ?? [];
    const list =
      numbers.length > 0
        ? ` [openings ${numbers.slice(0, NUMBERS_SHOWN).join(', ')}${numbers.length > NUMBERS_SHOWN ? ', …' : ''}]`
        : '';
    text.push(
      row(
        'warning',
        `${formatProblem({ ...warning, place: warning.place ? { ...warning.place, file: undefined } : undefined })}${list}`,
      ),
    );
  }
  text.push(row('wrote', files.map(({ name }) => join(folder, name)).join(' ')));
  io.say(text.join(''));
}

/** Tells how a batch went. */
export function saySummary(outcomes: readonly CorrectOutcome[], failures: number, folder: string, io: Io): void {
  const openings = outcomes.reduce((sum, { report }) => sum + report.openings, 0);
  const narrow = outcomes.filter(({ report }) => report.narrow.length > 0).length;
  io.say(
    `\n${outcomes.length} of ${outcomes.length + failures} files corrected into ${folder}, ${openings} openings` +
      `${narrow > 0 ? `; ${narrow} with parts narrower than the kerf` : ''}${failures > 0 ? `; ${failures} failed (see the errors above)` : ''}.\n`,
  );
}
