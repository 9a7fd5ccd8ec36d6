import { join } from 'node:path';
import { BUILT_IN_PATTERNS } from '../../coupon/built-in.js';
import type { DimensionalFeature, Feature, FeaturesFile } from '../../coupon/features.js';
import { InputError } from '../../errors.js';
import { predictLength } from '../../fit/calibration/design.js';
import { couponOrder, type ReadWith } from '../../fit/plan/plan-words.js';
import { once, present } from '../../kept.js';
import { PARAMETER_NAMES } from '../../machine/types.js';
import { fixedIn, gaugeOf, type ProjectGauge, takenWith } from '../../project/project.js';
import { isPlanned } from '../../readings/blank-readings.js';
import { decodeText } from '../../readings/csv-rows.js';
import {
  openSheet,
  type ReadingsSheet,
  type RowCells,
  rowOf,
  sheetText,
  writeForm,
  writeRow,
} from '../../readings/fill-in.js';
import { inGaugeUnit, parseLength, type TypedLength, withGaugeUnit } from '../../readings/length.js';
import { type ParsedReadings, parseReadings } from '../../readings/parse-readings.js';
import { questionReading } from '../../readings/question-reading.js';
import { OUTCOMES_OF, outcomeOf, whereOf, withNote } from '../../readings/where-to-read.js';
import { didYouMean } from '../../schema/nearest.js';
import { visible } from '../../text.js';
import { type Asker, asking } from '../ask.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import { loadFeatures } from '../fit/input.js';
import type { Io } from '../io.js';
import type { EnterOptionValues } from '../options/calibration.js';
import * as parse from '../options/values.js';
import { type FoundProject, findProject } from '../project-file.js';
import { shellQuoted } from '../tell.js';
import { type Beside, chosenBeside, couponsBeside, isRead } from './beside.js';
import { isDone, STAGES, type Stage, type Sureness, surenessOf } from './sureness.js';

/** What a profile holds for: asked of coupons whose lengths are read. */
const SETTINGS = [
  {
    ...({ key: 'powerPercent', line: 'power', unit: '%', tried: 'powersPercent' } as const),
    question: 'Cut with which power, %',
    read: parse.powerPercent,
  },
  {
    ...({ key: 'speedMmS', line: 'speed', unit: 'mm/s', tried: 'speedsMmS' } as const),
    question: 'At which speed, mm/s',
    read: parse.speedMmS,
  },
] as const;

const HELP = `  a number as the gauge shows it: 0.31, 0,31, 310um, 12.2mil, 0.0122in
  u p t m: a cell is uncut, partial, through, marked; g: a web is gone; c: an opening is closed
  b back, s skip, n TEXT a note, q quit; everything is saved already\n`;

export async function runEnter(coupon: string, values: EnterOptionValues, io: Io): Promise<ExitCode> {
  const file = await readingsFile(coupon, values, io);
  const featuresPath = values.features ?? file.replace(/(\.readings)?(\.[^./\\]*)?$/i, '.features.json');
  const features = await loadFeatures(featuresPath, io);
  await asking(io, async (asker) => {
    const text = decodeText(await io.readFile(file));
    // What can't be read is told before anything is typed.
    parseReadings(text, file);
    const sheet = openSheet(text, file);
    const [found, beside] = [await findProject(io), await couponsBeside(file, io)];
    const entry = new Entry(file, features, sheet, found, beside, asker, io);
    if (await entry.askForm(values)) await entry.run();
  });
  return EXIT.done;
}

async function readingsFile(coupon: string, { out }: EnterOptionValues, io: Io): Promise<string> {
  const paths = [coupon, ...[out ?? '.', '.'].map((folder) => join(folder, `${coupon}.readings.csv`))];
  for (const path of paths) if (/\.(csv|tsv|txt)$/i.test(path) && (await io.exists(path))) return path;
  throw new InputError({
    code: 'COUPON_NOT_FOUND',
    place: { file: coupon },
    message: `there is no readings file ${[...new Set(paths.slice(1))].join(' or ')}.`,
    hint: `${toMake(coupon)} Or name the .readings.csv itself.`,
  });
}

