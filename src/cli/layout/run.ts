import { join } from 'node:path';
import { InputError, type Warning } from '../../errors.js';
import { coarseDots } from '../../export/write.js';
import type { Box, PerAxis } from '../../geometry/types.js';
import { packSheet } from '../../layout/pack.js';
import { machineModel, pitchWarnings } from '../../machine/machine-model.js';
import type { Profile } from '../../machine/types.js';
import { faultWarnings } from '../../stencil/faults.js';
import { beyondBed } from '../../stencil/frame.js';
import { fieldOf } from '../../stencil/make-stencil.js';
import { visible } from '../../text.js';
import { layersNamed, type Pending, refuseDropOfMany, refuseIdleArtworkOptions } from '../each-artwork.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { refuseFaults } from '../machine-words.js';
import { refuseUnusedOptions } from '../options/option.js';
import type { LayoutOptionValues } from '../options/stencils.js';
import { profileWarnings } from '../profile-doubts.js';
import { findProject, loadProfile } from '../project-file.js';
import { roundedNumbers, writeResults } from '../results.js';
import { idleThickness, pitchUnknown, stencilFiles } from '../stencil-settings.js';
import { eachOnce, listedIn, printJson, sayCaution, sayWarnings, sayWrote } from '../tell.js';
import { readBoard } from './board.js';
import {
  dryFitOf,
  faultName,
  layoutWords,
  reportOf,
  sheetReport,
  sheetSidecar,
  sheetStem,
  witnessFiles,
  witnessName,
} from './files.js';
import { commandSheet, hasWitness, type NarrowOnSheet, onWholeDots } from './sheet.js';
import { type LaidArtwork, layArtwork } from './stencil.js';

/** Reads, lays, corrects, writes, tells. */
export async function runLayout(files: readonly string[], given: LayoutOptionValues, io: Io): Promise<ExitCode> {
  const { layers, values, own } = await begin(files, given, io);
  const loaded = await loadProfile(values.profile, io);
  const { profile } = loaded;
  const model = machineModel(profile);
  const pitch = pitchOf(values, profile);
  const board = await readBoard(values, io, own);
  io.progress?.('reading and laying');
  const known = new Map<Pending, LaidArtwork>();
  // The same artwork given twice is read and told of once, and lies on the sheet twice.
  for (const layer of new Set(layers)) known.set(layer, await layArtwork(layer, board, loaded, values, io));
  const each = layers.flatMap((layer) => known.get(layer) ?? []);
  const laid = each.flatMap((one) => Array.from({ length: values.copies ?? 1 }, () => one));
  const stencils = laid.map(({ stencil }) => stencil);
  const onDots = onWholeDots(stencils, model, pitch);
  const { bed, gauges } = (await findProject(io))?.project ?? {};
  const rows = { bed: values.sheetMm, rowMm: bed?.widthMm, spacingMm: values.spacingMm ?? 5 };
  const sheet = packSheet(stencils, { ...rows, onDots });
  const formats = values.format ?? (['png'] as const);
  io.progress?.('correcting');
  const { witness: coupon, ...made } = await commandSheet(
    ...([sheet, model, pitch, formats, values.witness && hasWitness(model), fieldOf(profile)] as const),
  );
  if (values.strict) {
    refuseNarrow(made.narrow);
    refuseFaults(made.faults, faultName);
  }
  const stem = sheetStem(layers, values.name);
  const { files: images, written } = await stencilFiles(stem, made, formats, {}, '.sheet');
  const job = { stem, sheet, made, laid, ...loaded, bed, values };
  const dryFit = await dryFitOf(job);
  const inDots = written.find(({ rounding }) => rounding);
  const warnings: Warning[] = eachOnce([
    ...board.warnings,
    ...laid.flatMap((one) => one.warnings),
    ...sheet.warnings,
    ...made.warnings,
    ...beyondBed(made.commanded.frame, model, bed, Number(values.rotate ?? 0)),
    ...faultWarnings(made.faults),
    ...profileWarnings(profile, largestOf(laid)),
    ...written.flatMap((one) => one.warnings),
    ...(made.commanded.dots ? pitchWarnings(profile, { pitchMm: pitch }) : []),
    ...coarseDots(inDots, pitch),
  ]);
  const report = reportOf(job, written, pitch, warnings);
  io.progress?.('drawing');
  const page = values.report ? await sheetReport(job, report, images) : [];
  const piece = coupon && (await witnessName(stem, values.out, io));
  const outputs = [images, dryFit.file, piece ? await witnessFiles(piece, coupon, values, gauges) : [], page].flat();
  const paths = await writeResults([...outputs, sheetSidecar(job, report, outputs)], values, io);
  // By its name alone it is found in the folder of the project only.
  const cut = piece && (io.run.answered.has('out') ? piece : join(values.out, `${piece}.readings.csv`));
  const witness = cut ? { cut, pieces: sheet.witnessesAt.length } : values.witness ? 'left out' : 'not wanted';
  if (values.json) printJson(report, io, roundedNumbers);
  else io.out(layoutWords(job, report, board, dryFit, witness));
  sayWarnings(warnings, io, undefined, listedIn(values));
  sayWrote(paths, io);
  sayCaution(io);
  return EXIT.done;
}

