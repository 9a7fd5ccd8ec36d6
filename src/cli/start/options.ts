import { type Command, InvalidArgumentError, Option } from 'commander';
import { EXPORT_FORMATS, type ExportFormat } from '../../export/export-formats.js';
import type { ProjectGauge } from '../../project/project.js';
import { lengthMm, parseDpi, parseFormats, parsePitch, parseSize, parseThicknessMm } from '../values.js';

export interface StartOptionValues {
  readonly machine?: string;
  readonly bedMm?: { widthMm: number; heightMm: number };
  readonly pitchMm?: { x: number; y: number };
  readonly dpi?: { x: number; y: number };
  readonly format?: readonly ExportFormat[];
  readonly film?: string;
  readonly thicknessMm?: number;
  readonly gauge?: readonly ProjectGauge[];
  readonly out?: string;
  readonly overwrite?: boolean;
}

/** A gauge by name and step: "caliper 0.01", caliper:0.01. */
export function parseGauge(text: string): ProjectGauge {
  const match = /^\s*(.*?)[\s:=]+([\d.,].*)$/.exec(text);
  const resolutionMm = match ? lengthMm(match[2]) : undefined;
  if (!match || match[1] === '' || resolutionMm === undefined || !(resolutionMm > 0 && resolutionMm <= 1)) {
    throw new InvalidArgumentError(
      `Expected a name and a step, such as "caliper 0.01" or loupe:0.05; found "${text}".`,
    );
  }
  return { name: match[1], resolutionMm };
}

const EXAMPLES = `
Examples:
  apertrue start
  apertrue start --film polyimide --thickness-mm 0.075
  apertrue start --bed-mm 150x100 --dpi 1000 --film pet --thickness-mm 0.1 --gauge loupe:0.05

Asks what the options leave open, writes apertrue.json into this folder, and says what to do next. The answers may come
through a pipe, one a line. From then on no command in this folder needs them; an option still wins over the file.
Exit codes: 0 done; 2 something is missing or can't be read, nothing written.`;

/** `apertrue start`: a new machine. */
export const defineStart = (command: Command): void => {
  command
    .description(
      'Asks the few things that every command needs to know, writes them into apertrue.json, prints the plan.',
    )
    .addOption(new Option('--machine <name>', 'which laser'))
    .addOption(new Option('--bed-mm <w x h>', 'the bed, or the film if it is smaller, mm').argParser(parseSize))
    .addOption(
      new Option('--pitch-mm <mm>', 'distance between two dots, mm; X and Y as 0.05x0.0254').argParser(parsePitch),
    )
    .addOption(new Option('--dpi <n>', 'dots per inch; X and Y as 508x1000').argParser(parseDpi).conflicts('pitchMm'))
    .addOption(
      new Option('-f, --format <list>', `what its program takes: ${EXPORT_FORMATS.join(', ')}`).argParser(
        parseFormats(EXPORT_FORMATS),
      ),
    )
    .addOption(new Option('--film <kind>', 'what the film is made of, for example pet or polyimide'))
    .addOption(new Option('--thickness-mm <mm>', 'thickness of the film, mm').argParser(parseThicknessMm))
    .addOption(
      new Option('--gauge <name:step>', 'what you measure with and one step of it, mm; once for each').argParser(
        (text: string, before?: ProjectGauge[]) => [...(before ?? []), parseGauge(text)],
      ),
    )
    .addOption(new Option('-o, --out <folder>', 'folder for results (default: stencils)'))
    .option('--overwrite', 'replace an apertrue.json that exists already')
    .addHelpText('after', EXAMPLES);
};
