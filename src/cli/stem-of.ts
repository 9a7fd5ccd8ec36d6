import { basename } from 'node:path';

/** How results of a file are called: its name without folder and ending; what came through a pipe has none. */
export const stemOf = (file: string): string =>
  file === '-' ? 'stdin' : basename(file).replace(/\.[^.]+$/, '') || basename(file);
