import { basename } from 'node:path';
import type { DrilledHole } from '../../artwork/drill/drill-program.js';
import { readArtwork } from '../../artwork/read.js';
import { sideUnknown } from '../../artwork/side.js';
import { findSuspicious, SUSPICIOUS_CODES } from '../../artwork/suspicious.js';
import type { Artwork } from '../../artwork/types.js';
import type { Warning } from '../../errors.js';
import { composeMaps, mapPoint, mapRing, translation } from '../../geometry/affine.js';
import { boundsOf, regionBounds } from '../../geometry/bounds.js';
import type { Affine, Ring } from '../../geometry/types.js';
import { present } from '../../kept.js';
import { findHeat } from '../../layout/heat.js';
import { layStencil } from '../../layout/lay-stencil.js';
import type { LaidStencil, StencilRequest } from '../../layout/types.js';
import { smallestLetteringMm } from '../../lettering/lettering.js';
import { extentWarnings, machineModel } from '../../machine/machine-model.js';
import type { Profile } from '../../machine/types.js';
import { type Asked, askFor, type Turn } from '../../stencil/make-stencil.js';
import { type Kept, numbered, type Pending, withoutDropped } from '../each-artwork.js';
import { about } from '../file-problem.js';
import type { Io } from '../io.js';
import { readOptionsOf } from '../options/shared.js';
import type { LayoutOptionValues } from '../options/stencils.js';
import { madeBefore, sha256 } from '../results.js';
import { ruled, rulesOf } from '../stencil-settings.js';
import type { Board } from './board.js';
import { hasWitness, WITNESS_MM } from './sheet.js';

/** One artwork as it lies on its piece of film. */
export type LaidArtwork = Awaited<ReturnType<typeof layArtwork>>;

/** Reads one artwork, treats and mirrors it where told, and lays it on a piece of film with marks and words. */
export async function layArtwork(
  { file, stem, jobFunction, load }: Omit<Pending, 'format'>,
  board: Board,
  { profile, bytes: profileBytes }: { readonly profile: Profile; readonly bytes: Uint8Array },
  values: LayoutOptionValues,
  io: Io,
) {
  const { bytes } = await load();
  const mark = jobMark(bytes, profileBytes, values);
  return about(file, async () => {
    const kept = withoutDropped(await readArtwork(bytes, readOptionsOf(values, file, jobFunction)), values, file);
    const { artwork, numberAt } = kept;
    const rules = await rulesOf(values, io);
    const { openings, ...applied } = await ruled(artwork.openings, bytes, rules);
    const asked = askFor({ openings, side: artwork.side }, profile, {
      mirror: values.mirror,
      rotateDeg: Number(values.rotate ?? 0) as Turn,
      ...applied,
    });
    const stencil = layStencil(requestOf(stem, asked, board, profile, values, mark));
    const box = boundsOf(asked.openings);
    const [first, laid] = [asked.openings[0], stencil.openings[0].opening].map(regionBounds);
    return {
      file,
      stencil: withNumbers(stencil, numberAt),
      /** From the artwork's coordinates to those of its piece of film. */
      fromArtwork: composeMaps(translation(laid.minX - first.minX, laid.minY - first.minY), asked.map),
      ...{ box, side: asked.side, mirrored: asked.mirrored },
      warnings: [
        ...(await madeBefore(file, bytes, io)),
        ...sideUnknown(artwork, file, values.mirror),
        ...originTaken(artwork, values),
        ...readerWarnings(kept, board.outline),
        ...asked.warnings.map((warning) => numbered(warning, numberAt)),
        ...extentWarnings(profile, box),
        ...findHeat(asked.treated).map((warning) => numbered(warning, numberAt)),
        ...enlargedLetters(values, profile),
      ].map((w) => ({ ...w, place: { ...w.place, file: w.place?.file ?? file } })),
      source: {
        file: basename(file),
        sha256: sha256(bytes),
        openings: asked.openings.length,
        /** What is cut into the film, so that the record can be found. */
        mark,
        rules: asked.rules?.mark,
      },
    };
  });
}

/** A stencil whose openings have the numbers of the artwork that they come from. */
function withNumbers(stencil: LaidStencil, numberAt: Kept['numberAt']): LaidStencil {
  const openings = stencil.openings.map((one) =>
    one.number === undefined ? one : { ...one, number: numberAt(one.number) },
  );
  return { ...stencil, openings };
}

