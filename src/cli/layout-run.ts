import { basename, join } from 'node:path';
import { readArtwork } from '../artwork/read.js';
import { commandedKerf } from '../correct/machine-map.js';
import { InputError, inFile, type Warning } from '../errors.js';
import type { Written } from '../export/types.js';
import { isRaster, writeArtwork } from '../export/write.js';
import { mapOpenings, mapPoint, mapRing } from '../geometry/affine.js';
import type { Affine } from '../geometry/types.js';
import { findHeat } from '../layout/heat.js';
import { layStencil } from '../layout/lay-stencil.js';
import { packSheet } from '../layout/pack.js';
import type { Hole, LaidStencil, Sheet, StencilRequest } from '../layout/types.js';
import { machineModel } from '../profile/machine-model.js';
import type { MachineModel, Profile } from '../profile/types.js';
import { dryFitPdf } from '../report/dry-fit.js';
import { readOptionsOf } from './artwork-options.js';
import { isMirrored, laying, type Turn } from './commanded.js';
import { ENDINGS } from './correct-job.js';
import { CAUTION } from './correct-words.js';
import { refuseExisting } from './existing-files.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { refuseFilledReadings } from './filled-readings.js';
import { type Begun, formatOf, refuseIdle, refuseIdleArtworkOptions } from './idle-options.js';
import type { Io } from './io.js';
import type { LayoutOptionValues } from './layout.js';
import { type Board, readBoard } from './layout-board.js';
import { correctSheet, hasWitness, WITNESS_MM, witnessOpenings } from './layout-told.js';
import { layoutWords } from './layout-words.js';
import { loadProfile } from './load-profile.js';
import { rulesText } from './load-rules.js';
import { roundedNumbers, sha256 } from './sidecar.js';
import { treatStep } from './treat-step.js';

export async function runLayout(files: readonly string[], values: LayoutOptionValues, io: Io): Promise<ExitCode> {
  refuseIdle([
    [
      values.boardAtMm !== undefined && !values.boardMm,
      '--board-at-mm',
      'it is not said how large the board is',
      'Give --board-mm too.',
    ],
    [
      values.holeMm !== undefined && !values.drill,
      '--hole-mm',
      'there is no drill file to choose from',
      'Give --drill too.',
    ],
    [
      values.thicknessMm !== undefined && !values.rules,
      '--thickness-mm',
      'it is for the rules, and there are none',
      'Give --rules too.',
    ],
    [
      values.spacingMm !== undefined && files.length * (values.copies ?? 1) === 1,
      '--spacing-mm',
      'there is one stencil only',
    ],
  ]);
  const begun = files.map(async (file): Promise<Begun> => ({ file, format: await formatOf(file, io) }));
  refuseIdleArtworkOptions(values, await Promise.all(begun), io);
  const { profile, bytes: profileBytes } = await loadProfile(values.profile, io);
  const pitch = values.pitchMm ?? profile.pitchMm;
  if (!pitch) {
    throw new InputError({
      code: 'PITCH_UNKNOWN',
      place: { file: values.profile },
      message: 'neither the profile nor the options say the pitch of the dots.',
      hint: 'Give --pitch-mm, the same as for the coupon.',
    });
  }
  const model = machineModel(profile);
  const board = await readBoard(values, io);
  const stencils: LaidStencil[] = [];
  const warnings: Warning[] = [...board.warnings];
  const sources: { file: string; sha256: string; openings: number }[] = [];
  for (const file of files) {
    const laid = await stencilOf(file, board, profile, model, values, io);
    warnings.push(...laid.warnings.map((w) => ({ ...w, place: { file, ...w.place } })));
    sources.push(laid.source);
    for (let copy = 0; copy < (values.copies ?? 1); copy += 1) stencils.push(laid.stencil);
  }
  const sheet = packSheet(stencils, { bed: values.sheetMm, spacingMm: values.spacingMm ?? 5 });
  warnings.push(...sheet.warnings);
  const formats = values.format ?? ['png'];
  const told = correctSheet(sheet, model, pitch, formats);
  const witnesses = values.witness && hasWitness(model) ? await witnessOpenings(sheet, model, pitch) : undefined;
  const stem = values.name ? values.name.replace(/[^\w.-]+/g, '-') : basename(files[0]).replace(/\.[^.]+$/, '');
  const outputs: { name: string; bytes: Uint8Array }[] = [];
  const written: Written[] = [];
  for (const format of formats) {
    const result = await writeArtwork(
      [...(isRaster(format) ? told.dots : told.paths), ...(witnesses?.openings ?? [])],
      {
        format,
        canvas: told.canvas,
        originMm: told.originMm,
        pitchMm: pitch,
        kerfMm: commandedKerf(model),
        title: stem,
      },
    );
    written.push(result);
    outputs.push({ name: `${stem}.sheet${ENDINGS[format]}`, bytes: result.bytes });
  }
  const dryFit = await dryFitPdf(
    {
      title: `${stem}: dry fit on paper`,
      widthMm: sheet.widthMm,
      heightMm: sheet.heightMm,
      openings: sheet.openings.map(({ opening }) => opening),
      outlines: sheet.outlines,
      pieces: sheet.pieces,
    },
    {
      paper: values.paper ?? 'a4',
      ...(values.printedMm ? { printedMm: { x: values.printedMm.widthMm, y: values.printedMm.heightMm } } : {}),
    },
  );
  outputs.push({ name: `${stem}.dry-fit.pdf`, bytes: dryFit.bytes });
  if (witnesses) {
    const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
    outputs.push({
      name: `${stem}.witness.features.json`,
      bytes: encode(`${JSON.stringify(witnesses.features, null, 2)}\n`),
    });
    outputs.push({ name: `${stem}.witness.readings.csv`, bytes: encode(witnesses.readings) });
  }
  const narrow = told.narrow.length;
  const report = {
    stencils: sheet.pieces.map(({ name, at, widthMm, heightMm }) => ({ name, atMm: at, widthMm, heightMm })),
    sheetMm: { widthMm: sheet.widthMm, heightMm: sheet.heightMm },
    canvas: {
      widthMm: told.canvas.widthMm,
      heightMm: told.canvas.heightMm,
      widthPx: written.find((w) => w.widthPx)?.widthPx,
      heightPx: written.find((w) => w.heightPx)?.heightPx,
      pitchXMm: pitch.x,
      pitchYMm: pitch.y,
    },
    counts: countParts(sheet),
    narrow: told.narrow,
    warnings,
  };
  const job = {
    format: 'apertrue-job',
    version: 1,
    sources,
    profile: { name: profile.name, sha256: sha256(profileBytes) },
    parameters: {
      ...values,
      profile: undefined,
      out: undefined,
      outline: values.outline && basename(values.outline),
      drill: values.drill && basename(values.drill),
      overwrite: undefined,
      json: undefined,
    },
    ...report,
    warnings: warnings.map((w) => ({
      ...w,
      place: w.place?.file ? { ...w.place, file: basename(w.place.file) } : w.place,
    })),
    outputs: outputs.map(({ name, bytes }) => ({ name, sha256: sha256(bytes) })),
  };
  outputs.push({
    name: `${stem}.sheet.job.json`,
    bytes: new TextEncoder().encode(`${JSON.stringify(job, roundedNumbers, 2)}\n`),
  });
  await writeAll(outputs, values, io);
  if (values.json) io.out(`${JSON.stringify(report, roundedNumbers, 2)}\n`);
  else
    io.say(
      layoutWords(
        sheet,
        report,
        dryFit.ownSize,
        pitch,
        outputs.map(({ name }) => join(values.out, name)),
        witnesses !== undefined,
        values,
      ),
    );
  if (!values.json) io.say(CAUTION);
  return narrow > 0 || warnings.length > 0 ? EXIT.findings : EXIT.done;
}

