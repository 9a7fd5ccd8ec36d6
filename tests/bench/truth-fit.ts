/**
 * How true the fit's statements are, on virtual machines: how often the 95 % intervals hold, how often right machines are
 * blamed, how often faulty ones are found. `npm run bench:truth:fit -- --cases 500 --seed 1000 --only coarse`; a small share of it is in `npm test`.
 */
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { fitSessions } from '../../src/fit/calibration/fit-sessions.js';
import type { CalibrationOptions, CalibrationResult } from '../../src/fit/calibration/types.js';
import type { ReadingSession } from '../../src/machine/types.js';
import { type Faults, type Gauge, type Machine, randomMachine, readFilm } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';

interface Sheet {
  readonly coupon: string;
  readonly features: readonly DimensionalFeature[];
}

export interface Scenario {
  readonly name: string;
  /** Of all that could be read on both sheets, what is. */
  readonly choose?: (sheets: readonly Sheet[], random: () => number) => readonly Sheet[];
  readonly gauge?: (feature: DimensionalFeature) => Gauge;
  /** Gauges that are other ones for each machine. */
  readonly drawn?: (random: () => number) => (feature: DimensionalFeature) => Gauge;
  readonly options?: CalibrationOptions;
  readonly faults?: Faults;
  /** Code of the warning that names the fault. */
  readonly finds?: string;
  /** How its sentence names the cause, the first number in it the size, and the true size in that unit. */
  readonly says?: readonly [words: RegExp, size: number];
}

export interface Truth {
  readonly name: string;
  readonly cases: number;
  /** For each of the five: how often the true value lies in the interval, of those not assumed. */
  readonly covered: readonly number[];
  /** For each of the five: how often it is assumed. */
  readonly assumed: readonly number[];
  /** How often readings are blamed, or a fault is named (another one than there is). */
  readonly blamed: number;
  readonly named: number;
  readonly found: number;
  /** How often the sentence names the right cause and a size within a third of the true one, of those found. */
  readonly told: number;
  /** How often the command would say that something is to be looked at, whatever it is (exit code 3 or 2). */
  readonly alarmed: number;
  /** What was said, and how often. */
  readonly said: ReadonlyMap<string, number>;
  /** How often the fit refused the readings. */
  readonly refused: number;
}

const BED = { widthMm: 150, heightMm: 100 };
const careful: Gauge = { noiseMm: 0.005, resolutionMm: 0.01 };

export async function sheets(): Promise<Sheet[]> {
  return Promise.all(
    ['scale-ruler', 'aperture-ladder'].map(async (coupon) => {
      const { features } = await generateCoupon(coupon, { ...BED, pitchXMm: 0.0254 });
      return { coupon, features: features.features.filter((f): f is DimensionalFeature => 'from' in f) };
    }),
  );
}

function some(count: number): Scenario['choose'] {
  return (all, random) => {
    const pool = all.flatMap(({ coupon, features }) => features.map((feature) => ({ coupon, feature })));
    const taken = Array.from({ length: count }, () => pool.splice(Math.floor(random() * pool.length), 1)[0]);
    return all.map(({ coupon }) => ({
      coupon,
      features: taken.filter((one) => one.coupon === coupon).map(({ feature }) => feature),
    }));
  };
}

/** Six long spans and diagonals, two rows of the ladder. */
const plain25: Scenario['choose'] = ([ruler, ladder]) => {
  const slanted = (f: DimensionalFeature): boolean => f.from[0] !== f.to[0] && f.from[1] !== f.to[1];
  const along = (axis: 0 | 1) => (f: DimensionalFeature) => !slanted(f) && f.from[axis] !== f.to[axis];
  const longest = (pool: readonly DimensionalFeature[], count: number) =>
    [...pool].sort((a, b) => b.nominalMm - a.nominalMm).slice(0, count);
  const rows = (axis: 0 | 1, kind: string, count: number) =>
    ladder.features.filter((f) => f.kind === kind && along(axis)(f) && f.nominalMm >= 0.3).slice(0, count);
  return [
    {
      ...ruler,
      features: [
        ...longest(ruler.features.filter(along(0)), 3),
        ...longest(ruler.features.filter(along(1)), 3),
        ...longest(ruler.features.filter(slanted), 6),
      ],
    },
    {
      ...ladder,
      features: [0, 1].flatMap((axis) => [...rows(axis as 0 | 1, 'opening', 4), ...rows(axis as 0 | 1, 'web', 3)]),
    },
  ];
};

const firstRows: Scenario['choose'] = (all) =>
  all.map((sheet) => ({ ...sheet, features: sheet.features.slice(0, 12) }));

