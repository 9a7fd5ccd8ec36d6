import { access, constants, stat } from 'node:fs/promises';
import { dirname } from 'node:path';
import { packageJson } from '../../package-file.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import type { DoctorOptionValues } from '../options/stencils.js';
import { findProject, projectDisagrees, readProfile, sinceChanged } from '../project-file.js';
import { row } from '../tell.js';

interface Finding {
  readonly what: string;
  readonly good: boolean;
  readonly words: string;
}

export async function runDoctor({ out }: DoctorOptionValues, io: Io): Promise<ExitCode> {
  const findings: Finding[] = [nodeVersion()];
  for (const [what, load] of LIBRARIES) findings.push(await library(what, load));
  findings.push(...(await projectAndProfile(out, io)));
  for (const { what, good, words } of findings) io.out(row(`${good ? 'ok ' : 'BAD'} ${what}`.padEnd(14), words));
  const bad = findings.filter(({ good }) => !good).length;
  io.out(bad === 0 ? 'All is well.\n' : `${bad} of ${findings.length} are not as they should be.\n`);
  return bad === 0 ? EXIT.done : EXIT.findings;
}

function nodeVersion(): Finding {
  const { engines } = packageJson<{ engines: { node: string } }>('package.json');
  const [major, minor] = engines.node
    .replace(/[^\d.]/g, '')
    .split('.')
    .map(Number);
  const [hasMajor, hasMinor] = process.versions.node.split('.').map(Number);
  const good = hasMajor > major || (hasMajor === major && hasMinor >= (minor ?? 0));
  return {
    what: 'node',
    good,
    words: `${process.versions.node}${good ? '' : `; needs ${engines.node}: install a newer Node.js`}`,
  };
}

/** Libraries with native or compiled parts, which may be missing on a machine of another kind. */
const LIBRARIES: readonly (readonly [what: string, load: () => Promise<unknown>])[] = [
  ['sharp', () => import('sharp')],
  ['pdfium', async () => (await (await import('@hyzyla/pdfium')).PDFiumLibrary.init()).destroy()],
  ['resvg', () => import('@resvg/resvg-js')],
];

async function library(what: string, load: () => Promise<unknown>): Promise<Finding> {
  try {
    await load();
    return { what, good: true, words: 'loads' };
  } catch (error) {
    const reason = (error instanceof Error ? error.message : String(error)).split('\n')[0];
    return { what, good: false, words: `does not load (${reason}): install apertrue again on this machine` };
  }
}

async function projectAndProfile(out: string | undefined, io: Io): Promise<Finding[]> {
  const words = (error: unknown): string => (error instanceof Error ? error.message : String(error));
  let found: Awaited<ReturnType<typeof findProject>>;
  try {
    found = await findProject(io);
  } catch (error) {
    return [{ what: 'project', good: false, words: words(error) }, await writable(out ?? '.')];
  }
  const findings: Finding[] = [
    { what: 'project', good: true, words: found ? found.file : 'no apertrue.json here; apertrue start writes one' },
  ];
  if (found?.profile !== undefined) {
    const path = found.profile;
    const tell = (good: boolean, told: string): void => void findings.push({ what: 'profile', good, words: told });
    try {
      if (found.hasProfile) {
        const { profile } = await readProfile(path, io);
        tell(true, `${path}: ${profile.name}`);
        const doubts = [...projectDisagrees(found.project, profile), ...sinceChanged(profile)];
        for (const { message, hint } of doubts) tell(false, `${message} ${hint}`);
      } else tell(true, `${path} is not there yet; apertrue fit writes it`);
    } catch (error) {
      tell(false, words(error));
    }
  }
  return [...findings, await writable(out ?? found?.out ?? '.')];
}

/** Whether files can be written into a folder, or into the nearest one above that is there. */
async function writable(folder: string): Promise<Finding> {
  let at = folder;
  while (!(await stat(at).catch(() => undefined)) && dirname(at) !== at) at = dirname(at);
  const good = await access(at, constants.W_OK).then(
    () => true,
    () => false,
  );
  return {
    what: 'results',
    good,
    words: `${folder} ${good ? 'can be written' : 'can’t be written: choose another with --out'}`,
  };
}