async function writeAll(
  outputs: readonly { name: string; bytes: Uint8Array }[],
  values: LayoutOptionValues,
  io: Io,
): Promise<void> {
  const paths = outputs.map(({ name }) => join(values.out, name));
  await refuseFilledReadings(paths, io);
  if (!values.overwrite) await refuseExisting(paths, io);
  for (const { name, bytes } of outputs)
    await io.writeFile(join(values.out, name), bytes, { overwrite: values.overwrite === true });
}

async function stencilOf(
  file: string,
  board: Board,
  profile: Profile,
  model: MachineModel,
  values: LayoutOptionValues,
  io: Io,
): Promise<{ stencil: LaidStencil; warnings: Warning[]; source: { file: string; sha256: string; openings: number } }> {
  const bytes = await io.readFile(file);
  try {
    const artwork = await readArtwork(bytes, readOptionsOf(values, file));
    const rules =
      values.rules === undefined
        ? undefined
        : { ...(await rulesText(values.rules, io)), thicknessMm: values.thicknessMm };
    const treated = await treatStep(artwork, bytes, rules, profile);
    const mirrored = isMirrored(values.mirror, artwork.side);
    const map = laying(mirrored, Number(values.rotate ?? 0) as Turn);
    const side = artwork.side ?? '';
    const film = [profile.film?.kind, profile.film?.thicknessMm === undefined ? '' : `${profile.film.thicknessMm} mm`]
      .filter(Boolean)
      .join(' ');
    const request: StencilRequest = {
      name: values.name ?? basename(file).replace(/\.[^.]+$/, ''),
      openings: mapOpenings(map, treated.openings),
      ...(board.outline ? { outline: board.outline.map((ring) => mapRing(map, ring)) } : {}),
      holes: board.holes.map((hole) => mapHole(map, hole)),
      words: [
        [values.name ?? basename(file).replace(/\.[^.]+$/, ''), side].filter(Boolean).join(' '),
        [film, profile.name, values.date].filter(Boolean).join(' '),
      ],
      cornerMarks: values.marks,
      outlineTicks: values.ticks === true,
      marginMm: values.marginMm ?? 15,
      ...(values.handle ? { handle: values.handle } : {}),
      witnessMm: values.witness && hasWitness(model) ? WITNESS_MM * Math.max(model.scaleX, model.scaleY) : 0,
      letteringMm: values.letteringMm ?? 2.5,
      kerfMm: Math.max(model.kerfXMm, model.kerfYMm),
    };
    const stencil = layStencil(request);
    return {
      stencil,
      warnings: [...artwork.warnings, ...treated.warnings, ...findHeat(treated.openings)],
      source: {
        file: basename(file),
        sha256: sha256(bytes),
        openings: treated.openings.length,
        ...(treated.mark ? { rules: treated.mark } : {}),
      },
    };
  } catch (error) {
    throw error instanceof InputError ? inFile(error, file) : error;
  }
}

function mapHole(map: Affine, { x, y, diameterMm, slotTo }: Hole): Hole {
  const [mx, my] = mapPoint(map, [x, y]);
  return { x: mx, y: my, diameterMm, ...(slotTo ? { slotTo: mapPoint(map, slotTo) } : {}) };
}

function countParts(sheet: Sheet): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { part } of sheet.openings) counts[part] = (counts[part] ?? 0) + 1;
  return counts;
}
