import type { Artwork } from '../../artwork/types.js';
import { InputError } from '../../errors.js';
import { writeArtwork } from '../../export/write.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Box } from '../../geometry/types.js';
import { grouped } from '../../kept.js';
import { marksOf, stampSvg, withFileMarks } from '../../rules/treat/mark.js';
import { readRules } from '../../rules/treat/read-rules.js';
import { type RuleChange, type TreatResult, treatOpenings } from '../../rules/treat/treat.js';
import { DEFAULT_MARGIN_MM } from '../../stencil/frame.js';
import { csvText, runsOf, visible } from '../../text.js';
import { eachArtwork, exitOf, type ReadLayer, tellEach } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { fixedMm } from '../machine-words.js';
import { refuseUnusedOptions } from '../options/option.js';
import type { TreatOptionValues } from '../options/stencils.js';
import { jobRecord, jsonParts, type OutputFile, recordOf, sha256, writeResults } from '../results.js';
import { filmFacts, rulesText } from '../stencil-settings.js';
import { sayWarnings, sayWrote } from '../tell.js';
import type { Content } from '../write-together.js';

const LINES = 40;
const LEFT_OVER = new Set(['OPENING_STAYS_SMALL', 'WEB_STAYS_THIN']);

/** Reads, treats, writes, tells. */
export async function runTreat(patterns: readonly string[], values: TreatOptionValues, io: Io): Promise<ExitCode> {
  if (values.out === undefined && !values.dryRun) {
    throw new InputError({
      code: 'OUT_MISSING',
      message: 'it is not said where the results go.',
      hint: 'Give --out with a folder, or --dry-run to see the changes only.',
    });
  }
  const { thicknessMm, profileLimits } = await filmFacts(values, io);
  const { text, file: rulesFile } = await rulesText(values.rules, io);
  const rules = await readRules(text, rulesFile);
  const asksForDesign = text.includes('"match-volume"') || /designThicknessMm(?!"\s*:)/.test(text);
  refuseUnusedOptions([
    [
      values.designThicknessMm !== undefined && !asksForDesign,
      '--design-thickness-mm',
      `no rule of "${rules.name}" asks for it`,
    ],
  ]);
  const facts = {
    thicknessMm,
    ...profileLimits,
    designThicknessMm: values.designThicknessMm ?? rules.designThicknessMm,
  };
  const treat = async ({ file, stem, bytes, artwork }: ReadLayer) => {
    const openings = withFileMarks(artwork.openings, bytes);
    const { designThicknessMm } = values;
    const result = treatOpenings(openings, rules, { thicknessMm, profileLimits, designThicknessMm });
    // The table has a line for each rule, and says which ones selected nothing.
    const ofRules = result.warnings.filter(({ code }) => code !== 'RULE_SELECTED_NOTHING');
    sayWarnings([...artwork.warnings, ...ofRules], io, file);
    if (!values.dryRun)
      await writeAll({ file, stem, bytes, artwork: { ...artwork, openings } }, result, facts, values, io);
    return { file, artwork, result };
  };
  const worked = await eachArtwork(patterns, values, io, treat);
  const { results } = worked;
  tellEach(results, values, io, {
    json: ({ file, result }) => jsonOf(file, result, facts),
    words: ({ result }) => tell(result, rules.name, values, io),
  });
  const isLeft = results.some(({ result }) => result.warnings.some(({ code }) => LEFT_OVER.has(code)));
  return exitOf(worked, isLeft);
}

type Facts = Readonly<Record<string, number | undefined>>;

function jsonOf(file: string, result: TreatResult, facts: Facts): Record<string, unknown> {
  const { openings, ...rest } = result;
  return { format: 'apertrue-treated', version: 1, file, parameters: facts, openings: openings.length, ...rest };
}

async function writeAll(
  { file, stem: name, bytes: source, artwork }: ReadLayer,
  result: TreatResult,
  facts: Facts,
  values: TreatOptionValues,
  io: Io,
): Promise<void> {
  const { treatPicture } = await import('../../report/treat-picture.js');
  const { outlineText, svgToPng } = await import('../../report/picture.js');
  const where = { out: values.out as string, overwrite: values.overwrite };
  const stem = `${name.replace(/\.treated$/, '')}.treated`;
  const picture = treatPicture(artwork.openings, result, `${name}: before and after`);
  const files: OutputFile[] = [
    { name: `${stem}.svg`, bytes: await treatedSvg(source, artwork, result, stem) },
    { name: `${stem}.changes.csv`, bytes: treatCsv(result) },
    // Hashed and then written, so it is not left to be made twice.
    { name: `${stem}.changes.json`, bytes: [...jsonParts(jsonOf(file, result, facts))] },
    { name: `${stem}.picture.svg`, bytes: await outlineText(picture) },
    { name: `${stem}.picture.png`, bytes: await svgToPng(picture) },
  ];
  const job = jobRecord(stem, {
    source: { file: file.split(/[\\/]/).at(-1), sha256: sha256(source) },
    ruleSet: result.mark,
    parameters: facts,
    originMm: canvasOf(artwork, result).originMm,
    side: artwork.side,
    counts: countsOf(result),
    warnings: [...artwork.warnings, ...result.warnings],
    outputs: recordOf(files),
  });
  const paths = await writeResults([...files, job], where, io);
  io.run.treated.push(paths[0]);
  sayWrote(paths, io);
}

/** The treated openings as SVG. A file that was treated by these rules before and stays as it is comes back byte for byte. */
async function treatedSvg(source: Uint8Array, artwork: Artwork, result: TreatResult, title: string): Promise<Content> {
  const before = result.accounts.length > 0 && result.accounts.every(({ fate }) => fate === 'treated before');
  if (artwork.format === 'svg' && before && artwork.sideFrom !== 'option') return source;
  const { widthMm, heightMm, originMm } = canvasOf(artwork, result);
  const { bytes } = await writeArtwork(result.openings, {
    format: 'svg',
    canvas: { widthMm, heightMm },
    originMm,
    title,
  });
  const marks = [...new Set([...result.openings.flatMap(marksOf), result.mark])];
  const facts = {
    'data-origin-mm': originMm.map((mm) => mm.toFixed(3)).join(' '),
    ...(artwork.side ? { 'data-side': artwork.side } : {}),
  };
  return stampSvg(bytes, marks, facts);
}

/** The artwork's own canvas where it has one and everything lies on it, so that places stay; else the openings and a margin. */
function canvasOf(
  artwork: Artwork,
  result: TreatResult,
): { widthMm: number; heightMm: number; originMm: readonly [number, number] } {
  const box: Box = boundsOf([...artwork.openings, ...result.openings]) ?? { minX: 0, minY: 0, maxX: 1, maxY: 1 };
  const { canvas } = artwork;
  const inside = canvas && box.minX >= 0 && box.minY >= 0 && box.maxX <= canvas.widthMm && box.maxY <= canvas.heightMm;
  if (canvas && inside) return { ...canvas, originMm: [0, 0] };
  const originMm = [
    wholeUm(box.minX - DEFAULT_MARGIN_MM, Math.floor),
    wholeUm(box.minY - DEFAULT_MARGIN_MM, Math.floor),
  ] as const;
  return {
    widthMm: wholeUm(box.maxX + DEFAULT_MARGIN_MM - originMm[0], Math.ceil),
    heightMm: wholeUm(box.maxY + DEFAULT_MARGIN_MM - originMm[1], Math.ceil),
    originMm,
  };
}

const wholeUm = (mm: number, round: (value: number) => number): number => round(mm * 1000) / 1000;

function countsOf({ accounts, openings }: TreatResult): Record<string, number> {
  const count = (fate: string): number => accounts.filter((account) => account.fate === fate).length;
  return {
    before: accounts.length,
    after: openings.length,
    unchanged: count('unchanged'),
    changed: count('changed'),
    split: count('split'),
    dropped: count('dropped'),
    treatedBefore: count('treated before'),
  };
}

function tell(result: TreatResult, name: string, values: TreatOptionValues, io: Io): void {
  io.out(`Rule set "${visible(name)}"${values.dryRun ? ', dry run: nothing is written' : ''}\n`);
  for (const rule of result.rules) {
    const words = rule.selected === 0 ? 'selected nothing' : `selected ${rule.selected}, changed ${rule.changed}`;
    io.out(`  ${visible(rule.name)}: ${words}\n`);
  }
  const lines = changeLines(result.changes);
  if (lines.length > 0) io.out('\nChanges:\n');
  for (const line of lines.slice(0, LINES)) io.out(`  ${visible(line)}\n`);
  if (lines.length > LINES) io.out(`  … and ${lines.length - LINES} more kinds; the CSV lists every opening.\n`);
  const reasons = grouped(result.refusals, ({ rule, reason }) => `${rule}: ${reason}`);
  if (reasons.size > 0) io.out('\nSelected, but left as they are:\n');
  for (const [reason, list] of reasons) io.out(`  ${runsOf(list.map(({ opening }) => opening))}: ${visible(reason)}\n`);
  const { before, after, ...fates } = countsOf(result);
  const said = Object.entries(fates).filter(([, n]) => n > 0);
  const area = (of: 'areaBeforeMm2' | 'areaAfterMm2'): number => result.accounts.reduce((sum, a) => sum + a[of], 0);
  const percent =
    before > 0 ? ` (${((100 * area('areaAfterMm2')) / area('areaBeforeMm2')).toFixed(1)} % of the area)` : '';
  io.out(
    `\n${before} openings became ${after}${percent}: ${said.map(([fate, n]) => `${n} ${fate === 'treatedBefore' ? 'treated before' : fate}`).join(', ') || 'none'}.\n`,
  );
}

/** Equal changes in one line. */
function changeLines(changes: readonly RuleChange[]): string[] {
  const words = (change: RuleChange): string => {
    const { before, after } = change;
    const to =
      after.pieces === 0
        ? 'dropped'
        : after.pieces > 1
          ? `${after.pieces} panes`
          : `${fixedMm(after.widthMm)} x ${fixedMm(after.heightMm)}`;
    return `${change.rule}: ${fixedMm(before.widthMm)} x ${fixedMm(before.heightMm)} mm -> ${to}, ${change.areaPercent.toFixed(1)} % of the area${change.note ? ` (${change.note})` : ''}`;
  };
  return [...grouped(changes, words)].map(([line, list]) => `${runsOf(list.map(({ opening }) => opening))}: ${line}`);
}

/** A change, or an opening that stays as it is. */
type Row = Pick<RuleChange, 'opening'> & Partial<Omit<RuleChange, 'action'>> & { readonly action: string };

/** A size that is not told is no number. */
const mm = (value = Number.NaN): string => (Number.isNaN(value) ? '' : value.toFixed(4));

/** Columns of the CSV, in order, and what stands in them. */
const TREAT_COLUMNS: Readonly<Record<string, (row: Row) => string>> = {
  opening: ({ opening }) => String(opening),
  rule: ({ rule = '' }) => rule,
  action: ({ action }) => action,
  before_width_mm: ({ before }) => mm(before?.widthMm),
  before_height_mm: ({ before }) => mm(before?.heightMm),
  before_area_mm2: ({ before }) => before?.areaMm2.toFixed(5) ?? '',
  after_width_mm: ({ after }) => mm(after?.widthMm),
  after_height_mm: ({ after }) => mm(after?.heightMm),
  after_area_mm2: ({ after }) => after?.areaMm2.toFixed(5) ?? '',
  pieces: ({ after }) => String(after?.pieces ?? ''),
  area_percent: ({ areaPercent }) => areaPercent?.toFixed(2) ?? '',
  centre_moved_mm: ({ centreMovedMm }) => mm(centreMovedMm),
  note: ({ note = '' }) => note,
};

/** The list of changes as CSV: one row a change, a refusal or an untouched opening, so that every opening is in it. */
function treatCsv({ changes, refusals, accounts }: TreatResult): string {
  const told: Row[] = [
    ...changes,
    ...refusals.map(({ reason, ...one }) => ({ ...one, action: 'stays', note: reason })),
  ];
  const listed = new Set(told.map(({ opening }) => opening));
  const others = accounts.filter(({ opening }) => !listed.has(opening));
  const rows = [
    ...told,
    ...others.map(({ opening, fate, areaBeforeMm2, areaAfterMm2 }): Row => {
      const size = { widthMm: Number.NaN, heightMm: Number.NaN, pieces: 1 };
      return {
        ...{ opening, action: fate, areaPercent: 100 },
        before: { ...size, areaMm2: areaBeforeMm2 },
        after: { ...size, areaMm2: areaAfterMm2 },
      };
    }),
  ];
  return csvText(
    TREAT_COLUMNS,
    rows.sort((p, q) => p.opening - q.opening),
  );
}
