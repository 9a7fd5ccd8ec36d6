import { basename } from 'node:path';
import type { Warning } from '../../errors.js';
import { composeMaps, mapOpenings, mapPoint, mapRing } from '../../geometry/affine.js';
import { boundsOf, boxAround, ringBounds } from '../../geometry/bounds.js';
import { boxRing } from '../../geometry/shapes.js';
import type { Affine, Point, Ring } from '../../geometry/types.js';
import { table, words } from '../../report/document/blocks.js';
import type { ScanMark } from '../../report/scan-picture.js';
import { Openings } from '../../scan/find/places.js';
import { type Recognised, Scene } from '../../scan/find/recognise.js';
import type { Polarity } from '../../scan/find/standing-out.js';
import type { Hole } from '../../scan/inspect/holes.js';
import { inspectOpenings } from '../../scan/inspect/inspect-openings.js';
import { wholeOf } from '../../scan/inspect/judge.js';
import { lengthsIn, measureCoupon } from '../../scan/measure/measure-coupon.js';
import { fitAffine } from '../../scan/picture/fit-affine.js';
import type { GreyPicture } from '../../scan/picture/picture.js';
import { spreadOf } from '../../scan/picture/robust.js';
import { readingsOfScans, type ScanReading } from '../../scan/readings-of-scans.js';
import { refuseCoarse, refuseSlanted, toldOfDots, toldOfLevels } from '../../scan/scan-picture.js';
import { fitScannerToStencil, lengthsBetween } from '../../scan/scanner/scanner.js';
import { count, csvText, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { afterInspection } from '../next-step.js';
import type { InspectOptionValues } from '../options/stencils.js';
import { namedFiles, refuseResults, roundedNumbers, writeResults } from '../results.js';
import { drawnUpon, readingsCsv, shownAs } from '../scan/files.js';
import { loadPicture, noSize } from '../scan/load-picture.js';
import { printJson, sayWarnings, sayWrote } from '../tell.js';
import { askedOpenings, type ReadBack } from './asked.js';
import { cutOff, isAlikeAcross, notThere, refuseSeveral, type Told, toldOfFilm, wholeWords } from './told.js';

export async function runInspect(file: string, values: InspectOptionValues, io: Io): Promise<ExitCode> {
  const stem = basename(file).replace(/\.[^.]+$/, '');
  // Names of their own, so that no readings of a coupon are ever replaced by them.
  const endings = ['csv', 'json', 'html', 'png', 'readings.csv', 'features.json'];
  const names = endings.map((ending) => `${stem}.inspect.${ending}`);
  await refuseResults(names, values, io);
  const { openings: asked, asCut, judged, nameAt, toTold, warnings: ofJob, commanded } = await askedOpenings(values.job, values.artwork, io); // biome-ignore format: one line
  const { picture } = await loadPicture(file, values.dpi, io);
  if (!picture.dotsPerMm) throw noSize(file, 'Give --dpi.');
  refuseCoarse(picture, file);
  const openings = new Openings(asked);
  const scene = new Scene(picture);
  const [recognised, look] = laidUpon(openings, scene);
  if (!recognised) {
    const blobs = scene.blobCount;
    throw notThere(file, blobs, asked.length, scene.find(openings, 'walls') !== undefined);
  }
  refuseSeveral(recognised, asked.length, file);
  refuseSlanted(recognised, openings, picture, file);
  const { areaPercent, sizeMm, placeMm } = values;
  const limits = { areaPercent, sizeMm, placeMm };
  const { inspected: found, holes: open, sharpness, laid } = inspectOpenings(picture, openings, recognised, limits, { count: judged, asCut }); // biome-ignore format: one line
  const named = found.map(
    ({ bridgedWith, number, at, ...one }): Told => ({
      number: nameAt(number),
      ...one,
      at: mapPoint(toTold, at),
      bridgedWith: bridgedWith === undefined ? undefined : nameAt(bridgedWith),
    }),
  );
  const holes = open.map((hole): Hole => toldIn(toTold, hole));
  const [inspected, besides] = [named.slice(0, judged), named.slice(judged)];
  if (sharpness.clipped > 0.5) throw cutOff(file);
  const faulty = inspected.filter(({ faults }) => faults.length > 0);
  const gone = besides.filter(({ faults }) => faults.length > 0);
  const unseen = inspected.filter((one) => one.unseen);
  const box = boundsOf(asked.slice(0, judged));
  const whole = box && wholeOf(laid ? composeMaps(recognised.map, laid) : recognised.map, picture, box, placeMm);
  const warnings: Warning[] = [
    ...ofJob,
    ...toldOfDots(picture, file),
    ...toldOfLevels(sharpness, picture, file),
    ...toldOfFilm({ recognised, whole, inspected, besides, isPlaced: laid !== undefined }, file),
  ];
  const go = faulty.length + unseen.length + holes.length === 0 && !whole?.wrong;
  const report = {
    format: 'apertrue-inspection',
    version: 1,
    go,
    mirrored: recognised.mirrored,
    whole,
    limits,
    openings: inspected.map(({ ring: _, at: [xMm, yMm], ...rest }) => ({ ...rest, xMm, yMm })),
    notAskedFor: holes.map(({ at, ...size }, i) => ({ name: holeName(i), xMm: at[0], yMm: at[1], ...size })),
    warnings,
  };
  const { svg, png } = await drawnUpon(await shownAs(picture, scene.overview), {
    marks: [...faulty.map(markOf), ...gone.map(markOf), ...open.map((hole, i) => markOfHole(hole, i, recognised.map))],
    outlines: [
      ...inspected.map(({ ring, faults }) => ({ ring, good: faults.length === 0 })),
      ...gone.map(({ ring }) => ({ ring, good: false })),
      ...open.map((hole) => ({ ring: mapRing(recognised.map, boxOf(hole)), good: false })),
    ],
  });
  const { reportHtml } = await import('../../report/document/html.js');
  const own = verdict(inspected, faulty.length, holes.length, unseen.length, recognised.mirrored);
  const sentence = whole ? wholeWords(own, whole) : own;
  const rows = [...faulty.map(rowOf), ...holes.map(rowOfHole)];
  const html = reportHtml({
    title: `${stem}: inspection`,
    blocks: [
      words(sentence, go ? 'good' : 'warning'),
      {
        kind: 'close-up',
        svg,
        find: 'opening no.',
        words: 'Openings as asked, drawn upon the scan; the faulty ones numbered, X1, X2 ... what nobody asked for.',
      },
      ...table('Faults', ['opening', 'fault', 'asked', 'found'], rows),
    ],
  });
  const contents = [csvOf(inspected, holes), `${JSON.stringify(report, roundedNumbers, 2)}\n`, html, png];
  const read = isAlikeAcross(recognised) ? [] : commanded.flatMap((one) => readingsOf(one, picture, scene, look) ?? []);
  // A drawing and its dots differ by parts of a dot: what was cut leaves the least.
  const [best] = read.sort((p, q) => p.spreadMm - q.spreadMm);
  if (best) contents.push(readingsCsv(best.readings), `${JSON.stringify(best.file, null, 2)}\n`);
  const written = await writeResults(namedFiles(names, contents), values, io);
  if (values.json) printJson(report, io, roundedNumbers);
  else {
    io.out(`${sentence}\n`);
    for (const row of rows) io.out(`  ${row.map(visible).join('  ')}\n`);
  }
  sayWarnings(warnings, io, file);
  if (commanded.length > 0 && !best)
    io.say(
      'note: no readings were written: too few of the openings are upright rectangles, or they do not tell X from Y.\n',
    );
  sayWrote(written, io);
  io.run.next = [await afterInspection(written, io)];
  return go ? EXIT.done : EXIT.findings;
}

/** Where nothing else is there: a laser that stopped half way has cut so many of the openings. */
const HALF_CUT = 0.45;

/** Openings are darker or lighter than the film; the look that shows more of them is right. */
function laidUpon(openings: Openings, scene: Scene): [Recognised | undefined, Polarity] {
  for (const enough of [undefined, HALF_CUT]) {
    for (const look of ['darker', 'lighter'] as const) {
      const laid = scene.findStencil(openings, look, enough);
      if (laid) return [laid, look];
    }
  }
  return [undefined, 'darker'];
}

/** Fewer widths tell nothing of a machine. */
const LEAST_READINGS = 6;

/** The stencil read as a coupon of its own: what was commanded against what came out, for `fit --add-to` and `control`. */
function readingsOf(
  { openings: all, features, machine, file }: ReadBack,
  picture: GreyPicture,
  scene: Scene,
  look: Polarity,
) {
  const openings = new Openings(all);
  if (features.length < LEAST_READINGS) return undefined;
  // The film is what the machine makes of what it is told.
  const { scaleX, scaleY, shear } = machine;
  const made: Affine = { a: scaleX, b: shear, c: 0, d: scaleY, e: 0, f: 0 };
  const film = scene.findStencil(new Openings(mapOpenings(made, all)), look);
  if (!film) return undefined;
  const pairs = film.seenAt.flatMap((at, i): [Point, Point][] => (at ? [[openings.stars[i].at, at]] : []));
  const recognised = { ...film, map: fitAffine(pairs)?.map ?? composeMaps(film.map, made) };
  const { scanned, sharpness } = measureCoupon(picture, features, openings, recognised);
  const lengths = [...lengthsIn('stencil', scanned), ...(picture.dotsPerMm ? lengthsBetween(pairs, picture.dotsPerMm) : [])]; // biome-ignore format: one line
  const scanner = fitScannerToStencil(lengths, machine, { uToneMm: sharpness.uToneMm });
  const readings = readingsOfScans(features, [scanned], scanner, true);
  return readings.length < LEAST_READINGS ? undefined : { file, readings, spreadMm: spreadAgainst(features, readings) };
}

/** How much the widths' growth differs from opening to opening, over both axes. */
function spreadAgainst(features: ReadBack['features'], readings: readonly ScanReading[]): number {
  const read = new Map(readings.map(({ feature, readingMm }) => [feature, readingMm]));
  const grown = features.flatMap((feature) => {
    if (feature.kind !== 'opening') return [];
    const mm = read.get(feature.id);
    return mm === undefined ? [] : [[feature.id, mm - feature.nominalMm] as const];
  });
  const along = (axis: string) => grown.flatMap(([id, mm]) => (id.endsWith(axis) ? [mm] : []));
  return ['X', 'Y'].map(along).reduce((sum, mm) => sum + (mm.length > 0 ? spreadOf(mm) : 0), 0);
}

function verdict(all: readonly Told[], faulty: number, holes: number, unseen: number, mirrored: boolean): string {
  const side = mirrored ? ', upside down' : '';
  if (faulty + holes + unseen === 0) return `Go: ${count(all.length, 'opening')} as asked${side}.`;
  const rest = unseen > 0 ? ` ${unseen} ${unseen === 1 ? 'lies' : 'lie'} outside of the picture.` : '';
  const more = holes > 0 ? ` ${count(holes, 'hole')} that nobody asked for.` : '';
  const not = `${faulty} of ${count(all.length, 'opening')} ${faulty === 1 ? 'is' : 'are'} not as asked`;
  return `No-go: ${faulty === 0 ? `${count(all.length, 'opening')} looked for` : not}${side}.${more}${rest}`;
}

/** In the coordinates of the artwork, which a stencil may be turned by quarters against. */
function toldIn(map: Affine, hole: Hole): Hole {
  const { widthMm, heightMm } = hole;
  const isTurned = Math.abs(map.b) > Math.abs(map.a);
  return { ...hole, at: mapPoint(map, hole.at), ...(isTurned ? { widthMm: heightMm, heightMm: widthMm } : {}) };
}

const holeName = (i: number): string => `X${i + 1}`;

function rowOfHole({ at: [x, y], widthMm, heightMm }: Hole, i: number): string[] {
  const mm = (value: number): string => value.toFixed(3);
  return [holeName(i), 'not asked for', `at ${mm(x)}, ${mm(y)} mm`, `${mm(widthMm)} x ${mm(heightMm)} mm`];
}

const boxOf = ({ at, widthMm, heightMm }: Hole): Ring => boxRing(boxAround(at, widthMm, heightMm));

function markOfHole({ at: [x, y], widthMm }: Hole, i: number, map: Affine): ScanMark {
  const end = (side: number): Point => mapPoint(map, [x + (side * widthMm) / 2, y]);
  return { name: holeName(i), ends: [end(-1), end(1)], doubt: 'not asked for' };
}

function rowOf({ number, faults, bridgedWith, asked, widthMm, heightMm, areaMm2 }: Told): string[] {
  const mm = (value: number | undefined): string => value?.toFixed(3) ?? '?';
  // What is missing has no sides to measure.
  const sides = widthMm === undefined && heightMm === undefined ? '' : `${mm(widthMm)} x ${mm(heightMm)} mm, `;
  return [
    `${number}`,
    `${faults.join(', ')}${bridgedWith === undefined ? '' : ` with ${bridgedWith}`}`,
    `${mm(asked.widthMm)} x ${mm(asked.heightMm)} mm`,
    `${sides}${Math.round((100 * (areaMm2 ?? 0)) / asked.areaMm2)} % of the area`,
  ];
}

function markOf({ number, faults, ring }: Told): ScanMark {
  const { minX, minY, maxX, maxY } = ringBounds(ring);
  const [left, right] = [minX, maxX].map((x): Point => [x, (minY + maxY) / 2]);
  return { name: `${number}`, ends: [left, right], doubt: faults.join(', ') };
}

/** A row of the table: an opening as asked, or a hole that nobody asked for, of which only what was found is known. */
type Row = Partial<Told> & Pick<Told, 'number' | 'at'>;

const digits = (value: number | undefined): string => value?.toFixed(4) ?? '';

const COLUMNS: Readonly<Record<string, (row: Row) => string | number>> = {
  opening: ({ number }) => number,
  faults: ({ unseen, faults }) => (unseen ? 'not in the picture' : (faults?.join('; ') ?? 'not asked for')),
  asked_width_mm: ({ asked }) => digits(asked?.widthMm),
  width_mm: ({ widthMm }) => digits(widthMm),
  asked_height_mm: ({ asked }) => digits(asked?.heightMm),
  height_mm: ({ heightMm }) => digits(heightMm),
  asked_area_mm2: ({ asked }) => digits(asked?.areaMm2),
  area_mm2: ({ areaMm2 }) => digits(areaMm2),
  off_mm: ({ offMm }) => digits(offMm),
  x_mm: ({ at }) => digits(at[0]),
  y_mm: ({ at }) => digits(at[1]),
};

const csvOf = (inspected: readonly Told[], holes: readonly Hole[]): string =>
  csvText<Row>(COLUMNS, [...inspected, ...holes.map((hole, i) => ({ number: holeName(i), ...hole }))]);
