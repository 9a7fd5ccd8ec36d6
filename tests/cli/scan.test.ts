import { expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import { type Picture, scanFilm, type Vec, type VirtualScan } from '../scan/virtual-scanner.js';
import { bench, profileOf } from './bench.js';
import { type Pad, padsSvg, SCANNER, scannedPng } from './scanned.js';

const MACHINE = { scaleX: 1.0031, scaleY: 0.9968, shear: 0.002, kerfXMm: 0.1, kerfYMm: 0.08 };

const desk = bench({}, { once: true });

async function put(name: string, picture: Picture, dpi: number | 'unsaid'): Promise<void> {
  desk.put(name, await scannedPng(picture, { dpi }));
}

it('reads a witness from two scans, and the fit takes the readings as they are', async () => {
  const coupon = await generateCoupon('witness', { widthMm: 40, heightMm: 30, pitchXMm: 0.0254 });
  desk.put('witness.features.json', JSON.stringify(coupon.features));
  const film = { openings: coupon.openings, machine: MACHINE };
  const scans: [string, Partial<VirtualScan>][] = [
    ['a.png', { turnDeg: 1.3, atMm: [2, 1.5] }],
    ['b.png', { turnDeg: 91, atMm: [14, 1.5] }],
  ];
  for (const [name, over] of scans) {
    await put(
      name,
      scanFilm(film, { ...SCANNER, dpi: 800, widthMm: 16, heightMm: 16, turnDeg: 0, atMm: [0, 0], ...over }),
      800,
    );
  }
  const features = ['--features', 'witness.features.json'];
  const span = coupon.features.features.find(({ id }) => id === 'WA0-1');
  const nominal = span && 'nominalMm' in span ? span.nominalMm : 0;
  const reference = ['--reference', `WA0-1=${(nominal * MACHINE.scaleX).toFixed(4)}`, '--gauge-limit-mm', '0.002'];
  const pictures = ['a.png', 'b.png'];
  const { code, out, said } = await desk.run('scan', ...pictures, ...features, ...reference, '--out', 'read');
  expect(`${code} ${said}`).toMatch(/^[03] /);
  expect(Math.max(...out.split('\n').map(({ length }) => length))).toBeLessThanOrEqual(80);
  expect(out).toContain('witness: 12 of 12 features in 2 pictures');
  expect(desk.list('read')).toEqual([
    'a.scan.png',
    'b.scan.png',
    'scan.html',
    'witness.features.json',
    'witness.readings.csv',
  ]);
  expect(said).toMatch(
    /^next: look at read.scan\.html, then: apertrue fit read.witness\.readings\.csv --add-to laser\.profile\.json --out laser\.profile\.json --overwrite$/m,
  );
  expect(desk.text('read/scan.html')).not.toMatch(/(?:src|href)="http/);
  await desk.run('scan', 'a.png', ...features, '--out', 'one');
  // A sentence of its own begins like one.
  expect(desk.text('one/scan.html')).toContain('>Each film lies in one direction only');
  const fit = await desk.run('fit read/witness.readings.csv --json');
  const { fit: found, profile } = JSON.parse(fit.out);
  for (const [name, value, room] of [
    ['scaleX', MACHINE.scaleX, 4e-4],
    ['scaleY', MACHINE.scaleY, 4e-4],
    ['kerfXMm', MACHINE.kerfXMm, 0.002],
    ['kerfYMm', MACHINE.kerfYMm, 0.002],
  ] as const) {
    expect(Math.abs(found[name].value - value), name).toBeLessThan(room);
    expect(Math.abs(found[name].value - value), name).toBeLessThan(4 * found[name].stdUncertainty);
  }
  // The reference's doubt of 2 um in 11 mm is in the scale however many spans there are.
  expect(found.scaleX.stdUncertainty).toBeGreaterThan(8e-5);
  expect(profile.sessions?.[0]?.gaugeLimitsMm ?? profile).toBeDefined();

  // What a scan measured can be measured again; what somebody typed can't be had again.
  const again = [...features, '--out', 'read', '--overwrite'];
  const bare = await desk.run('scan', pictures[0], ...again, '--json');
  expect(bare.code).toBe(3);
  expect(JSON.parse(bare.out).warnings.map((one: { code: string }) => one.code)).toEqual([
    'SCAN_NO_SCALE',
    'SCAN_NOT_TURNED',
  ]);
  const typed = desk.text('read/witness.readings.csv');
  desk.put('read/witness.readings.csv', typed.replace(/^(WA0-1,[^,]*,),[^,\n]*/m, '$1,'));
  expect(await desk.run('scan', pictures[0], ...again)).toMatchObject({
    code: 2,
    said: expect.stringContaining('holds readings, which are never replaced'),
  });
  const wrong = await desk.run('scan', pictures[0], ...features, '--reference', 'WA0-2=10.9', '--out', 'no');
  expect(wrong).toMatchObject({ code: 2, said: expect.stringContaining('no features file has a length "WA0-2"') });
  const far = await desk.run('scan', pictures[0], ...features, '--reference', 'WA0-1=20', '--out', 'no', '--json');
  expect(JSON.parse(far.out).error.code).toBe('SCAN_REFERENCE');
  // The second picture is of another film, cut wider.
  const wider = { ...film, machine: { ...MACHINE, kerfXMm: 0.14 } };
  const turned = { ...SCANNER, dpi: 800, widthMm: 16, heightMm: 16, turnDeg: 91, atMm: [14, 1.5] as const };
  await put('other.png', scanFilm(wider, turned), 800);
  const two = await desk.run('scan', 'a.png', 'other.png', ...features, ...reference, '--out', 'two', '--json');
  expect(two.code).toBe(3);
  expect(JSON.parse(two.out).warnings.map((one: { code: string }) => one.code)).toContain('SCAN_OTHER_FILM');
  const rule = ['--reference', 'rule=1mm', '--out', 'no', '--json'];
  expect(JSON.parse((await desk.run('scan', pictures[0], ...features, ...rule)).out).error.code).toBe('SCAN_NO_RULE');
});

it('says what clear film can not tell, and which coupon is missing', async () => {
  const coupon = await generateCoupon('witness', { widthMm: 40, heightMm: 30, pitchXMm: 0.0254 });
  const ruler = await generateCoupon('scale-ruler', { widthMm: 80, heightMm: 60, pitchXMm: 0.0254 });
  desk.put('scale-ruler.features.json', JSON.stringify(ruler.features));
  const walls = {
    ...SCANNER,
    dpi: 1200,
    film: 210,
    open: 60,
    wallLineMm: 0.03,
    widthMm: 16,
    heightMm: 16,
    turnDeg: 1,
    atMm: [2, 1.5],
  } as const;
  await put('clear.png', scanFilm({ openings: coupon.openings, machine: MACHINE }, walls), 1200);
  const features = ['--features', 'witness.features.json', 'scale-ruler.features.json'];
  const clear = await desk.run('scan clear.png', ...features, '--out', 'clear', '--json');
  const { warnings, coupons } = JSON.parse(clear.out);
  const codes = warnings.map((one: { code: string }) => one.code);
  expect(codes).toEqual(expect.arrayContaining(['SCAN_WALLS', 'SCAN_UNREAD', 'SCAN_COUPON_MISSING']));
  expect(coupons[0].readings.map((one: { feature: string }) => one.feature)).toEqual(['WA0-1', 'WB0-1']);
});

it('refuses pictures that it can not read, and writes nothing', async () => {
  const features = ['--features', 'witness.features.json'];
  const run = async (name: string): Promise<string> => {
    const { code, out } = await desk.run(`scan ${name}`, ...features, '--out', 'no', '--json');
    return `${code} ${JSON.parse(out).error.code}`;
  };
  desk.put('broken.png', desk.read('a.png').subarray(0, 20_000));
  expect(await run('broken.png')).toBe('2 SCAN_UNREADABLE');
  const plain = { widthPx: 700, heightPx: 700, levels: new Uint8Array(490_000).fill(200), dotsPerMm: { x: 47, y: 47 } };
  await put('empty.png', plain, 1200);
  expect(await run('empty.png')).toBe('2 SCAN_NO_COUPON');
  await put('unsized.png', plain, 'unsaid');
  expect(await run('unsized.png')).toBe('2 SCAN_NO_SIZE');
  expect(desk.list()).not.toContain('no');
});

it('finds the planted faults of a stencil and invents none', async () => {
  const pads: Pad[] = [];
  for (let i = 0; i < 8; i += 1) {
    pads.push([2 + 1.1 * i, 3, 0.35, 1.3], [2 + 1.1 * i, 8.2, 0.35, 1.3]);
    if (i % 2 === 0) pads.push([13 + 0.4 * i, 2 + 0.9 * i, 0.9, 0.6]);
    if (i % 3 === 0) pads.push([4 + 0.8 * i, 5.6, 1.4, 1.1]);
  }
  desk.put('board.svg', padsSvg(pads, 18, 12));
  desk.put('laser.profile.json', profileOf());
  await desk.run('correct board.svg --profile laser.profile.json --pitch-mm 0.05 --out stencils');
  const box = ([x, y, w, h]: Pad): { outer: Vec[] } => ({
    outer: [
      [x + 0.04, y + 0.04],
      [x + w - 0.04, y + 0.04],
      [x + w - 0.04, y + h - 0.04],
      [x + 0.04, y + h - 0.04],
    ],
  });
  const machine = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.08, kerfYMm: 0.08 };
  const scan: VirtualScan = {
    ...{ ...SCANNER, dpi: 600, widthMm: 22, heightMm: 17, turnDeg: -3, atMm: [2, 3] },
    ...{ specksPerCm2: 3, hairsPerCm2: 2, seed: 7 },
  };
  const shoot = (name: string, cut: readonly Pad[], over: Partial<VirtualScan> = {}): Promise<void> =>
    put(name, scanFilm({ openings: cut.map(box), machine }, { ...scan, ...over }), 600);
  const inspect = (name: string) => desk.run(`inspect ${name} --job stencils/board.job.json --out look-${name} --json`);
  await shoot('good.png', pads);
  const good = await inspect('good.png');
  expect(good.said).not.toContain('error');
  const { openings } = JSON.parse(good.out);
  expect(openings.filter((one: { faults: string[] }) => one.faults.length > 0)).toEqual([]);
  expect(good.code).toBe(0);

  const cut = [...pads];
  const bad = [0, 5, 9, 12, 16, 15, 17];
  const planted = bad.map((i) => pads[i]);
  cut[5] = [cut[5][0], cut[5][1], cut[5][2], 0.5 * cut[5][3]];
  cut[9] = [cut[9][0] - 0.06, cut[9][1], cut[9][2] + 0.12, cut[9][3]];
  cut[12] = [cut[12][0] + 0.1, cut[12][1], cut[12][2], cut[12][3]];
  cut[16] = [cut[16][0], cut[16][1], cut[16][2] * 0.7, cut[16][3]];
  cut.push([pads[15][0] + 0.3, 3.5, 0.9, 0.2]);
  cut.push([11, 9.5, 0.8, 0.6]);
  cut.splice(0, 1);
  await shoot('bad.png', cut);
  const found = await inspect('bad.png');
  expect(found.code).toBe(3);
  const [hole, ...more] = JSON.parse(found.out).notAskedFor;
  expect(more).toEqual([]);
  expect([hole.xMm, hole.yMm].map((value) => value.toFixed(1))).toEqual(['11.4', '9.8']);
  expect(desk.text('look-bad.png/bad.inspect.csv')).toMatch(/\nX1,not asked for,,0\.8/);
  const faulty = JSON.parse(found.out).openings.filter((one: { faults: string[] }) => one.faults.length > 0);
  expect(faulty).toHaveLength(planted.length);
  expect(faulty.map((one: { faults: string[] }) => one.faults[0]).sort()).toEqual([
    'bridged',
    'bridged',
    'missing',
    'out of place',
    'partly closed',
    'partly closed',
    'too large',
  ]);
  const folder = 'look-good.png';
  expect(await desk.run(`inspect good.png --job laser.profile.json --out ${folder} --overwrite --json`)).toMatchObject({
    code: 2,
    out: expect.stringContaining('INSPECT_JOB'),
  });
  expect(
    await desk.run(
      `inspect good.png --job stencils/board.job.json --artwork laser.profile.json --out ${folder} --overwrite --json`,
    ),
  ).toMatchObject({
    code: 2,
    out: expect.stringContaining('INSPECT_ARTWORK'),
    said: expect.stringContaining('its bytes differ'),
  });
  desk.put(
    'stencils/ruled.job.json',
    desk.text('stencils/board.job.json').replace('"mirrored"', '"rules": { "mark": "x" }, "mirrored"'),
  );
  await shoot('half.png', pads, { widthMm: 14 });
  const half = await desk.run(`inspect half.png --job stencils/ruled.job.json --out ${folder} --json`);
  expect(JSON.parse(half.out).warnings.map((one: { code: string }) => one.code)).toEqual([
    'INSPECT_RULES',
    'INSPECT_CUT_OFF',
  ]);
});