function toMake(coupon: string): string {
  const names: readonly string[] = BUILT_IN_PATTERNS;
  if (names.includes(coupon)) return `Make it first: apertrue coupon ${coupon}.`;
  return didYouMean(coupon, names, `Built-in coupons are ${names.join(', ')}.`);
}

/** One sitting: what was read so far, and where it stands. */
class Entry {
  private readonly order: readonly Feature[];
  private readonly taken: ReadWith | undefined;
  /** A grid is fitted for that only where nothing nearer answers, and once. */
  private readonly chosen = once(() => chosenBeside(this.file, fixedIn(this.found?.project), this.io));
  private at = 0;
  /** The furthest that was said so far. */
  private told: Stage | undefined;
  private sure: Sureness | undefined;
  /** What the readings scattered by when they were said to be enough. */
  private enoughAtSdMm: number | undefined;

  constructor(
    private readonly file: string,
    private readonly features: FeaturesFile,
    private sheet: ReadingsSheet,
    private readonly found: FoundProject | undefined,
    private readonly beside: readonly Beside[],
    private readonly asker: Asker,
    private readonly io: Io,
  ) {
    const { gauge: name, resolutionMm = USUAL_STEP_MM } = this.parsed().form;
    this.taken = takenWith(features.features, name === undefined ? this.gauges : [{ name, resolutionMm }]);
    this.order = inReadingOrder(features, sheet, this.taken);
    this.sure = this.fit();
    if (this.sure?.stage === 'enough') this.enoughAtSdMm = this.sure.result.fit.residualSdMm;
  }

  private get gauges(): readonly ProjectGauge[] {
    return this.found?.project.gauges ?? [];
  }

  private get isGrid(): boolean {
    return this.order.some(({ kind }) => kind === 'cell');
  }

  /**
   * Power and speed go into the profile. What the machine can't be set otherwise than is not asked for; what the coupon
   * beside was cut with, or a grid there shows, need not be typed again. Through a pipe nobody is asked: readings come line
   * by line, and what is known is taken and told.
   *
   * @returns whether to go on
   */
  async askForm(given: EnterOptionValues): Promise<boolean> {
    const { form } = this.parsed();
    const taken: string[] = [];
    for (const setting of this.isGrid ? [] : SETTINGS) {
      const { key, line, unit, tried } = setting;
      const [only, ...others] = this.found?.project[tried] ?? [];
      const known = given[key] ?? (form[key] === undefined && others.length === 0 ? only : undefined);
      const isOpen = known === undefined && form[key] === undefined;
      const value = isOpen ? await this.ask(setting) : known;
      if (value === 'left') return false;
      if (isOpen && value !== undefined && !this.io.input?.isTerminal) taken.push(`${line} ${value} ${unit}`);
      if (value !== undefined) this.sheet = writeForm(this.sheet, line, `${value} ${unit}`);
    }
    if (taken.length > 0)
      this.io.say(`${taken.join(', ')}: as the coupons beside say; --power-percent and --speed-mm-s say another.\n`);
    if (form.date === undefined) {
      this.sheet = writeForm(this.sheet, 'date', this.io.now().toISOString().slice(0, 10));
    }
    await this.save();
    return true;
  }

  private async ask({ key, question, read }: (typeof SETTINGS)[number]): Promise<number | 'left' | undefined> {
    const before = this.beside.find(({ form }) => form[key] !== undefined)?.form[key] ?? (await this.chosen())[key];
    if (!this.io.input?.isTerminal) return before;
    const enter = before === undefined ? '(Enter leaves it open)' : `[${before}]`;
    for (;;) {
      const typed = await this.asker(`${question} ${enter}: `);
      if (typed === undefined || typed === '') return typed === undefined ? undefined : before;
      if (isQuit(typed)) return 'left';
      try {
        return read(typed);
      } catch (error) {
        this.io.say(`  ${error instanceof Error ? error.message : String(error)}\n`);
      }
    }
  }

