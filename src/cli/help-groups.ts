import { type Command, Option } from 'commander';

/** Headings of the options, in the order in which they are shown. */
const GROUPS = {
  most: 'Most jobs need:',
  what: 'What to make:',
  where: 'Where it goes:',
  read: 'Reading the artwork:',
  machine: 'Machine and film:',
  rare: 'Rarely:',
  answered: 'Answered by apertrue.json; an option wins over it:',
} as const;
type Group = keyof typeof GROUPS;

const MEMBERS: Readonly<Record<Exclude<Group, 'most' | 'answered'>, readonly string[]>> = {
  what: ['format', 'negative', 'grey', 'rules', 'marks', 'ticks', 'witness', 'name', 'date', 'letteringMm', 'paper', 'report', 'residuals', 'powerSteps', 'speeds', 'kerfMm', 'list', 'drill', 'holeMm', 'hole', 'printedMm', 'drop', 'dryRun'],
  where: ['out', 'marginMm', 'canvasMm', 'atMm', 'mirror', 'side', 'rotate', 'outline', 'boardMm', 'boardAtMm', 'sheetMm', 'handle', 'copies', 'spacingMm'],
  read: ['dpi', 'widthMm', 'knownDistance', 'polarity', 'dropSpecksMm', 'page', 'anyLayer', 'features', 'addTo'],
  machine: ['machine', 'pitchMm', 'machineDpi', 'sweep', 'burnEveryNthRow', 'powerBy', 'film', 'thicknessMm', 'powerPercent', 'speedMmS', 'passes', 'resolutionMm', 'gaugeLimitMm', 'gauge', 'limits', 'paste', 'alloy', 'metalPercent', 'designThicknessMm'],
  rare: [],
}; // biome-ignore format: a table

/**
 * Puts the options of a command under headings, those that most jobs need first.
 *
 * @param most - the values of the latter
 * @param answered - options that the project file answers: nobody needs to learn them
 */
export function groupOptions(command: Command, most: readonly string[], answered: ReadonlySet<string>): void {
  const order = Object.keys(GROUPS) as Group[];
  const groups = new Map<Option, Group>();
  for (const option of command.options) {
    const group = groupOf(option.attributeName(), most, answered);
    groups.set(option, group);
    option.helpGroup(GROUPS[group]);
  }
  const rank = (option: Option): number => order.indexOf(groups.get(option) ?? 'rare');
  (command.options as Option[]).sort((a, b) => rank(a) - rank(b));
  command.addHelpOption(new Option('-h, --help', 'show help').helpGroup(GROUPS.rare));
}

function groupOf(key: string, most: readonly string[], answered: ReadonlySet<string>): Group {
  if (answered.has(key)) return 'answered';
  if (most.includes(key)) return 'most';
  const found = (Object.keys(MEMBERS) as (keyof typeof MEMBERS)[]).find((group) => MEMBERS[group].includes(key));
  return found ?? 'rare';
}
