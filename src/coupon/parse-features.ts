import { InputError } from '../errors.js';
import { linesByPath, parseJsonText } from '../schema/json-file.js';
import { nameOfFormat, wrongFile } from '../schema/our-files.js';
import type { CellFeature, DimensionalFeature, Feature, FeaturesFile, VernierFeature } from './features.js';
import { type Findings, type RecordReader, recordReader } from './record-reader.js';

/** nominalMm may differ from |to - from| by this much, mm: files from other programs may be rounded to 0.1 um. */
const NOMINAL_TOLERANCE_MM = 1e-3;

const KINDS = ['span', 'opening', 'web', 'cell', 'vernier'] as const;

/**
 * Reads a features file (contract 1). All problems are gathered; each names file, line and key.
 *
 * @param text - the file's text, JSON
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_VERSION, REPEATED_FEATURE, NOMINAL_MISMATCH
 * @example parseFeatures(JSON.stringify(ruler), 'scale-ruler.features.json').coupon // 'scale-ruler'
 */
export function parseFeatures(text: string, file: string): FeaturesFile {
  const raw = parseJsonText(text, file);
  const other = (raw as { format?: unknown } | null)?.format;
  if (other !== 'apertrue-features' && nameOfFormat(other) !== undefined) {
    const error = wrongFile(file, 'a features file of a coupon', text, 'BAD_VALUE');
    if (error) throw error;
  }
  const findings: Findings = { file, lines: linesByPath(text.replace(/^\uFEFF/, '')), problems: [] };
  const root = recordReader(raw, '', findings);
  const format = root.oneOf('format', ['apertrue-features'] as const);
  const version = readVersion(root);
  const coupon = root.text('coupon');
  const canvasReader = root.record('canvas');
  const size = { above: 0 };
  const canvas = {
    widthMm: canvasReader.number('widthMm', size),
    heightMm: canvasReader.number('heightMm', size),
    pitchXMm: canvasReader.number('pitchXMm', size),
    pitchYMm: canvasReader.number('pitchYMm', size),
  };
  canvasReader.only(Object.keys(canvas));
  const features = root.list('features').map((item, index) => readFeature(root.at(item, `features.${index}`)));
  root.only(['format', 'version', 'coupon', 'canvas', 'features']);
  refuseRepeats(features, root);
  if (findings.problems.length > 0) throw new InputError(findings.problems);
  return { format, version, coupon, canvas, features };
}

function readVersion(root: RecordReader): 1 {
  const version = root.number('version', { atLeast: 1, whole: true });
  if (version > 1) {
    root.wrong(
      'version',
      'BAD_VERSION',
      `this file was written by a newer version (${version}); this one knows version 1.`,
      'Update apertrue.',
    );
  }
  return 1;
}

function refuseRepeats(features: readonly Feature[], root: RecordReader): void {
  const seen = new Map<string, number>();
  features.forEach((feature, index) => {
    const first = seen.get(feature.id);
    if (first === undefined || feature.id === '') seen.set(feature.id, index);
    else {
      root.wrong(
        `features.${index}.id`,
        'REPEATED_FEATURE',
        `"${feature.id}" is the name of an earlier feature too.`,
        'Give each feature an id of its own.',
      );
    }
  });
}

function readFeature(reader: RecordReader): Feature {
  const kind = reader.oneOf('kind', KINDS);
  if (kind === 'cell') return readCell(reader);
  if (kind === 'vernier') return readVernier(reader);
  return readDimension(reader, kind);
}

function readDimension(reader: RecordReader, kind: DimensionalFeature['kind']): DimensionalFeature {
  const from = reader.numbers('from', 2);
  const to = reader.numbers('to', 2);
  const nominalMm = reader.number('nominalMm', { above: 0 });
  const distance = Math.hypot(to[0] - from[0], to[1] - from[1]);
  if (Math.abs(distance - nominalMm) > NOMINAL_TOLERANCE_MM) {
    reader.wrong(
      'nominalMm',
      'NOMINAL_MISMATCH',
      `nominalMm is ${nominalMm}, but from and to lie ${distance.toFixed(4)} mm apart.`,
      'The three must agree to 0.001 mm.',
    );
  }
  const side = kind === 'span' && reader.has('side') ? reader.oneOf('side', ['near', 'far'] as const) : undefined;
  const shape =
    kind === 'opening' && reader.has('shape') ? reader.oneOf('shape', ['square', 'circle'] as const) : undefined;
  const by = kind !== 'span' && reader.has('by') ? reader.oneOf('by', ['jaws'] as const) : undefined;
  const feature: DimensionalFeature = {
    id: reader.text('id'),
    kind,
    from: [from[0], from[1]],
    to: [to[0], to[1]],
    nominalMm,
    ...(side === undefined ? {} : { side }),
    ...(shape === undefined ? {} : { shape }),
    ...(by === undefined ? {} : { by }),
    say: reader.text('say'),
  };
  reader.only([
    'id',
    'kind',
    'from',
    'to',
    'nominalMm',
    'say',
    ...(kind === 'span' ? ['side'] : ['by']),
    ...(kind === 'opening' ? ['shape'] : []),
  ]);
  return feature;
}

function readBox(reader: RecordReader): [number, number, number, number] {
  const [x0, y0, x1, y1] = reader.numbers('box', 4);
  if (x1 <= x0 || y1 <= y0) {
    reader.wrong('box', 'BAD_VALUE', 'the box has no area.', 'Give x0, y0, x1, y1 with x1 > x0 and y1 > y0.');
  }
  return [x0, y0, x1, y1];
}

function readCell(reader: RecordReader): CellFeature {
  const feature: CellFeature = {
    id: reader.text('id'),
    kind: 'cell',
    powerPercent: reader.number('powerPercent', { above: 0, atMost: 100 }),
    speedMmS: reader.number('speedMmS', { above: 0 }),
    box: readBox(reader),
    say: reader.text('say'),
  };
  reader.only(Object.keys(feature));
  return feature;
}

function readVernier(reader: RecordReader): VernierFeature {
  const lines = reader.number('lines', { atLeast: 3, whole: true });
  const feature: VernierFeature = {
    id: reader.text('id'),
    kind: 'vernier',
    measures: reader.oneOf('measures', ['kerf', 'row-shift'] as const),
    axis: reader.oneOf('axis', ['x', 'y'] as const),
    lines,
    zeroLine: reader.number('zeroLine', Number.isNaN(lines) ? {} : { atLeast: 0, atMost: lines }),
    stepMm: reader.number('stepMm', { above: 0 }),
    box: readBox(reader),
    say: reader.text('say'),
  };
  reader.only(Object.keys(feature));
  return feature;
}
