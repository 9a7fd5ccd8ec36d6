import { allRuns } from './numbers.js';
import { shellQuoted } from './shell-quoted.js';

/** How artwork is read: whoever said it once needs it again for the same file. */
const ABOUT_ARTWORK = [
  ...['--dpi', '--width-mm', '--known-distance', '--polarity', '--drop-specks-mm', '--page', '--any-layer'],
  ...['--side', '--mirror'],
];

/** Those options as they were typed. */
function aboutArtwork(args: readonly string[]): string {
  return args
    .map((arg, i) => {
      const [flag, joined] = arg.split(/=(.*)/s);
      if (!ABOUT_ARTWORK.includes(flag)) return '';
      const value = flag === '--any-layer' ? undefined : (joined ?? args[i + 1]);
      return value === undefined ? ` ${flag}` : ` ${flag} ${shellQuoted(value)}`;
    })
    .join('');
}

type Values = Readonly<Record<string, unknown>>;

/**
 * What most people do after a command, ready to be pasted; undefined for commands that say it themselves.
 *
 * @param fromProject - values that the project file answers, and that need not be typed
 * @param args - the command line as it was typed
 */
export function nextStep(
  name: string,
  files: readonly string[],
  values: Values,
  fromProject: ReadonlySet<string>,
  args: readonly string[] = [],
): string | undefined {
  const option = (flag: string, key: string): string =>
    typeof values[key] === 'string' && !fromProject.has(key) ? ` ${flag} ${shellQuoted(values[key])}` : '';
  const dropped = Array.isArray(values.drop) ? ` --drop ${allRuns(values.drop as number[])}` : '';
  // What came through a pipe has no name to go on with.
  const isNamed = files[0] !== undefined && files[0] !== '-';
  const artwork = isNamed ? `${shellQuoted(files[0])}${aboutArtwork(args)}` : 'board.gbr';
  switch (name) {
    case 'coupon': {
      if (values.list === true || files.length === 0 || /\.json$/i.test(files[0])) return undefined;
      const many = files.length > 1;
      if (!many && files[0] === 'field-grid') {
        const features = shellQuoted(`${typeof values.out === 'string' ? values.out : '.'}/field-grid.features.json`);
        return `cut it, scan it twice, the second time turned by about 90 degrees, then: apertrue scan "scans/*.png" --features ${features} --out read`;
      }
      return `cut ${many ? 'them' : 'it'}, then${many ? ' for each' : ''}: apertrue enter ${shellQuoted(files[0])}${option('--out', 'out')}`;
    }
    case 'window':
      return 'cut two coupons with that setting: apertrue coupon scale-ruler aperture-ladder';
    case 'fit':
      if (values.out === undefined) return undefined;
      return `apertrue correct board.gbr${fromProject.has('out') ? '' : ` --profile ${shellQuoted(String(values.out))} --out stencils`}`;
    case 'check':
      return `apertrue correct ${artwork}${dropped}${option('--profile', 'profile') || (fromProject.has('profile') ? '' : ' --profile FILE --out stencils')}`;
    case 'correct':
      if (!isNamed) return 'cut it as it is, same program and settings as the coupons';
      return `cut it as it is, same program and settings as the coupons; or look first: apertrue predict ${artwork}${option('--profile', 'profile')}${option('--out', 'out')}`;
    case 'predict':
      return `apertrue correct ${artwork}${option('--profile', 'profile')}${option('--out', 'out')}`;
    case 'layout':
      return 'print the dry fit, lay the board on it, then cut with the same program and settings as the coupons';
    default:
      return undefined;
  }
}
