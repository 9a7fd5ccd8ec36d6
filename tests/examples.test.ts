import { readFileSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { zipSync } from 'fflate';
import ts from 'typescript';
import { beforeAll, describe, expect, it } from 'vitest';

import * as apertrue from '../src/index.js';
import { makeProfile } from '../src/machine/profile-file.js';

/** Every function of the library has an example in its docstring; here they are run, and what they say is compared. */
const INDEX = 'src/index.ts';

interface Example {
  readonly name: string;
  readonly code: string;
  /** What stands after the last `//`. */
  readonly gives?: string;
}

/** The functions that a file exports, by their declarations: `wanted`, or all. */
function functionsOf(file: string, wanted?: ReadonlySet<string>): ts.FunctionDeclaration[] {
  const source = ts.createSourceFile(file, readFileSync(file, 'utf8'), ts.ScriptTarget.Latest, true);
  return source.statements.flatMap((statement) => {
    if (ts.isFunctionDeclaration(statement)) {
      const isExported = statement.modifiers?.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword);
      return isExported && statement.body && (wanted?.has(statement.name?.text ?? '') ?? true) ? [statement] : [];
    }
    if (!ts.isExportDeclaration(statement) || !statement.moduleSpecifier || statement.isTypeOnly) return [];
    const { exportClause: clause, moduleSpecifier } = statement;
    const from = join(dirname(file), (moduleSpecifier as ts.StringLiteral).text.replace(/js$/, 'ts'));
    if (!clause || !ts.isNamedExports(clause)) return functionsOf(from, wanted);
    const names = clause.elements.map(({ name, propertyName }) => (propertyName ?? name).text);
    return functionsOf(from, new Set(names.filter((name) => wanted?.has(name) ?? true)));
  });
}

function examples(): { readonly found: Example[]; readonly without: string[] } {
  const found: Example[] = [];
  const without: string[] = [];
  for (const declared of functionsOf(INDEX)) {
    const name = declared.name?.text ?? '';
    const own = ts.getJSDocTags(declared).filter(({ tagName }) => tagName.text === 'example');
    if (own.length === 0) without.push(name);
    for (const { comment } of own) {
      const lines = ts.getTextOfJSDocComment(comment)?.trim() ?? '';
      const [, code, gives] = /^([\s\S]*?)(?:\s\/\/ (.+))?$/.exec(lines) ?? [];
      found.push({ name, code, gives });
    }
  }
  return { found, without };
}

/** What the examples call by name: a day at an invented bench. */
async function bench(): Promise<Record<string, unknown>> {
  const demo = 'patterns/demo/brook-logger';
  const [paste, drill, outline] = await Promise.all(
    ['-paste-top.gbr', '-holes.drl', '-outline.gbr'].map((end) => readFile(demo + end)),
  );
  const bed = { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 };
  const coupons = await Promise.all(
    ['scale-ruler', 'aperture-ladder'].map((name) => apertrue.generateCoupon(name, bed)),
  );
  const [ruler, ladder] = coupons.map(({ features }) => features);
  // A machine whose kerf is .12 mm both ways, and a gauge that reads .01 mm.
  const sessions = [ruler, ladder].map(({ coupon, features, canvas }) => ({
    coupon,
    canvas,
    features,
    readings: features.flatMap((feature, i) => {
      if (feature.kind === 'cell' || feature.kind === 'vernier') return [];
      const wider = feature.kind === 'opening' ? 0.12 : feature.kind === 'web' ? -0.12 : 0;
      // Scatter of about a step of the gauge: a coarser one takes a fit that is slower, and has tests of its own.
      const value = Math.round(100 * (feature.nominalMm + wider + 0.008 * Math.sin(7 * i))) / 100;
      return value > 0 ? [{ feature: feature.id, readingMm: value, resolutionMm: 0.01 }] : [];
    }),
  }));
  const { fit } = apertrue.fitSessions(sessions);
  const profile = makeProfile({ name: 'desk laser', fit, sessions });
  const grid = (await apertrue.generateCoupon('power-speed-grid', bed)).features.features;
  const cells = grid.flatMap((cell) =>
    cell.kind === 'cell' ? [{ feature: cell.id, outcome: cell.powerPercent < 45 ? 'partial' : 'through' }] : [],
  );
  const artwork = await apertrue.readArtwork(paste);
  const { openings } = artwork;
  const laid = apertrue.layStencil({
    ...{ name: 'board', openings, words: ['board'], cornerMarks: true, outlineTicks: false },
    ...{ marginMm: 10, witnessMm: 0, letteringMm: 2, kerfMm: 0.12 },
  });
  return {
    ...{
      paste,
      drill,
      outline,
      artwork,
      openings,
      laid,
      rules: await readFile('patterns/rules/plain.json', 'utf8'),
    },
    ...{ zip: zipSync({ 'paste.gbr': paste, 'holes.drl': drill, 'outline.gbr': outline }) },
    ...{ ruler, ladder, features: ladder.features, readings: sessions[1].readings, sessions, profile, cells, grid },
  };
}

/** The digits that an example shows are right; more are not said. */
function asShown(value: unknown, shown: unknown): unknown {
  if (typeof value === 'number' && typeof shown === 'number') {
    const digits = /\.(\d+)/.exec(String(shown))?.[1].length ?? 0;
    return Number(value.toFixed(digits));
  }
  if (Array.isArray(value) && Array.isArray(shown)) return value.map((each, i) => asShown(each, shown[i]));
  return value;
}

const { found, without } = examples();
let names: Record<string, unknown>;

beforeAll(async () => {
  names = { ...apertrue, ...(await bench()) };
});

const AsyncFunction = Object.getPrototypeOf(async () => undefined).constructor;

describe('examples in docstrings', () => {
  it('every function of the library has one', () => expect(without).toEqual([]));

  it.each(found)('$name: $code', async ({ code, gives }) => {
    const value = await new AsyncFunction(...Object.keys(names), `return ${code}`)(...Object.values(names));
    expect(value).toBeDefined();
    if (gives === undefined) return;
    const shown = JSON.parse(gives.replaceAll("'", '"'));
    expect(asShown(value, shown)).toEqual(shown);
  });
});
