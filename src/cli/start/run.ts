import { builtInPattern } from '../../coupon/built-in.js';
import { BEAM_CAUTIONS } from '../../coupon/cautions.js';
import { generateCoupon } from '../../coupon/generate.js';
import { InputError, refuseAll } from '../../errors.js';
import { EXPORT_FORMATS, isRaster } from '../../export/export-formats.js';
import { couponOrder } from '../../fit/plan/plan-words.js';
import type { PerAxis } from '../../geometry/types.js';
import { refuseFilm } from '../../machine/film-hazards.js';
import {
  gaugeFor,
  PROJECT_FILE,
  type Project,
  type ProjectGauge,
  projectText,
  takenWith,
} from '../../project/project.js';
import { type Asker, askAtPrompt, asking } from '../ask.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { pitchOfDpi } from '../machine-words.js';
import type { StartOptionValues } from '../options/calibration.js';
import { flagOf } from '../options/option.js';
import * as parse from '../options/values.js';
import { intoProject } from '../project-file.js';
import { sayWrote } from '../tell.js';

export async function runStart(values: StartOptionValues, io: Io): Promise<ExitCode> {
  const inTheWay = await io.inTheWay([PROJECT_FILE], { overwrite: values.overwrite });
  // It lies where one works: --out, which helps elsewhere, names the folder for what is made later.
  const hint = 'Give --overwrite to replace it, or work in another folder: each machine has one of its own.';
  refuseAll(inTheWay.map((problem) => ({ ...problem, hint })));
  if (values.film !== undefined) safeFilm(values.film);
  const project = await asking(io, (asker) => answers(values, asker, io));
  const plan = await planText(project);
  await io.writeFiles([{ path: PROJECT_FILE, bytes: projectText(project) }], values);
  io.out(plan);
  sayWrote([PROJECT_FILE], io);
  const hazard = refuseFilm(project.film?.kind, { key: '--film' });
  if (hazard) io.say(`caution: ${project.film?.kind}: ${hazard}.\n`);
  for (const caution of BEAM_CAUTIONS) io.say(`caution: ${caution}\n`);
  io.run.next = [/ {5}(apertrue .*)/.exec(plan)?.[1] ?? ''];
  return EXIT.done;
}

/** A film that may be lasered at all. */
function safeFilm(kind: string): string {
  if (kind.trim() === '') {
    throw new InputError({
      code: 'FILM_NOT_FOR_LASERS',
      place: { key: '--film' },
      message: 'nothing is named.',
      hint: 'Say what it is made of, for example pet: films of unknown plastic must not be lasered.',
    });
  }
  refuseFilm(kind, { key: '--film' });
  return kind;
}

/** The coupons of the plan. */
const PLANNED = ['power-speed-grid', 'scale-ruler', 'aperture-ladder'] as const;

/** A bed on which the coupons of the plan have room. */
function bedOf(text: string): { widthMm: number; heightMm: number } {
  const bed = parse.size(text);
  const least = PLANNED.map((name) =>
    builtInPattern(name)
      .smallestBedMm.map(Number)
      .sort((a, b) => b - a),
  );
  const [long, short] = [0, 1].map((k) => Math.max(...least.map((sides) => sides[k])));
  const fits = Math.max(bed.widthMm, bed.heightMm) >= long && Math.min(bed.widthMm, bed.heightMm) >= short;
  if (fits) return bed;
  throw new Error(`The coupons need ${long} x ${short} mm at least; found "${text}".`);
}

