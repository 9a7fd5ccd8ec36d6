import { join } from 'node:path';
import { readArtwork } from '../../artwork/read.js';
import { InputError, inFile } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';
import { type CheckResult, checkOpenings, type OpeningCheck, worstFirst } from '../../rules/check.js';
import { checkCsv, checkRow, reasonsOf } from '../../rules/check-table.js';
import type { OpeningGroup } from '../../rules/group.js';
import { readLimits } from '../../rules/read-limits.js';
import { readOptionsOf } from '../artwork-options.js';
import { refuseExisting } from '../existing-files.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import { isGrave } from '../grave-warnings.js';
import { formatOf, refuseIdle, refuseIdleArtworkOptions } from '../idle-options.js';
import type { Io } from '../io.js';
import { filmFacts, stemOf } from '../rules-input.js';
import { printJson, sayWarnings, sayWrote } from '../tell.js';
import { workingOn } from '../working-on.js';
import type { CheckOptionValues } from './options.js';

/** Rows of the table when not all are asked for. */
const WORST = 25;
const GROUPS = 20;

/** Reads, checks, tells. */
export async function runCheck(file: string, values: CheckOptionValues, io: Io): Promise<ExitCode> {
  refuseIdle([[values.all === true && values.json === true, '--all', '--json lists every opening anyway']]);
  const { thicknessMm, profileLimits } = await filmFacts(values, io);
  const limits =
    values.limits === undefined
      ? undefined
      : await readLimits(new TextDecoder().decode(await io.readFile(values.limits)), values.limits);
  refuseIdleArtworkOptions(values, [{ file, format: await formatOf(file, io) }], io);
  const bytes = await io.readFile(file);
  const artwork = await readArtwork(bytes, readOptionsOf(values, file)).catch((error: unknown) => {
    throw error instanceof InputError ? inFile(error, file) : error;
  });
  sayWarnings(artwork.warnings, io, file);
  const result = workingOn(file, () =>
    checkOpenings(artwork.openings, {
      thicknessMm,
      paste: values.paste,
      alloy: values.alloy,
      metalPercent: values.metalPercent,
      limits,
      profileLimits,
      boards: values.boards,
    }),
  );
  sayWarnings(result.warnings, io);
  if (values.out !== undefined) await writeAll(file, artwork.openings, result, values, io);
  if (values.json) printJson(jsonOf(file, result), io);
  else await tell(result, values, io);
  const grave = artwork.warnings.some((warning) => isGrave(warning, values));
  return grave || result.totals.failed > 0 ? EXIT.findings : EXIT.done;
}

function jsonOf(file: string, result: CheckResult): unknown {
  const openings = result.openings.map(({ tag, ...check }) => ({ ...check, line: tag?.line }));
  return { format: 'apertrue-check', version: 1, file, ...result, openings };
}

async function writeAll(
  file: string,
  openings: readonly Opening[],
  result: CheckResult,
  values: CheckOptionValues,
  io: Io,
): Promise<void> {
  const { checkPicture } = await import('../../report/check-picture.js');
  const { outlineText, svgToPng } = await import('../../report/picture.js');
  const stem = stemOf(file);
  const picture = checkPicture(openings, result, `${stem}: will it print?`);
  const files: [string, string | Uint8Array][] = [
    [`${stem}.check.csv`, await checkCsv(result)],
    [`${stem}.check.json`, `${JSON.stringify(jsonOf(file, result), null, 2)}\n`],
    [`${stem}.check.svg`, await outlineText(picture)],
    [`${stem}.check.png`, await svgToPng(picture)],
  ];
  const out = values.out as string;
  if (!values.overwrite)
    await refuseExisting(
      files.map(([name]) => join(out, name)),
      io,
    );
  for (const [name, content] of files) {
    await io.writeFile(join(out, name), content, { overwrite: values.overwrite === true });
  }
  sayWrote(
    files.map(([name]) => join(out, name)),
    io,
  );
}

async function tell(result: CheckResult, values: CheckOptionValues, io: Io): Promise<void> {
  const { default: Table } = await import('cli-table3');
  const { default: colours } = await import('picocolors');
  const ordered = worstFirst(result.openings);
  const questionable = ordered.filter(({ verdict, findings }) => verdict === 'fail' || findings.some((f) => f.near));
  const shown = values.all ? ordered : questionable.slice(0, WORST);
  if (shown.length > 0) {
    const table = new Table({
      head: ['no.', 'part', 'centre mm', 'size mm', 'area ratio', 'aspect', 'web mm', 'paste mg', 'verdict', 'why'],
      style: { head: [], border: [], compact: true },
      wordWrap: true,
      colWidths: [null, null, null, null, null, null, null, null, null, Math.max(34, io.columns - 96)],
    });
    for (const check of shown) {
      const verdict =
        check.verdict === 'fail' ? colours.bold('FAIL') : check.findings.some((f) => f.near) ? 'near' : 'pass';
      table.push(tableRow(check, verdict));
    }
    io.out(`${table.toString()}\n`);
    const hidden = (values.all ? 0 : questionable.length) - (values.all ? 0 : shown.length);
    if (hidden > 0) io.out(`… and ${hidden} more; --all lists every opening, --out writes them to a file.\n`);
  }
  tellSources(shown, io);
  tellGroups(result.groups, io);
  tellTotals(result, io);
}

