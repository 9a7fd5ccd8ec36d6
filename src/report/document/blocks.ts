import type { Region } from '../../geometry/types.js';

/** One thing after another in a report; HTML and PDF are two ways of writing the same row of blocks. */
export type Block =
  | { readonly kind: 'heading'; readonly text: string }
  | { readonly kind: 'words'; readonly text: string; readonly tone?: 'good' | 'warning' }
  | { readonly kind: 'list'; readonly items: readonly string[]; readonly ordered?: boolean }
  | {
      readonly kind: 'table';
      readonly caption: string;
      readonly head: readonly string[];
      readonly rows: readonly (readonly string[])[];
    }
  /** A drawing as SVG with outlined text; `words` say what it shows to those who don't see it. */
  | { readonly kind: 'picture'; readonly svg: string; readonly words: string }
  /** A picture with many small things on it, to be moved about and looked at closely; `find` says what its texts are. */
  | { readonly kind: 'close-up'; readonly svg: string; readonly words: string; readonly find: string }
  | { readonly kind: 'stencil'; readonly layers: readonly StencilLayer[]; readonly words: string };

/** A state of a stencil, such as before and after. */
export interface StencilLayer {
  readonly name: string;
  /** Drawn as a line without filling, upon what is below it, and without numbers. */
  readonly outline?: boolean;
  /** Not shown until the reader wants it; not in print. */
  readonly hidden?: boolean;
  readonly openings: readonly NumberedOpening[];
}

/** What stands for one opening of the artwork, mm. */
export interface NumberedOpening {
  /** Not given for what has none, such as a mark. */
  readonly number?: number;
  readonly region: Region;
  /** Drawn in another colour, with a dashed wall. */
  readonly doubtful?: boolean;
  /** A table names it: on paper its number stands beside it where it is too small to be read inside. */
  readonly named?: boolean;
}

export interface Report {
  readonly title: string;
  readonly blocks: readonly Block[];
}

export const heading = (text: string): Block => ({ kind: 'heading', text });

export const words = (text: string, tone?: 'good' | 'warning'): Block => ({
  kind: 'words',
  text,
  ...(tone ? { tone } : {}),
});

/** A table with a row for each fact; nothing where there is none. */
export function table(caption: string, head: readonly string[], rows: readonly (readonly string[])[]): Block[] {
  return rows.length === 0 ? [] : [{ kind: 'table', caption, head, rows }];
}