  async run(): Promise<void> {
    const { order, io } = this;
    const filled = order.filter((feature) => this.filledIn(feature)).length;
    io.say(`${this.file}: ${filled} of ${order.length} read. b back, s skip, n TEXT note, q quit, ? help.\n`);
    this.at = this.nextBlank(-1);
    while (await (this.at < order.length ? this.readOne(order[this.at]) : this.goesBack()));
    this.end();
  }

  /** Past the last one: a slip in it is mended by going back; false when the sitting is over. */
  private async goesBack(): Promise<boolean> {
    for (;;) {
      const typed = await this.asker('\nThat was the last one. b back, q ends> ');
      if (typed === undefined || typed === '' || isQuit(typed)) return false;
      if (isBack(typed)) {
        this.at -= 1;
        return true;
      }
      this.refuse('There is nothing more to read here.');
    }
  }

  private refuse(why: string): false {
    this.io.say(`  ${why}\n`);
    return false;
  }

  /** Takes lines for one feature until it is read, skipped or left; false when the sitting is over. */
  private async readOne(feature: Feature): Promise<boolean> {
    this.io.say(
      `\n${this.at + 1} of ${this.order.length}  ${feature.id}: ${feature.say}${this.inItsUnit(feature)}\n  ${whereOf(feature, this.features)}\n`,
    );
    const before = this.filledIn(feature);
    const prompt = `${feature.id}${before ? ` [${before}]` : ''}> `;
    let instead: string | undefined;
    for (;;) {
      const typed: string | undefined = instead ?? (await this.asker(prompt));
      instead = undefined;
      const word = typed?.toLowerCase();
      if (typed === undefined || isQuit(typed)) return false;
      if (word === '?' || word === 'help' || word === 'h') this.io.say(HELP);
      else if (isBack(typed)) {
        this.at = Math.max(0, this.at - 1);
        return true;
      } else if (word === 's' || word === 'skip' || typed === '') {
        if (typed === '' && !before) continue;
        this.at += 1;
        this.at = before ? this.nextBlank(this.at - 1) : this.at;
        return true;
      } else if (/^n(ote)?\s+/i.test(typed)) {
        await this.write(feature, { note: withNote(feature.say, typed.replace(/^n(ote)?\s+/i, '')) });
        this.io.say('  noted\n');
      } else {
        const taken = await this.take(feature, typed);
        if (typeof taken === 'string') instead = taken;
        else if (taken) {
          this.at = this.nextBlank(this.at);
          return true;
        }
      }
    }
  }

  /** Writes a reading or an outcome; false when it can't be read or was not meant, or what was typed instead. */
  private async take(feature: Feature, asTyped: string): Promise<boolean | string> {
    const typed = withGaugeUnit(asTyped, this.gaugeAtHand(feature)?.unit);
    const outcome = outcomeOf(typed);
    if (outcome !== undefined) {
      if (!OUTCOMES_OF[feature.kind].includes(outcome)) {
        const can = OUTCOMES_OF[feature.kind].map((one) => `${one[0]} ${one}`).join(', ') || 'a number';
        const one = `${feature.kind === 'opening' ? 'an' : 'a'} ${feature.kind}`;
        return this.refuse(`${outcome} is nothing that ${one} can be; here: ${can}.`);
      }
      await this.write(feature, { outcome, reading_mm: '' });
      return true;
    }
    const length = parseLength(typed);
    if (feature.kind === 'cell') return this.refuse('Type u, p, t or m.');
    if (!length) return this.refuse(`Not understood.\n${HELP.trimEnd()}`);
    if (length.ambiguous) return this.refuse(`${typed} could mean two things: write a decimal point.`);
    const impossible = impossibleIn(feature, length.valueMm);
    if (impossible !== undefined) return this.refuse(impossible);
    const question = this.questionOf(feature, length);
    if (question !== undefined) {
      this.io.say(`  ${question}\n`);
      const answer = await this.asker('  y keeps it; or type the right value> ');
      if (answer === undefined) return false;
      if (!/^(y|yes|j|ja|keep)$/i.test(answer) && answer !== typed) {
        return answer !== '' && !/^no?$/i.test(answer) ? answer : false;
      }
    }
    await this.write(feature, { reading_mm: typed.replace(/\s+/g, ' '), outcome: '', ...this.gaugeCells(feature) });
    this.tellSureness();
    return true;
  }