function tableRow(check: OpeningCheck, verdict: string): string[] {
  const row = checkRow(check);
  const part = [row.component, row.pin].filter(Boolean).join('.');
  const angle = Math.abs(check.angleDeg) > 0.05 ? ` at ${check.angleDeg.toFixed(1)}°` : '';
  return [
    row.opening,
    part,
    `${check.centre[0].toFixed(2)}, ${check.centre[1].toFixed(2)}`,
    `${check.widthMm.toFixed(3)} x ${check.heightMm.toFixed(3)}${angle}`,
    check.areaRatio.toFixed(3),
    check.aspectRatio?.toFixed(2) ?? '',
    check.webMm?.toFixed(3) ?? '',
    check.pasteMg.toFixed(3),
    verdict,
    reasonsOf(check).reason,
  ];
}

function tellSources(shown: readonly OpeningCheck[], io: Io): void {
  const sources = new Set(shown.map((check) => reasonsOf(check).source).filter(Boolean));
  if (sources.size > 0) io.out(`Rules: ${[...sources].join('; ')}.\n`);
}

function tellGroups(groups: readonly OpeningGroup[], io: Io): void {
  if (groups.length === 0) return;
  io.out('\nPads that belong together:\n');
  for (const group of alike(groups).slice(0, GROUPS)) io.out(`  ${group}\n`);
  const more = alike(groups).length - GROUPS;
  if (more > 0) io.out(`  … and ${more} more kinds; --json lists them all.\n`);
}

/** Groups that look alike in one line. */
function alike(groups: readonly OpeningGroup[]): string[] {
  const lines = new Map<string, string[]>();
  for (const group of groups) {
    const [short, long] = group.padMm;
    const facts = [
      `${group.padCount} of ${short.toFixed(3)} x ${long.toFixed(3)} mm`,
      ...(group.pitchMm === undefined ? [] : [`pitch ${group.pitchMm.toFixed(3)} mm`]),
      ...(group.webMm === undefined ? [] : [`narrowest web ${group.webMm.toFixed(3)} mm`]),
      ...(group.centre.length > 0
        ? [`around ${group.centre.length === 1 ? 'a large pad' : `${group.centre.length} panes`}`]
        : []),
    ];
    const line = `${group.kind}: ${facts.join(', ')}`;
    const name = group.component ?? `${group.openings[0]}…${group.openings[group.openings.length - 1]}`;
    const names = lines.get(line);
    if (names) names.push(name);
    else lines.set(line, [name]);
  }
  return [...lines].map(([line, names]) => {
    const listed = names.slice(0, 8).join(', ') + (names.length > 8 ? ` and ${names.length - 8} more` : '');
    return `${names.length > 1 ? `${names.length} x ` : ''}${line} (${listed})`;
  });
}

function tellTotals({ totals, basis, notes }: CheckResult, io: Io): void {
  const paste = `${totals.pasteMm3.toFixed(3)} mm³ or ${grams(totals.pasteG)} of paste`;
  const many =
    totals.boards > 1
      ? `; ${totals.boards} boards: ${totals.boardsPasteMm3.toFixed(1)} mm³, ${grams(totals.boardsPasteG)}`
      : '';
  io.out(
    `\n${totals.openings} openings, ${totals.areaMm2.toFixed(2)} mm² open: ${totals.failed} fail, ${totals.near} pass near a limit, ${totals.passed - totals.near} pass.\n`,
  );
  io.out(`One board takes ${paste}${many}.\n`);
  io.out(
    `Film ${basis.thicknessMm} mm; ${basis.paste.alloy} ${basis.paste.type} paste, ${basis.paste.metalPercent} % metal, ${basis.paste.densityGPerCm3.toFixed(2)} g/cm³.\n`,
  );
  for (const note of notes) io.out(`Note: ${note}\n`);
}

const grams = (g: number): string => (g < 1 ? `${(g * 1000).toFixed(1)} mg` : `${g.toFixed(2)} g`);
