import { InputError } from '../errors.js';
import { packageFile } from '../package-file.js';
import { nearestName } from '../schema/nearest.js';
import type { Io } from './io.js';

const SHIPPED = packageFile('patterns/rules/');

/**
 * The text of a rule set: a file by its path, or one that ships with the package by its name. Text, because a rule set
 * itself holds functions, which can't go to another thread.
 *
 * @throws {InputError} RULES_UNKNOWN
 */
export async function rulesText(nameOrFile: string, io: Io): Promise<{ text: string; file: string }> {
  if (await io.exists(nameOrFile)) return textOf(nameOrFile, io);
  if (/^[\w-]+$/.test(nameOrFile)) {
    const shipped = `${SHIPPED}${nameOrFile}.json`;
    if (await io.exists(shipped)) return textOf(shipped, io);
  }
  const names = (await io.expand(`${SHIPPED.replaceAll('\\', '/')}*.json`)).map((path) =>
    path.replace(/^.*[\\/]/, '').replace(/\.json$/, ''),
  );
  const nearest = nearestName(nameOrFile, names);
  throw new InputError({
    code: 'RULES_UNKNOWN',
    message: `there is no rule set or file "${nameOrFile}".`,
    hint: nearest ? `Did you mean "${nearest}"?` : `Rule sets by name: ${names.join(', ')}; or give a file.`,
  });
}

async function textOf(file: string, io: Io): Promise<{ text: string; file: string }> {
  return { text: new TextDecoder().decode(await io.readFile(file)), file };
}
