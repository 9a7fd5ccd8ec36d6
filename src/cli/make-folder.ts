import { mkdir, stat } from 'node:fs/promises';
import { dirname } from 'node:path';

/**
 * Makes a folder and those above it, each once. Node's own recursive mkdir never comes back where the system says that
 * a folder is missing although the one above it is there (as under /proc).
 *
 * @throws the system's error
 */
export async function makeFolder(path: string): Promise<void> {
  const missing: string[] = [];
  let above = path;
  for (;;) {
    const found = await stat(above).catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return undefined;
      throw error;
    });
    if (found && !found.isDirectory()) throw Object.assign(new Error('not a folder'), { code: 'ENOTDIR' });
    if (found || dirname(above) === above) break;
    missing.unshift(above);
    above = dirname(above);
  }
  for (const folder of missing) {
    await mkdir(folder).catch((error: NodeJS.ErrnoException) => {
      // Somebody else, such as the next file of the same batch, made it meanwhile.
      if (error.code !== 'EEXIST') throw error;
    });
  }
}
