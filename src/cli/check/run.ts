import { grouped, kept, present } from '../../kept.js';
import { type CheckResult, checkOpenings, type OpeningCheck, worstFirst } from '../../rules/check.js';
import type { Finding } from '../../rules/check-opening.js';
import type { OpeningGroup } from '../../rules/group.js';
import { readLimits } from '../../rules/limits.js';
import { count, csvText, firstOf, runsOf } from '../../text.js';
import { eachArtwork, exitOf, type Kept, numbered, tellEach, withoutDropped } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { refuseUnusedOptions } from '../options/option.js';
import type { CheckOptionValues } from '../options/stencils.js';
import { jsonParts, makeResults } from '../results.js';
import { filmFacts } from '../stencil-settings.js';
import { columns, folded, sayWarnings, sayWrote } from '../tell.js';
import type { Content } from '../write-together.js';

/** Reads, checks, tells. */
export async function runCheck(patterns: readonly string[], values: CheckOptionValues, io: Io): Promise<ExitCode> {
  refuseUnusedOptions([[values.all === true && values.json === true, '--all', '--json lists every opening anyway']]);
  const film = await filmFacts(values, io);
  const limits =
    values.limits === undefined
      ? undefined
      : await readLimits(new TextDecoder().decode(await io.readFile(values.limits)), values.limits);
  const { thicknessMm, profileLimits } = film;
  const { paste, alloy, metalPercent, boards } = values;
  const given = { thicknessMm, paste, alloy, metalPercent, limits, profileLimits, boards };
  const worked = await eachArtwork(patterns, values, io, async ({ file, stem, artwork: whole }) => {
    const { artwork, numberAt } = withoutDropped(whole, values, file);
    const { openings } = artwork;
    sayWarnings(artwork.warnings, io, file);
    const checked = checkOpenings(openings, given);
    const result = values.drop === undefined ? checked : withNumbers(checked, numberAt);
    sayWarnings(result.warnings, io, file);
    if (values.out === undefined) return { file, result };
    const names = ['csv', 'json', 'svg', 'png'].map((ending) => `${stem}.check.${ending}`);
    const make = async (): Promise<Content[]> => {
      const { checkPicture } = await import('../../report/check-picture.js');
      const { outlineText, svgToPng } = await import('../../report/picture.js');
      const picture = checkPicture(openings, result, `${stem}: will it print?`);
      return [checkCsv(result), jsonParts(jsonOf(file, result)), await outlineText(picture), await svgToPng(picture)];
    };
    sayWrote(await makeResults(names, values, io, make), io);
    return { file, result };
  });
  const { results } = worked;
  tellEach(results, values, io, {
    json: ({ file, result }) => jsonOf(file, result),
    words: ({ result }) => tellCheck(result, values.all === true, io),
  });
  const isFailed = results.some(({ result }) => result.totals.failed > 0);
  return exitOf(worked, isFailed);
}

/** The result with the openings' own numbers. */
function withNumbers(result: CheckResult, numberAt: Kept['numberAt']): CheckResult {
  return {
    ...result,
    openings: result.openings.map((check) => ({
      ...check,
      number: numberAt(check.number),
      webTo: check.webTo === undefined ? undefined : numberAt(check.webTo),
    })),
    groups: result.groups.map((group) => ({ ...group, openings: group.openings.map(numberAt) })),
    warnings: result.warnings.map((warning) => numbered(warning, numberAt)),
  };
}

function jsonOf(file: string, result: CheckResult): Record<string, unknown> {
  const openings = result.openings.map(({ tag, ...check }) => ({ ...check, line: tag?.line }));
  return { format: 'apertrue-check', version: 1, file, ...result, openings };
}

/** Rows of the table when not all are asked for. */
const WORST = 25;
const GROUPS = 20;

/** Openings with the same verdict, for the same reasons and of nearly the same size; the first, the worst, stands for all. */
type Alike = readonly OpeningCheck[];

/** Tells a check's result in words. */
function tellCheck(result: CheckResult, all: boolean, io: Io): void {
  const ordered = worstFirst(result.openings);
  const questionable = ordered.filter(({ findings }) => findings.some(({ passes, near }) => !passes || near));
  const verdicts: readonly Alike[] = all ? ordered.map((one) => [one]) : alikeVerdicts(questionable);
  const shown = all ? verdicts : verdicts.slice(0, WORST);
  if (shown.length > 0) tellVerdicts(shown, io);
  const hidden = verdicts.slice(shown.length).flat().length;
  if (hidden > 0) io.out(`… and ${hidden} more openings; --all lists every one, --out writes them to a file.\n`);
  if (shown.length > 0) io.out('\n');
  tellGroups(result.groups, io);
  tellTotals(result, io);
}