/** A pitch as people know it: a number below 1 is a distance in mm, one above 20 dots per inch, unless a unit says so. */
function pitchOf(text: string): PerAxis {
  const dpi =
    /^\s*([\d.x×,\s]+?)\s*dpi\s*$/i.exec(text)?.[1] ??
    (/^\s*\d{2,}(\s*[x×]\s*\d{2,})?\s*$/.test(text) ? text : undefined);
  const found = (): PerAxis | undefined => {
    try {
      return dpi === undefined ? parse.pitch(text) : pitchOfDpi(parse.dpi(dpi));
    } catch {
      // What each of the two readers would say is half of what may be typed.
      return undefined;
    }
  };
  const pitch = found();
  if (pitch && [pitch.x, pitch.y].every((mm) => mm >= 0.01 && mm <= 0.2)) return pitch;
  throw new Error(
    `Expected 127 to 2540 dots per inch, such as 1000 or 600x1200, or a distance from 0.01 to 0.2 mm, such as 0.0254; found "${text}".`,
  );
}

async function answers(values: StartOptionValues, asker: Asker, io: Io): Promise<Project> {
  let hasAsked = false;
  const ask = async <K extends keyof StartOptionValues>(
    key: K,
    question: string,
    read: (text: string) => NonNullable<StartOptionValues[K]>,
    otherwise?: string,
    given = values[key],
  ) => {
    if (given !== undefined) return given as NonNullable<StartOptionValues[K]>;
    hasAsked = true;
    return askAtPrompt(asker, question, read, flagOf(key), io, otherwise);
  };
  const machine = await ask('machine', 'Which laser? A name for it', (text) => text, 'my-laser');
  const bed = await ask('bedMm', 'Its bed, or your film if that is smaller, width x height in mm', bedOf);
  const programs = 'What does its program open: png, bmp, tiff, svg, pdf or dxf';
  const formats = await ask('format', programs, parse.formats(EXPORT_FORMATS), 'png');
  const [dots, usual] = formats.some(isRaster)
    ? ['How fine are its dots, in dpi or as a distance in mm']
    : ['Paths have no dots: in which steps are coupons to be drawn, in mm', '0.0254'];
  const pitchMm = await ask('pitchMm', dots, pitchOf, usual, values.pitchMm ?? (values.dpi && pitchOfDpi(values.dpi)));
  const kind = await ask('film', 'What is the film made of', safeFilm, 'pet');
  const thicknessMm = await ask('thicknessMm', 'How thick is it, in mm', parse.thicknessMm, '0.1');
  const gauges = await ask('gauge', GAUGES, readGauges, 'caliper 0.01');
  // Most machines need no answer of their own, so nobody who gave all else as options is held up by these.
  const tried = async (
    key: 'speeds' | 'powerSteps',
    question: string,
    read: (part: string) => number,
    name: keyof Lists,
    others: Lists = {},
  ) => {
    const given = values[key];
    if (given !== undefined || !hasAsked) return given;
    const usually = (await grid(others))[name].join();
    const readAll = async (text: string): Promise<number[]> => {
      const list = parse.eachOf(read)(text);
      await grid({ ...others, [name]: list });
      return list;
    };
    const list = await askAtPrompt(asker, question, readAll, flagOf(key), io, usually, true);
    return list.join() === usually ? undefined : list;
  };
  const grid = (lists: Lists) => gridOf({ bed, pitchMm, ...lists });
  const speedsMmS = await tried('speeds', SPEEDS, parse.speedMmS, 'speedsMmS');
  const powersPercent = await tried('powerSteps', POWERS, parse.powerPercent, 'powersPercent', { speedsMmS });
  const file =
    machine
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, '-')
      .replace(/^-|-$/g, '') || 'my-laser';
  return {
    format: 'apertrue-project',
    version: 1,
    machine,
    bed,
    pitchMm,
    formats,
    film: { kind, thicknessMm },
    profile: `${file}.profile.json`,
    out: intoProject('.', values.out ?? 'stencils'),
    gauges,
    ...(powersPercent ? { powersPercent } : {}),
    ...(speedsMmS ? { speedsMmS } : {}),
    report: true,
  };
}

const GAUGES = 'What do you measure with, and one step of each in mm; such as "caliper 0.01; loupe 0.05"';
const readGauges = (text: string): ProjectGauge[] => text.split(/\s*;\s*|,\s+|\s+and\s+/).map(parse.gauge);