const byKind =
  (span: Gauge, width: Gauge) =>
  (feature: DimensionalFeature): Gauge =>
    feature.kind === 'span' ? span : width;

const within = (limitMm: number, random: () => number): number => limitMm * (2 * random() - 1);

/** Two gauges, whose zeros lie anywhere within what the fit takes for granted, in hands between steady and shaky. */
const anyTwo: Scenario['drawn'] = (random) => {
  const any = (): Gauge => ({ ...careful, noiseMm: 0.0025 * 8 ** random(), zeroMm: within(0.02, random) });
  return byKind(any(), any());
};

const [W, H] = [BED.widthMm, BED.heightMm];
const centred = (x: number, y: number): [number, number] => [x - W / 2, y - H / 2];

export const SCENARIOS: readonly Scenario[] = [
  { name: 'full sheets, 5 µm' },
  { name: 'full sheets, 2 µm at 0.001', gauge: () => ({ noiseMm: 0.002, resolutionMm: 0.001 }) },
  { name: 'full sheets, 20 µm', gauge: () => ({ noiseMm: 0.02, resolutionMm: 0.01 }) },
  { name: 'the plain 25', choose: plain25 },
  { name: 'random 12', choose: some(12) },
  {
    name: 'random 12, all by one gauge that is named',
    choose: some(12),
    gauge: () => ({ ...careful, name: 'microscope' }),
  },
  { name: 'random 24', choose: some(24) },
  { name: 'any two gauges, random 12', choose: some(12), drawn: anyTwo },
  { name: 'any two gauges, random 24', choose: some(24), drawn: anyTwo },
  { name: 'first 12 rows of each', choose: firstRows },
  {
    name: 'two gauges, 20 and 5 µm',
    gauge: byKind({ noiseMm: 0.02, resolutionMm: 0.01 }, careful),
  },
  {
    name: 'two gauges, random 24',
    choose: some(24),
    gauge: byKind({ noiseMm: 0.02, resolutionMm: 0.01 }, careful),
  },
  {
    name: 'coarse: widths at 0.05',
    gauge: byKind(careful, { noiseMm: 0.005, resolutionMm: 0.05 }),
  },
  { name: 'coarse: all at 0.02, 5 µm of hand', gauge: () => ({ noiseMm: 0.005, resolutionMm: 0.02 }) },
  { name: 'coarse: all at 0.05, 10 µm of hand', gauge: () => ({ noiseMm: 0.01, resolutionMm: 0.05 }) },
  { name: 'coarse: all at 0.05, 20 µm of hand', gauge: () => ({ noiseMm: 0.02, resolutionMm: 0.05 }) },
  { name: 'coarse: a plastic caliper at 0.1, 30 µm of hand', gauge: () => ({ noiseMm: 0.03, resolutionMm: 0.1 }) },
  { name: 'coarse: a plastic caliper at 0.1, 10 µm of hand', gauge: () => ({ noiseMm: 0.01, resolutionMm: 0.1 }) },
  {
    name: 'coarse: spans at 0.1, widths by a loupe at 0.02',
    gauge: byKind({ noiseMm: 0.03, resolutionMm: 0.1 }, { noiseMm: 0.008, resolutionMm: 0.02 }),
  },
  {
    name: 'coarse: spans at 0.01, widths by a loupe at 0.1',
    gauge: byKind(careful, { noiseMm: 0.03, resolutionMm: 0.1 }),
  },
  { name: 'robust, full sheets', options: { robust: true } },
  { name: 'robust, random 24', options: { robust: true }, choose: some(24) },
  {
    name: 'zero of the loupe to ± 20 µm',
    drawn: (random) => byKind(careful, { ...careful, zeroMm: within(0.02, random) }),
  },
  {
    name: 'zero of the caliper to ± 20 µm',
    drawn: (random) => byKind({ ...careful, zeroMm: within(0.02, random) }, careful),
  },
  {
    name: 'limit 30 µm stated, zero within',
    drawn: (random) => byKind({ ...careful, zeroMm: within(0.03, random) }, careful),
    options: { gaugeLimitMm: 0.03 },
  },
  {
    name: 'barrel 0.1 %',
    finds: 'FIELD_BARREL',
    // The coupons' edges lie 5 mm within the bed.
    says: [/^the scale falls from the middle of the bed to its corners by ([\d.]+) % \(barrel\)/, 0.255],
    faults: {
      place: (x, y) => {
        const [a, b] = centred(x, y);
        const r2 = (a * a + b * b) / ((W / 2) ** 2 + (H / 2) ** 2);
        return [-0.001 * a * r2, -0.001 * b * r2];
      },
    },
  },
  {
    name: 'sine belt 0.1 %, 40 mm',
    finds: 'FIELD_WAVES',
    says: [/^places along X come and go by ± (\d+) µm every (?:3[4-9]|4[0-6]) mm or so/, 6.4],
    faults: { place: (x) => [((0.001 * 40) / (2 * Math.PI)) * Math.sin((2 * Math.PI * x) / 40 + 1), 0] },
  },
  {
    name: 'sine belt 0.1 %, 100 mm',
    finds: 'FIELD_WAVES',
    says: [/^places along X come and go by ± (\d+) µm every (?:8[5-9]|9\d|1[01]\d) mm or so/, 15.9],
    faults: { place: (x) => [((0.001 * 100) / (2 * Math.PI)) * Math.sin((2 * Math.PI * x) / 100 + 1), 0] },
  },
  {
    name: 'sine belt 0.1 %, 80 mm along Y',
    finds: 'FIELD_WAVES',
    says: [/^places along Y come and go by ± (\d+) µm every (?:6[5-9]|[78]\d|9[0-5]) mm or so/, 12.7],
    faults: { place: (_x, y) => [0, ((0.001 * 80) / (2 * Math.PI)) * Math.sin((2 * Math.PI * y) / 80 + 1)] },
  },
  {
    name: 'kerf left to right 50 µm',
    finds: 'KERF_ACROSS_BED',
    says: [/^cuts are (\d+) µm wider at the right end of the bed than at the left/, 47],
    faults: { kerf: (x) => 0.05 * (x / W - 0.5) },
  },
  {
    name: 'kerf across X alone left to right 50 µm',
    finds: 'KERF_ACROSS_BED',
    says: [/^cuts across X are (\d+) µm wider at the right end of the bed than at the left/, 47],
    faults: { kerf: (x) => [0.05 * (x / W - 0.5), 0] },
  },
  {
    name: 'openings to 0.4 mm 10 µm less',
    finds: 'KERF_BY_SIZE',
    says: [/^openings told 0\.4\d? mm wide or less come out (\d+) µm narrower/, 10],
    faults: { kerf: (_x, _y, f) => (f.kind === 'opening' && f.nominalMm < 0.42 ? -0.01 : 0) },
  },
  {
    name: 'openings to 0.3 mm 10 µm less',
    finds: 'KERF_BY_SIZE',
    says: [/^openings told 0\.3 mm wide or less come out (\d+) µm narrower/, 10],
    faults: { kerf: (_x, _y, f) => (f.kind === 'opening' && f.nominalMm < 0.32 ? -0.01 : 0) },
  },
  {
    name: 'webs to 0.3 mm melt by 30 µm',
    finds: 'KERF_BY_SIZE',
    says: [/^webs told 0\.3 mm wide or less come out (\d+) µm narrower/, 30],
    faults: { kerf: (_x, _y, f) => (f.kind === 'web' && f.nominalMm < 0.32 ? 0.03 : 0) },
  },
  {
    name: 'kerf 50 µm wider at the rim',
    finds: 'KERF_ACROSS_BED',
    says: [/^cuts are (\d+) µm wider at the corners of the bed than at the middle/, 47],
    // The mean over the part of the bed that the coupons fill is 0.
    faults: { kerf: (x, y) => 0.1 * ((x / W - 0.5) ** 2 + (y / H - 0.5) ** 2) - 0.01476 },
  },
  {
    name: 'X slips by 60 µm at 50 mm of Y',
    finds: 'FIELD_SLIPS',
    says: [/^from Y = (?:\d|[1-4]\d) to [5-7]\d mm on everything lies (\d+) µm too far right/, 60],
    faults: { place: (_x, y) => [y > 50 ? 0.06 : 0, 0] },
  },
  {
    name: 'Y slips by 60 µm at 50 mm',
    finds: 'FIELD_SLIPS',
    says: [/^from Y = (?:\d|[1-4]\d) to [5-7]\d mm on everything lies (\d+) µm too far down/, 60],
    faults: { place: (_x, y) => [0, y > 50 ? -0.06 : 0] },
  },
  {
    name: 'squares 10 µm less',
    finds: 'SHAPES_DIFFER',
    says: [/^squares come out (\d+) µm narrower than slots/, 10],
    faults: { kerf: (_x, _y, f) => (/^Square/.test(f.say) ? -0.01 : 0) },
  },
  {
    name: 'circles 15 µm more across X',
    finds: 'SHAPES_DIFFER',
    says: [/^circles come out (\d+) µm wider across X than slots/, 15],
    faults: { kerf: (_x, _y, f) => [/^Circle/.test(f.say) ? 0.015 : 0, 0] },
  },
  {
    name: 'ruler cut at more power, 20 µm',
    finds: 'KERF_BY_COUPON',
    says: [/^cuts of aperture-ladder are (\d+) µm narrower than those of scale-ruler/, 20],
    faults: { kerf: (_x, _y, f) => (f.id.startsWith('R') ? 0.02 : 0) },
  },
];