/** Sizes that differ by less than this are told as one, mm. */
const ALIKE_MM = 0.01;

function alikeVerdicts(checks: readonly OpeningCheck[]): Alike[] {
  const kind = (check: OpeningCheck): string => {
    const listed = check.findings.filter(({ passes, near }) => (check.verdict === 'fail' ? !passes : near));
    const sides = [check.widthMm, check.heightMm].map((mm) => Math.round(mm / ALIKE_MM)).sort((p, q) => p - q);
    return JSON.stringify([check.verdict, listed.map(({ code }) => code), sides]);
  };
  return [...grouped(checks, kind).values()];
}

function tellVerdicts(verdicts: readonly Alike[], io: Io): void {
  const reasons = new Map<string, { letter: string; source: string; numbers: number[] }>();
  const rows = verdicts.map((alike) => {
    const [worst, numbers] = [alike[0], alike.map(({ number }) => number)];
    const { reason, source } = reasonsOf(worst);
    if (reason === '') return verdictRow(worst, numbers, '');
    const known = reasons.get(reason) ?? { letter: letterOf(reasons.size), source, numbers: [] };
    reasons.set(reason, known);
    known.numbers.push(...numbers);
    return verdictRow(worst, numbers, known.letter);
  });
  io.out(columns([['no.', 'part', 'size mm', 'area ratio', 'web mm', 'paste mg', 'verdict', 'why'], ...rows]));
  if (reasons.size > 0) io.out('\n');
  for (const [reason, { letter, numbers }] of reasons) {
    const which = numbers.length > 1 ? `${numbers.length} openings (${runsOf(numbers)}): ` : '';
    io.out(folded(`${letter.padStart(3)}  `, `${which}${reason}`));
  }
  const sources = new Set([...reasons.values()].map(({ source }) => source).filter(Boolean));
  if (sources.size > 0) io.out(folded('Rules: ', `${[...sources].join('; ')}.`));
}

/** a, b, … z, aa, ab, … */
function letterOf(index: number): string {
  const last = String.fromCharCode(97 + (index % 26));
  return index < 26 ? last : letterOf(Math.floor(index / 26) - 1) + last;
}

function verdictRow(check: OpeningCheck, numbers: readonly number[], why: string): string[] {
  const angle = Math.abs(check.angleDeg) > 0.05 ? ` ${check.angleDeg.toFixed(0)}°` : '';
  return [
    numbers.length > 1 ? `${check.number} (${numbers.length} alike)` : `${check.number}`,
    [check.component, check.pin].filter(Boolean).join('.').slice(0, 8),
    `${check.widthMm.toFixed(3)} x ${check.heightMm.toFixed(3)}${angle}`,
    check.areaRatio.toFixed(3),
    check.webMm?.toFixed(3) ?? '',
    check.pasteMg.toFixed(3),
    check.verdict === 'fail' ? 'FAIL' : check.findings.some(({ near }) => near) ? 'near' : 'pass',
    why,
  ];
}

function tellGroups(groups: readonly OpeningGroup[], io: Io): void {
  if (groups.length === 0) return;
  io.out('Pads that belong together:\n');
  const lines = alike(groups);
  for (const line of lines.slice(0, GROUPS)) io.out(folded('  ', line));
  const more = lines.length - GROUPS;
  if (more > 0) io.out(`  … and ${more} more kinds; --json lists them all.\n`);
}

/** Groups that look alike in one line. */
function alike(groups: readonly OpeningGroup[]): string[] {
  const words = (group: OpeningGroup): string => {
    const facts = present(
      `${group.padCount} of ${group.padMm.map((mm) => mm.toFixed(3)).join(' x ')} mm`,
      group.pitchMm !== undefined && `pitch ${group.pitchMm.toFixed(3)} mm`,
      group.webMm !== undefined && `narrowest web ${group.webMm.toFixed(3)} mm`,
      group.centre.length > 0 && `around ${group.centre.length === 1 ? 'a large pad' : `${group.centre.length} panes`}`,
    );
    return `${group.kind}: ${facts.join(', ')}`;
  };
  return [...grouped(groups, words)].map(([line, list]) => {
    const names = list.map(({ component, openings }) => component ?? numbersIn(openings));
    return `${names.length > 1 ? `${names.length} x ` : ''}${line} (${firstOf(names, 8)})`;
  });
}

