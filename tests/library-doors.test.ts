import { expect, it } from 'vitest';
import { listArchive } from '../src/artwork/archive/list-archive.js';
import { readDrill } from '../src/artwork/drill/read-drill.js';
import { readOutline } from '../src/artwork/gerber/read-outline.js';
import { readArtwork } from '../src/artwork/read.js';
import { findSuspicious } from '../src/artwork/suspicious.js';
import { parseFeatures } from '../src/coupon/parse-features.js';
import { InputError } from '../src/errors.js';
import { writeArtwork } from '../src/export/write.js';
import { logistic } from '../src/fit/window/logistic.js';
import { openingArea, openingCentroid, openingPerimeter } from '../src/geometry/area.js';
import { rectangle, solid } from '../src/geometry/shapes.js';
import { findHeat } from '../src/layout/heat.js';
import { layStencil } from '../src/layout/lay-stencil.js';
import { packSheet } from '../src/layout/pack.js';
import { correctOpenings } from '../src/machine/correct-openings.js';
import { machineModel } from '../src/machine/machine-model.js';
import { predictCut } from '../src/machine/predict-cut.js';
import { parseProfile } from '../src/machine/profile-file.js';
import { parseReadings } from '../src/readings/parse-readings.js';
import { checkOpenings } from '../src/rules/check.js';
import { readRules } from '../src/rules/treat/read-rules.js';
import { treatOpenings } from '../src/rules/treat/treat.js';
import { makeStencil, writeStencil } from '../src/stencil/make-stencil.js';

/** Doors of the library as a program without types calls them. */
type Door = (...given: unknown[]) => unknown;
const DOORS: Readonly<Record<string, Door>> = {
  ...{ listArchive, readDrill, readOutline, readArtwork, findSuspicious, parseFeatures, writeArtwork, logistic },
  ...{ openingArea, openingCentroid, openingPerimeter, findHeat, layStencil, packSheet, correctOpenings, machineModel },
  ...{ parseProfile, predictCut, parseReadings, checkOpenings, readRules, treatOpenings, makeStencil, writeStencil },
} as unknown as Record<string, Door>;

const GERBER = new TextEncoder().encode(
  '%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%%MOMM*%%ADD10R,0.5X0.6*%\nD10*X0Y0D03*X2000000Y0D03*\nM02*\n',
);
const MACHINE = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };
const openings = [solid(rectangle(0, 0, 1, 1))];
const artwork = { openings };
const pitchMm = { x: 0.0254, y: 0.0254 };
const stencil = makeStencil(artwork, MACHINE, { pitchMm });

it('takes what fetch gives', async () => {
  const given = GERBER.buffer.slice(0) as ArrayBuffer;
  expect((await readArtwork(given)).openings).toEqual((await readArtwork(GERBER)).openings);
});

it.each<[string, string, unknown[], RegExp]>([
  ['readArtwork', 'BAD_VALUE', [GERBER, { polarity: 'x' }], /"auto", "dark" or "light", found "x"/],
  ['readArtwork', 'BAD_VALUE', [GERBER, { side: 'botom' }], /"top" or "bottom", found "botom"/],
  ['readArtwork', 'BAD_VALUE', [GERBER, { dpi: '600' }], /a number.* found "600"/],
  ['readArtwork', 'BAD_VALUE', ['board.gbr'], /bytes of a file.* found "board.gbr"/],
  ['makeStencil', 'BAD_VALUE', [{ ...artwork, side: 'BOT' }, MACHINE, { pitchMm }], /"top" or "bottom", found "BOT"/],
  ['makeStencil', 'BAD_VALUE', [artwork, MACHINE, { pitchMm, mirror: 'maybe' }], /"yes" or "no", found "maybe"/],
  ['makeStencil', 'BAD_VALUE', [artwork, MACHINE, { pitchMm, rotateDeg: 45 }], /0, 90, 180 or 270, found 45/],
  ['makeStencil', 'BAD_VALUE', [artwork, MACHINE, { pitchMm, formats: ['PNG'] }], /each "png"/],
  ['makeStencil', 'BAD_VALUE', [artwork, MACHINE, { pitchMm, marginMm: Number.NaN }], /from 0 up, found NaN/],
  ['makeStencil', 'NOTHING_TO_CUT', [{ openings: [] }, MACHINE, { pitchMm }], /no openings/],
  ['writeStencil', 'BAD_VALUE', [stencil, { format: 'gif' }], /"grey-png", found "gif"/],
  ['writeStencil', 'BAD_VALUE', [stencil, {}], /found undefined/],
  ['writeArtwork', 'BAD_VALUE', [openings, { format: 'PNG', canvas: { widthMm: 9, heightMm: 9 } }], /found "PNG"/],
  ['correctOpenings', 'BAD_VALUE', [openings, MACHINE, { lineMm: Number.NaN }], /found NaN/],
  ['machineModel', 'BAD_PROFILE', [{ ...MACHINE, scaleX: '1' }], /scaleX.*expected a number/],
  ['packSheet', 'BAD_VALUE', [[], { spacingMm: 5 }], /a list of 0/],
  ['openingArea', 'BAD_OPENING', [{ outer: rectangle(0, 0, 1, 1) }], /islands: \[\]/],
])('%s refuses with %s: %j', async (door, code, given, message) => {
  const refused = await (async () => DOORS[door](...given))().catch((error: unknown) => error);
  expect(refused).toMatchObject({ name: 'InputError', code, message: expect.stringMatching(message) });
});

/** What programs hand over by mistake; each alone, in pairs, and behind what is right. */
const JUNK: readonly unknown[] = [
  undefined,
  null,
  Number.NaN,
  'x',
  {},
  [],
  [null],
  5,
  { openings: 5 },
  new ArrayBuffer(3),
];

it.each(Object.keys(DOORS))('%s calls nothing that it is given a bug of its own', async (name) => {
  const calls = [
    ...JUNK.flatMap((one) => [[one], ...JUNK.map((other) => [one, other])]),
    ...JUNK.flatMap((one) => [
      [openings, MACHINE, one],
      [openings, one],
      [artwork, MACHINE, one],
      [artwork, one],
    ]),
  ];
  const bugs: unknown[] = [];
  for (const given of calls) {
    const thrown = await (async () => DOORS[name](...given))().then(
      () => undefined,
      (error: unknown) => error,
    );
    if (thrown !== undefined && !(thrown instanceof InputError)) bugs.push([given, String(thrown)]);
  }
  expect(bugs).toEqual([]);
});