/** As wide and as high as the widest and the highest stencil of a sheet. */
function largestOf(laid: readonly { readonly box: Box | undefined }[]): Box {
  const side = (of: (box: Box) => number): number => Math.max(...laid.map(({ box }) => (box ? of(box) : 0)));
  return { minX: 0, minY: 0, maxX: side(({ minX, maxX }) => maxX - minX), maxY: side(({ minY, maxY }) => maxY - minY) };
}

function refuseNarrow(narrow: readonly NarrowOnSheet[]): void {
  if (narrow.length === 0) return;
  const [{ stencil, part, opening }] = narrow;
  throw new InputError({
    code: 'NARROWER_THAN_KERF',
    place: { file: stencil },
    message: `${narrow.length === 1 ? 'one part,' : `${narrow.length} parts, the first`} of ${part}${opening === undefined ? '' : ` ${opening}`}, ${narrow.length === 1 ? 'is' : 'are'} narrower than the kerf, and --strict was given.`,
    hint: 'Widen them in the artwork, or leave out --strict to keep them as the thinnest line.',
  });
}

/** The layers to be laid, and the options with the outline that lies beside them in an archive. */
async function begin(files: readonly string[], given: LayoutOptionValues, io: Io) {
  const layers = await layersNamed(files, io, (error) => {
    throw error;
  });
  refuseIdleOptions(layers, given, io);
  refuseDropOfMany(given.drop, new Set(layers).size);
  const own = outlineOf(layers, given);
  if (!own) return { layers, values: given, own };
  io.say(`note: ${visible(own.file)} is taken as the outline of the board; --outline or --board-mm says another.\n`);
  return { layers, values: { ...given, outline: own.file }, own };
}

/** The outline that lies in the one archive from which all layers are, unless another is given. */
function outlineOf(layers: readonly Pending[], { outline, boardMm }: LayoutOptionValues): Pending['outline'] {
  const files = new Set(layers.map((layer) => layer.outline?.file));
  return outline === undefined && boardMm === undefined && files.size === 1 ? layers[0].outline : undefined;
}

function pitchOf({ pitchMm, profile: file }: LayoutOptionValues, profile: Profile): PerAxis {
  const pitch = pitchMm ?? profile.pitchMm;
  if (pitch) return pitch;
  throw pitchUnknown(file, '--pitch-mm');
}

function refuseIdleOptions(layers: readonly Pending[], values: LayoutOptionValues, io: Io): void {
  const { boardAtMm, boardMm, holeMm, drill, spacingMm, copies = 1 } = values;
  refuseUnusedOptions([
    [
      boardAtMm !== undefined && !boardMm,
      '--board-at-mm',
      'it is not said how large the board is',
      'Give --board-mm too.',
    ],
    [holeMm !== undefined && !drill, '--hole-mm', 'there is no drill file to choose from', 'Give --drill too.'],
    idleThickness(values),
    [spacingMm !== undefined && layers.length * copies === 1, '--spacing-mm', 'there is one stencil only'],
  ]);
  refuseIdleArtworkOptions(values, layers, io);
}