/** Longer lists of numbers nobody reads. */
const MOST_LETTERS = 20;

function numbersIn(openings: readonly number[]): string {
  const all = runsOf(openings);
  return all.length > MOST_LETTERS ? `${openings[0]} … ${openings.at(-1)}` : all;
}

function tellTotals({ totals, basis, notes }: CheckResult, io: Io): void {
  const paste = `${totals.pasteMm3.toFixed(3)} mm³ or ${grams(totals.pasteG)} of paste`;
  const many =
    totals.boards > 1
      ? `; ${totals.boards} boards: ${totals.boardsPasteMm3.toFixed(1)} mm³, ${grams(totals.boardsPasteG)}`
      : '';
  io.out(
    `\n${count(totals.openings, 'opening')}, ${totals.areaMm2.toFixed(2)} mm² open: ${totals.failed} fail, ${totals.near} pass near a limit, ${totals.passed - totals.near} pass.\n`,
  );
  io.out(`One board takes ${paste}${many}.\n`);
  io.out(
    `Film ${basis.thicknessMm} mm; ${basis.paste.alloy} ${basis.paste.type} paste, ${basis.paste.metalPercent} % metal, ${basis.paste.densityGPerCm3.toFixed(2)} g/cm³.\n`,
  );
  for (const note of notes) io.out(folded('Note: ', note));
}

const grams = (g: number): string => (g < 1 ? `${(g * 1000).toFixed(1)} mg` : `${g.toFixed(2)} g`);

const digits = (value: number | undefined, places: number): string =>
  value === undefined ? '' : value.toFixed(places);

/** Columns of the CSV, in order, and what stands in them. */
const CHECK_COLUMNS: Readonly<Record<string, (check: OpeningCheck) => string>> = {
  opening: ({ number }) => String(number),
  component: ({ component }) => component ?? '',
  pin: ({ pin }) => pin ?? '',
  centre_x_mm: ({ centre }) => digits(centre[0], 4),
  centre_y_mm: ({ centre }) => digits(centre[1], 4),
  width_mm: ({ widthMm }) => digits(widthMm, 4),
  height_mm: ({ heightMm }) => digits(heightMm, 4),
  angle_deg: ({ angleDeg }) => digits(angleDeg, 2),
  shape: ({ shape }) => shape,
  narrowest_mm: ({ narrowestMm }) => digits(narrowestMm, 4),
  area_mm2: ({ areaMm2 }) => digits(areaMm2, 5),
  perimeter_mm: ({ perimeterMm }) => digits(perimeterMm, 4),
  area_ratio: ({ areaRatio }) => digits(areaRatio, 3),
  aspect_ratio: ({ aspectRatio }) => digits(aspectRatio, 3),
  web_mm: ({ webMm }) => digits(webMm, 4),
  web_to: ({ webTo }) => digits(webTo, 0),
  paste_mm3: ({ pasteMm3 }) => digits(pasteMm3, 6),
  paste_mg: ({ pasteMg }) => digits(pasteMg, 5),
  verdict: ({ verdict }) => verdict,
  reason: (check) => reasonsOf(check).reason,
  source: (check) => reasonsOf(check).source,
};

interface Reasons {
  readonly reason: string;
  readonly source: string;
}

/** Openings of equal figures share their findings. */
const reasonsKnown = new WeakMap<readonly Finding[], Reasons>();

/** Why an opening fails, or what it passes by little; empty when all is well. */
function reasonsOf({ findings }: OpeningCheck): Reasons {
  return kept(reasonsKnown, findings, () => reasonsIn(findings));
}

function reasonsIn(findings: readonly Finding[]): Reasons {
  const failed = findings.filter(({ passes }) => !passes);
  const listed = failed.length > 0 ? failed : findings.filter(({ near }) => near);
  const prefix = failed.length === 0 && listed.length > 0 ? 'Near its limit: ' : '';
  return {
    reason: prefix + listed.map(({ reason }) => reason).join(' '),
    source: [...new Set(listed.map(({ source }) => source))].join('; '),
  };
}

/** All openings as CSV, in the order of the artwork. */
const checkCsv = (result: CheckResult): string => csvText(CHECK_COLUMNS, result.openings);