const POWERS =
  'Which powers to try, in %; only one if it can’t be set (a knob without numbers: put marks on it, in % of its turn)';
const SPEEDS = 'Which speeds to try, in mm/s; only one if it can’t be set';

type Lists = Pick<Project, 'powersPercent' | 'speedsMmS'>;

const sizeOf = ({ bed, pitchMm }: Pick<Project, 'bed' | 'pitchMm'>) => ({
  widthMm: bed?.widthMm ?? 0,
  heightMm: bed?.heightMm ?? 0,
  pitchXMm: pitchMm?.x ?? 0,
  pitchYMm: pitchMm?.y,
});

/** What the power/speed grid of a machine tries. @throws {InputError} when that has no room */
async function gridOf({ powersPercent, speedsMmS, ...machine }: Lists & Pick<Project, 'bed' | 'pitchMm'>) {
  const { features } = await generateCoupon('power-speed-grid', { ...sizeOf(machine), powersPercent, speedsMmS });
  const cells = features.features.filter((one) => one.kind === 'cell');
  const rising = (list: readonly number[]): number[] => [...new Set(list)].sort((p, q) => p - q);
  return {
    powersPercent: rising(cells.map((cell) => cell.powerPercent)),
    speedsMmS: rising(cells.map((cell) => cell.speedMmS)),
    cells: cells.length,
  };
}

/** Which coupons in which order, what to read on them and with which gauge, and the commands. */
async function planText(project: Project): Promise<string> {
  const { gauges = [] } = project;
  const size = sizeOf(project);
  const lines: string[] = ['The plan:\n'];
  const step = (title: string, commands: readonly string[]): void => {
    lines.push(`${lines.length}. ${title}\n${commands.map((command) => `     ${command}\n`).join('')}`);
  };
  const { cells } = await gridOf(project);
  // Of one power and one speed there is nothing to choose.
  const chosen = cells > 1 ? 'that power and speed' : 'its power and speed';
  if (cells > 1)
    step(`power-speed-grid: which power and speed cut clean (${cells} cells, by eye against a light)`, [
      'apertrue coupon power-speed-grid',
      'apertrue enter power-speed-grid',
      'apertrue window power-speed-grid',
    ]);
  for (const [name, what] of [
    ['scale-ruler', 'scale and squareness'],
    ['aperture-ladder', 'kerf'],
  ]) {
    const { features } = await generateCoupon(name, size);
    const all = features.features.length;
    const kinds = features.features.map(({ kind }) => kind);
    const taken = takenWith(features.features, gauges);
    const order = couponOrder({ features }, taken);
    const first = order?.first ?? all;
    const tell = order?.reaches === false ? 'tell most of what they can' : 'are the least that will do';
    const gauge = gaugeFor(kinds.includes('span') ? 'span' : 'opening', gauges);
    const by = gauge ? ` with the ${gauge.name} (${gauge.resolutionMm} mm)` : '';
    // A caliper's jaws take hold of windows and of no slot.
    const noEye = taken?.takes === 'windows' && !kinds.includes('span');
    const slanted = taken?.takes === 'windows' && kinds.includes('span');
    const byTips = noEye
      ? ', its tips set to the edges by eye:\n   no slot lets its jaws in, and a loupe with a scale is surer'
      : slanted
        ? ',\n   its jaws in the windows, and its tips set by eye to the slanted slots, which tell the squareness'
        : '';
    const will = `${first} of ${all} readings ${tell}${by}${byTips}; enter says when it is enough`;
    step(`${name}: ${what}, cut with ${chosen}\n   ${will}`, [`apertrue coupon ${name}`, `apertrue enter ${name}`]);
  }
  step('the profile, and from then on every stencil', [
    'apertrue fit scale-ruler aperture-ladder',
    'apertrue correct board.gbr',
  ]);
  return lines.join('');
}
