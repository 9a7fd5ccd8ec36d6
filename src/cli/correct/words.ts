import { join } from 'node:path';
import type { NarrowPart } from '../../machine/correct-openings.js';
import { visible } from '../../visible-text.js';
import { count } from '../../words.js';
import { faultRows, figuresRow } from '../faults-text.js';
import type { Io } from '../io.js';
import { fixedMm, machineRows } from '../machine-words.js';
import { row, sayWarnings, sayWrote } from '../tell.js';
import type { CorrectOutcome, CorrectReport, CorrectSettings } from './types.js';

const NARROW_SHOWN = 12;

/** What was corrected, in words. */
function reportText(report: CorrectReport, settings: CorrectSettings): string {
  const side = report.side ? `, ${report.side} side` : ', side unknown';
  const head = `${visible(report.file)}: ${count(report.openings, 'opening')}${side}, ${report.mirrored ? 'mirrored' : 'not mirrored'}\n`;
  const { rules } = report;
  const ruled = rules
    ? [
        row(
          'rules',
          `${rules.mark.replace(/#.*/, '')}: ${count(rules.changes, 'change')}, ${rules.before} openings before`,
        ),
      ]
    : [];
  return [
    head,
    ...ruled,
    ...machineRows({ ...report.canvas, turned: settings.laid.scanDirection === 'y' }, settings.profile),
    figuresRow(report.cut),
    faultRows(report.faults, ({ opening }) => `opening ${opening}`),
    ...narrowRows(report.narrow),
  ].join('');
}

function narrowRows(narrow: readonly NarrowPart[]): string[] {
  if (narrow.length === 0) return [];
  const rows = [
    row(
      'narrow',
      `${count(narrow.length, 'part is', 'parts are')} narrower than the kerf and kept as the thinnest line:`,
    ),
  ];
  for (const part of narrow.slice(0, NARROW_SHOWN)) {
    const what = part.extent === 'whole' ? '' : `a part near ${fixedMm(part.at[0])}, ${fixedMm(part.at[1])}: `;
    const size = `asked ${fixedMm(part.askedMm[0])} x ${fixedMm(part.askedMm[1])} mm, comes out ${fixedMm(part.comesOutMm[0])} x ${fixedMm(part.comesOutMm[1])} mm`;
    rows.push(row('', `opening ${part.opening}: ${what}${size}`));
  }
  const more = narrow.length - NARROW_SHOWN;
  if (more > 0) rows.push(row('', `… and ${more} more, all in the .job.json`));
  return rows;
}

/** Tells about one corrected stencil. */
export function tellCorrected(
  { report, files }: CorrectOutcome,
  settings: CorrectSettings,
  { folder, words }: { readonly folder: string; readonly words: boolean },
  io: Io,
): void {
  if (words) io.out(reportText(report, settings));
  sayWarnings(
    report.warnings.filter(({ code }) => !(words && (code === 'NARROWER_THAN_KERF' || code === 'NOT_AS_ASKED'))),
    io,
    report.file,
  );
  sayWrote(
    files.map(({ name }) => join(folder, name)),
    io,
  );
}

/** How a batch went. */
export function summaryText(outcomes: readonly CorrectOutcome[], failures: number, folder: string): string {
  const openings = outcomes.reduce((sum, { report }) => sum + report.openings, 0);
  const narrow = outcomes.filter(({ report }) => report.narrow.length > 0).length;
  return (
    `\n${outcomes.length} of ${outcomes.length + failures} files corrected into ${folder}, ${count(openings, 'opening')}` +
    `${narrow > 0 ? `; ${narrow} with parts narrower than the kerf` : ''}${failures > 0 ? `; ${failures} failed (see the errors above)` : ''}.\n`
  );
}
