import { type Command, InvalidArgumentError, Option } from 'commander';
import { lengthMm, parseDpi, parsePositiveMm } from '../values.js';

/** A length that somebody measured with another gauge. */
export interface ReferenceValue {
  readonly id: string;
  readonly readingMm: number;
}

export interface ScanOptionValues {
  readonly features: readonly string[];
  readonly pattern?: readonly string[];
  readonly reference?: readonly ReferenceValue[];
  readonly gaugeLimitMm?: number;
  readonly dpi?: { x: number; y: number };
  readonly out: string;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue scan 'scans/*.png' --features bench/*.features.json --reference RA0-6=139.92 --out read/
  apertrue scan sheet.tif --features bench/*.features.json --out read/
  apertrue scan a.png b.png --features bench/*.features.json --reference rule=1mm --out read/
  apertrue scan clear.png --features bench/*.features.json --reference LA9=2.11 --out read/

Scan at 1200 dpi or more, without sharpening or automatic levels, the film flat under the lid. Pictures and coupons in
any order: each coupon is found by its own openings, turned or upside down. Scan each film twice, the second time
turned by 90 degrees: that tells the film from the scanner. One long span read with a caliper (--reference) gives the
scale; without it there is kerf and shear, and no scale. Of clear film, where only the walls show, the widths need one
opening read with a loupe (--reference). A steel rule laid flat beside the film gives the scale too (rule=1mm), to its own
limit of error: a caliper is ten times finer.
Writes <coupon>.readings.csv and <coupon>.features.json, which \`apertrue fit\` takes as they are, and scan.html and
<picture>.scan.png, which show what was recognised. Look at them: doubtful ones are dashed.
Exit codes: 0 done; 3 done, with something to look at; 2 nothing could be done.`;

function parseReference(text: string, before: readonly ReferenceValue[] = []): ReferenceValue[] {
  const at = text.indexOf('=');
  const readingMm = at > 0 ? lengthMm(text.slice(at + 1)) : undefined;
  if (readingMm === undefined || !(readingMm > 0)) {
    throw new InvalidArgumentError(`Expected a feature and what it reads, such as RA0-6=139.92; found "${text}".`);
  }
  return [...before, { id: text.slice(0, at).trim(), readingMm }];
}

/** `apertrue scan`: readings from pictures of coupons. */
export const defineScan = (command: Command): void => {
  command
    .description('Finds coupons in scans, measures every feature, and writes readings with their uncertainty.')
    .argument('<pictures...>', 'PNG, TIFF or JPEG, 8 or 16 bit, grey or colour')
    .requiredOption('--features <files...>', 'features files of the coupons')
    .addOption(
      new Option(
        '--reference <ID=mm>',
        'what a feature reads with a caliper or a loupe: a long span for the scale, an opening for the widths; rule=1mm: the distance of the lines of a rule in the picture; repeatable',
      ).argParser(parseReference),
    )
    .addOption(
      new Option(
        '--gauge-limit-mm <mm>',
        'limit of error of that caliper or loupe, mm (default: 0.02), or of that rule (default: 0.2, class I)',
      ).argParser(parsePositiveMm),
    )
    .addOption(
      new Option(
        '--dpi <n>',
        'resolution of the pictures, over what their files say: one number, or 1200x1200',
      ).argParser(parseDpi),
    )
    .addOption(new Option('--pattern <files...>', 'patterns of coupons that are not built in'))
    .requiredOption('-o, --out <folder>', 'folder for the readings and pictures')
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the readings as JSON')
    .addHelpText('after', EXAMPLES);
};