/** The reader looked for suspicious shapes without knowing the board; with its outline more can be told. */
function readerWarnings({ artwork, numberAt }: Kept, outline: readonly Ring[] | undefined): Warning[] {
  const { openings, warnings } = artwork;
  if (!outline) return [...warnings];
  const board = outline.length === 1 ? outline[0] : boundsOf(outline.map((outer) => ({ outer, islands: [] })));
  return [
    ...warnings.filter(({ code }) => !SUSPICIOUS_CODES.has(code)),
    ...findSuspicious(openings, board).map((warning) => numbered(warning, numberAt)),
  ];
}

/** Pictures, drawings and pages count from a corner of their own, outlines and drill files from the board's origin. */
function originTaken({ canvas }: Artwork, { outline, drill }: LayoutOptionValues): Warning[] {
  const files = present(outline !== undefined && basename(outline), drill !== undefined && basename(drill));
  return present(
    canvas !== undefined &&
      files.length > 0 && {
        code: 'ORIGIN_TAKEN',
        message: `nothing says where it lies on the board; the lower left corner of its canvas is taken as the origin of ${files.join(' and ')}.`,
        hint: 'Look on the dry fit whether openings, outline and holes lie as on the board; a Gerber layer shares their origin.',
      },
  );
}

/** Letters that would close are made larger, which the user should know who said how large they are to be. */
function enlargedLetters({ letteringMm }: LayoutOptionValues, profile: Profile): Warning[] {
  const { kerfXMm, kerfYMm } = machineModel(profile);
  const least = smallestLetteringMm(Math.max(kerfXMm, kerfYMm));
  return present(
    letteringMm !== undefined &&
      letteringMm < least && {
        code: 'LETTERING_ENLARGED',
        message: `letters ${letteringMm} mm high would close with this kerf; they are cut ${least.toFixed(2)} mm high.`,
        hint: `Give --lettering-mm ${(Math.ceil(least * 10) / 10).toFixed(1)} or more.`,
      },
  );
}

/** In the unit in which the film is sold: 0.1 mm, or 3 mil. */
export function thicknessWords(thicknessMm: number): string {
  const mils = Number((thicknessMm / 0.0254).toFixed(2));
  const isMils = Math.abs(mils * 0.0254 - thicknessMm) < 1e-6 && Number.isInteger(2 * mils);
  return isMils ? `${mils} mil` : `${Number(thicknessMm.toFixed(4))} mm`;
}

function requestOf(
  stem: string,
  { side, openings, map }: Asked,
  board: Board,
  profile: Profile,
  values: LayoutOptionValues,
  mark: string,
): StencilRequest {
  const model = machineModel(profile);
  const name = values.name ?? stem;
  const { kind, thicknessMm } = profile.film ?? {};
  const film = [kind, thicknessMm === undefined ? '' : thicknessWords(thicknessMm)].filter(Boolean).join(' ');
  return {
    name,
    openings,
    outline: board.outline?.map((ring) => mapRing(map, ring)),
    holes: board.holes.map((hole) => mapHole(map, hole)),
    words: [
      [name, side].filter(Boolean).join(' '),
      [film, profile.name, values.date, `job ${mark}`].filter(Boolean).join(' '),
    ],
    cornerMarks: values.marks,
    outlineTicks: values.ticks === true,
    marginMm: values.marginMm ?? 15,
    handle: values.handle,
    witnessMm: values.witness && hasWitness(model) ? WITNESS_MM * Math.max(model.scaleX, model.scaleY) : 0,
    letteringMm: values.letteringMm ?? 2.5,
    kerfMm: Math.max(model.kerfXMm, model.kerfYMm),
  };
}

function mapHole(map: Affine, { x, y, diameterMm, slotTo }: DrilledHole): DrilledHole {
  const [mx, my] = mapPoint(map, [x, y]);
  return { x: mx, y: my, diameterMm, slotTo: slotTo && mapPoint(map, slotTo) };
}

/** What was asked for, without where and how it is told of. */
export function parametersOf(values: LayoutOptionValues) {
  const { profile: _, out: __, overwrite: ___, report: ____, json: _____, ...asked } = values;
  const { outline, drill } = asked;
  return { ...asked, outline: outline && basename(outline), drill: drill && basename(drill) };
}

/** Long enough to tell the jobs of a workshop apart, short enough to be cut. */
const MARK_DIGITS = 6;

/** The mark by which a film names its job: the same for the same artwork, profile and options. */
function jobMark(source: Uint8Array, profile: Uint8Array, values: LayoutOptionValues): string {
  const parts = [sha256(source), sha256(profile), JSON.stringify(parametersOf(values))];
  return sha256(parts.join('\n')).slice(0, MARK_DIGITS);
}