export function truthOf(scenario: Scenario, all: readonly Sheet[], cases: number, seed: number): Truth {
  const { choose, gauge = () => careful, drawn, options, faults, finds, says } = scenario;
  const random = seeded(seed);
  const hits = [0, 0, 0, 0, 0];
  const assumed = [0, 0, 0, 0, 0];
  let [blamed, named, found, told, refused, alarmed] = [0, 0, 0, 0, 0, 0];
  const said = new Map<string, number>();
  for (let c = 0; c < cases; c += 1) {
    const machine: Machine = randomMachine(random);
    const gaugeFor = drawn?.(random) ?? gauge;
    const chosen = (choose?.(all, random) ?? all).filter(({ features }) => features.length > 0);
    const sessions = chosen.map(
      ({ coupon, features }): ReadingSession => ({
        coupon,
        features,
        readings: readFilm(features, machine, random, gaugeFor, faults),
      }),
    );
    let result: CalibrationResult;
    try {
      result = fitSessions(sessions, options);
    } catch {
      refused += 1;
      continue;
    }
    result.parameters.forEach((one, k) => {
      if (one.assumed) assumed[k] += 1;
      else if (one.interval95[0] <= machine[k] && machine[k] <= one.interval95[1]) hits[k] += 1;
    });
    if (result.flagged.length > 0) blamed += 1;
    const codes = result.warnings
      .map(({ code }) => code)
      .filter((code) => /FIELD|KERF_A|KERF_BY|SHAPES|CONSTANT|GAUGE_ZERO/.test(code));
    if (finds !== undefined && codes.includes(finds)) found += 1;
    const size = says && result.warnings.flatMap(({ message }) => says[0].exec(message)?.[1] ?? []).map(Number)[0];
    if (says && size !== undefined && Math.abs(size / says[1] - 1) < 1 / 3) told += 1;
    if (codes.some((code) => code !== finds)) named += 1;
    for (const code of codes) said.set(code, (said.get(code) ?? 0) + 1);
    if (alarms(result)) alarmed += 1;
  }
  const done = cases - refused;
  return {
    name: scenario.name,
    cases,
    covered: hits.map((count, k) => count / Math.max(1, done - assumed[k])),
    assumed: assumed.map((count) => count / Math.max(1, done)),
    blamed: blamed / Math.max(1, done),
    named: named / Math.max(1, done),
    found: found / Math.max(1, done),
    told: told / Math.max(1, found),
    alarmed: alarmed / Math.max(1, done),
    said,
    refused: refused / cases,
  };
}

