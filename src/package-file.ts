import { createRequire } from 'node:module';

const OWN = 'package.json';
const require = createRequire(import.meta.url);

/**
 * A file that comes with the package, by its place in it. It is sought by the package's own name: sources lie deeper than
 * what is built of them.
 */
export function packageFile(place: string): string {
  return require.resolve(`apertrue/${OWN}`).slice(0, -OWN.length) + place;
}

/** What a JSON file that comes with the package holds. */
export const packageJson = <T>(place: string): T => require(packageFile(place)) as T;