  /** What the reading was taken with: what the row says, else the form, else the project file. */
  private gaugeCells(feature: Feature): RowCells {
    const row = rowOf(this.sheet, feature.id);
    if (feature.kind === 'vernier' || row?.gauge || row?.resolution_mm) return {};
    const gauge = this.gaugeAtHand(feature);
    if (!gauge) return {};
    return { gauge: gauge.name, resolution_mm: gauge.resolutionMm === undefined ? undefined : `${gauge.resolutionMm}` };
  }

  /** The form's gauge, else that of the project file; a gauge that the form names has the form's step and unit. */
  private gaugeAtHand(feature: Feature): Partial<ProjectGauge> | undefined {
    if (!('nominalMm' in feature)) return undefined;
    const { gauge: name, resolutionMm } = this.parsed().form;
    if (name !== undefined || resolutionMm !== undefined) return { name, resolutionMm };
    return gaugeOf(feature, this.gauges);
  }

  /** What a gauge that shows no millimetres is about to show. */
  private inItsUnit(feature: Feature): string {
    const unit = this.gaugeAtHand(feature)?.unit;
    return unit && 'nominalMm' in feature ? inGaugeUnit(feature.nominalMm, unit) : '';
  }

  private questionOf(feature: Feature, length: TypedLength): string | undefined {
    if (!('nominalMm' in feature)) return undefined;
    const lengths = this.order.filter((other): other is DimensionalFeature => 'nominalMm' in other);
    return questionReading(
      feature,
      length,
      this.expected(feature),
      lengths.map((other) => ({ feature: other, expectedMm: this.expected(other) })),
    );
  }

  /** What the readings so far say that this one will be; undefined while they don't say it. */
  private expected(feature: DimensionalFeature): number | undefined {
    if (!this.sure?.isKnown(feature)) return undefined;
    const { fit } = this.sure.result;
    const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
    return predictLength(
      { kind: feature.kind, dx, dy },
      PARAMETER_NAMES.map((name) => fit[name].value),
    );
  }

  private tellSureness(): void {
    this.sure = this.fit();
    if (!this.sure) return;
    const { words, ahead, stage, result } = this.sure;
    const { residualSdMm } = result.fit;
    this.io.say(`  so far: ${words}\n`);
    if (ahead === '') return;
    // Enough stays enough unless the newer readings scatter by much more.
    const isBack = stage === 'some more' && this.enoughAtSdMm !== undefined;
    if (isBack || this.isNews(stage)) {
      this.io.say(`  ${ahead}${isBack ? takenBack(this.enoughAtSdMm, residualSdMm) : ''}\n`);
      this.told = stage;
    }
    if (isBack || stage === 'enough') this.enoughAtSdMm = stage === 'enough' ? residualSdMm : undefined;
  }

  private isNews(stage: Stage): boolean {
    // What was enough in an earlier sitting is said again, and nothing less.
    const before = this.told ?? (this.enoughAtSdMm === undefined ? undefined : 'all');
    return before === undefined || STAGES.indexOf(stage) > STAGES.indexOf(before);
  }

  private fit(): Sureness | undefined {
    if (!this.order.some((feature) => 'nominalMm' in feature)) return undefined;
    const { coupon, canvas, features } = this.features;
    const others = this.together()
      .filter(isRead)
      .flatMap(({ sessions }) => sessions);
    return surenessOf({ coupon, canvas, features, readings: this.parsed().readings }, others, this.taken);
  }

  private parsed(): ParsedReadings {
    return parseReadings(sheetText(this.sheet), this.file);
  }

  private filledIn(feature: Feature): string | undefined {
    const row = rowOf(this.sheet, feature.id);
    return row?.reading_mm || row?.outcome;
  }

  private nextBlank(after: number): number {
    const next = this.order.findIndex((feature, i) => i > after && !this.filledIn(feature));
    return next < 0 ? this.order.length : next;
  }