/** What makes `apertrue fit` end with another exit code than 0. */
function alarms({ flagged, undecided, faults, gauges }: CalibrationResult): boolean {
  return flagged.length > 0 || undecided || faults.some(({ found }) => found) || gauges.some(({ zeroOff }) => zeroOff);
}

function truthRow({ name, covered, assumed, blamed, named, found, told, alarmed, refused, said }: Truth): string {
  const percent = (share: number): string => (100 * share).toFixed(1).padStart(6);
  const words = [...said].map(([code, count]) => `${code} ${count}`).join(' ');
  return `${name.padEnd(34)} ${covered.map(percent).join('')}  |${assumed.map(percent).join('')}  |${[blamed, named, found, told, alarmed, refused].map(percent).join('')}  ${words}`;
}

const isMain = process.argv[1]?.endsWith('truth-fit.ts') ?? false;
if (isMain) {
  const option = (name: string): string | undefined => {
    const at = process.argv.indexOf(`--${name}`);
    return at > 0 ? process.argv[at + 1] : undefined;
  };
  const cases = Number(option('cases') ?? 500);
  const seed = Number(option('seed') ?? 1000);
  const only = new RegExp(option('only') ?? '');
  const all = await sheets();
  process.stdout.write(
    '%: covered sx sy sh kx ky | assumed sx sy sh kx ky | readings blamed, fault named, fault found, of these told rightly, any alarm, refused\n',
  );
  SCENARIOS.forEach((scenario, i) => {
    if (!only.test(scenario.name)) return;
    process.stdout.write(`${truthRow(truthOf(scenario, all, cases, seed + i))}\n`);
  });
}