  private async write(feature: Feature, cells: RowCells): Promise<void> {
    this.sheet = writeRow(this.sheet, feature.id, cells);
    await this.save();
  }

  private async save(): Promise<void> {
    await this.io.writeFiles([{ path: this.file, bytes: sheetText(this.sheet) }], { overwrite: true, ontoInput: true });
  }

  private end(): void {
    const { order, io } = this;
    const filled = order.filter((feature) => this.filledIn(feature)).length;
    io.out(
      `${filled} of ${order.length} readings in ${visible(this.file)}${this.sure ? `: ${this.sure.words}` : ''}\n`,
    );
    // Somebody who was called away goes on here first.
    const stages = [this.sure?.stage, this.told, this.enoughAtSdMm === undefined ? undefined : ('enough' as const)];
    const isLeft = this.at < order.length && filled < order.length && !stages.some((stage) => stage && isDone(stage));
    io.run.next = present(
      isLeft && `to go on where this ended: apertrue enter ${shellQuoted(this.file)}`,
      filled > 0 && `apertrue ${this.nextCommand()}`,
    );
  }

  private get isWitness(): boolean {
    return this.features.coupon === 'witness';
  }

  /** What counts beside this coupon: a witness is held against coupons, and makes none of them surer. */
  private together(): readonly Beside[] {
    if (this.isWitness) return this.beside;
    return this.beside.filter(({ sessions }) => sessions.every(({ coupon }) => coupon !== 'witness'));
  }

  /** Lengths of all coupons are fitted together, once each has been read. */
  private nextCommand(): string {
    if (this.isGrid) return `window ${shellQuoted(this.file)}`;
    // A witness lies beside the stencil that it was cut with, and has a day of its own.
    if (this.isWitness) {
      const profile = shellQuoted(this.found?.profile ?? 'laser.profile.json');
      return `fit ${shellQuoted(this.file)} --add-to ${profile} --out ${profile} --overwrite`;
    }
    const together = this.together();
    const unread = together.find((one) => !isRead(one));
    if (unread) return `enter ${shellQuoted(unread.path)}`;
    return `fit ${[...together.map(({ path }) => path), this.file].sort().map(shellQuoted).join(' ')}`;
  }
}

/** Why what was enough is so no more. */
function takenBack(thenMm: number | undefined, nowMm: number): string {
  if (thenMm === undefined || nowMm <= thenMm) return '';
  const [then, now] = [thenMm, nowMm].map((mm) => (1000 * mm).toFixed(1));
  return ` (it was enough while the readings scattered by ${then} µm; with the newer ones it is ${now})`;
}

const isBack = (typed: string): boolean => /^b(ack)?$/i.test(typed);
const isQuit = (typed: string): boolean => /^q(uit)?$/i.test(typed);

/** What no reading of a feature can be, as one sentence. */
function impossibleIn(feature: Feature, value: number): string | undefined {
  if (feature.kind === 'vernier') {
    const isLine = value >= 0 && value <= feature.lines && Number.isInteger(2 * value);
    return isLine ? undefined : `The lines go up to ${feature.lines}, halves allowed.`;
  }
  return value > 0 ? undefined : 'A length is above 0; what closed or burnt away has a letter (?).';
}

/** Of a digital caliper, where only its name is written. */
const USUAL_STEP_MM = 0.01;

/** By the plan for the gauge at hand, which the sheet may be older than; rows that follow no plan are taken as they stand. */
function inReadingOrder(file: FeaturesFile, sheet: ReadingsSheet, taken: ReadWith | undefined): readonly Feature[] {
  const { columns, records } = sheet;
  const today = isPlanned(sheet) ? couponOrder({ features: file }, taken) : undefined;
  if (today) return today.features;
  const at = columns.indexOf('feature');
  const rows = new Map(records.map(({ cells }, i) => [cells[at], i] as const).reverse());
  const place = ({ id }: Feature): number => rows.get(id) ?? records.length;
  return [...file.features].sort((a, b) => place(a) - place(b));
}
