/** One character as strokes of a pen: nodes in units of a quarter of the cap height, base line at y 0, capitals to y 4. */
export interface Glyph {
  /** Polylines; one node alone is a dot. */
  readonly strokes: readonly (readonly (readonly [number, number])[])[];
  /** Where film is left across a bar, so that what it encloses stays tied to the sheet. */
  readonly bridges: readonly { readonly at: readonly [number, number]; readonly across: 'bar' | 'post' }[];
  readonly width: number;
}

// Each line: strokes as "x,y x,y …" parted by ";", then bridges as "x,y" on a level bar or "x,y|" on an upright post.
// Figures have square corners and letters cut ones, so that 0/O, 1/I, 2/Z, 5/S can be told apart; 6 and 9 lean, so that
// they are no G; 8 has a waist, or with its gaps it would look like H or B. One gap ties what a stroke encloses, and stands
// where the shape does without: P and R below, D at its post, O at both sides, where it looks like D otherwise. 0 has a dot
// in its middle, and is wide enough for film around it: a mere box was taken for O, D and 8; a bar across made it Z or N.
const DRAWN: Readonly<Record<string, readonly [strokes: string, bridges?: string]>> = {
  '0': ['0,0 0,4 3,4 3,0 0,0; 1.5,2', '0,2| 3,2|'],
  '1': ['0,3.1 0.9,4 0.9,0'],
  '2': ['0,4 2,4 2,2 0,2 0,0 2,0'],
  '3': ['0,4 2,4 2,0 0,0; 0.7,2 2,2'],
  '4': ['0,4 0,1.7 2,1.7; 2,4 2,0'],
  '5': ['2,4 0,4 0,2 2,2 2,0 0,0'],
  '6': ['1.7,4 0,2 0,0 2,0 2,2 0,2', '1,0'],
  '7': ['0,4 2,4 0.6,0'],
  '8': [
    '0.8,2 0.1,2.7 0.1,3.3 0.8,4 1.6,4 2.3,3.3 2.3,2.7 1.6,2 0.8,2 0,1.2 0,0.8 0.8,0 1.6,0 2.4,0.8 2.4,1.2 1.6,2',
    '1.2,4 1.2,0',
  ],
  '9': ['0.3,0 2,2 2,4 0,4 0,2 2,2', '0.95,2'],
  A: ['0,0 0,3.2 0.8,4 1.4,4 2.2,3.2 2.2,0; 0,1.6 2.2,1.6', '1.1,1.6'],
  B: ['0,0 0,4 1.6,4 2.2,3.4 2.2,2.6 1.6,2 0,2; 1.6,2 2.2,1.4 2.2,0.6 1.6,0 0,0', '0.8,4 0.8,0'],
  C: ['2,3.3 1.4,4 0.7,4 0,3.3 0,0.7 0.7,0 1.4,0 2,0.7'],
  D: ['0,0 0,4 1.4,4 2.2,3.2 2.2,0.8 1.4,0 0,0', '0,2|'],
  E: ['2,4 0,4 0,0 2,0; 0,2 1.6,2'],
  F: ['2,4 0,4 0,0; 0,2 1.6,2'],
  G: ['2.1,4 0.7,4 0,3.3 0,0.7 0.7,0 1.4,0 2.1,0.7 2.1,2 1.5,2'],
  H: ['0,0 0,4; 2,0 2,4; 0,2 2,2'],
  I: ['0,4 1.4,4; 0,0 1.4,0; 0.7,0 0.7,4'],
  J: ['2,4 2,0.7 1.3,0 0.7,0 0,0.7'],
  K: ['0,0 0,4; 2.1,4 0.1,2 2.1,0'],
  L: ['0,4 0,0 2,0'],
  M: ['0,0 0,4 1.6,1.8 3.2,4 3.2,0'],
  N: ['0,0 0,4 2.4,0 2.4,4'],
  O: ['0.8,0 0,0.8 0,3.2 0.8,4 1.6,4 2.4,3.2 2.4,0.8 1.6,0 0.8,0', '0,2| 2.4,2|'],
  P: ['0,0 0,4 1.5,4 2.2,3.4 2.2,2.4 1.5,1.8 0,1.8', '0.8,1.8'],
  Q: ['0.8,0 0,0.8 0,3.2 0.8,4 1.6,4 2.4,3.2 2.4,0.8 1.6,0 0.8,0; 1.1,1.6 2.8,0', '0,2| 2.4,2.2|'],
  R: ['0,0 0,4 1.5,4 2.2,3.4 2.2,2.4 1.5,1.8 0,1.8; 1.3,1.8 2.2,0', '0.65,1.8'],
  S: ['2.1,3.4 1.5,4 0.6,4 0,3.4 0,2.6 0.6,2 1.5,2 2.1,1.4 2.1,0.6 1.5,0 0.6,0 0,0.6'],
  T: ['0,4 2.2,4; 1.1,4 1.1,0'],
  U: ['0,4 0,0.7 0.7,0 1.4,0 2.1,0.7 2.1,4'],
  V: ['0,4 1.2,0 2.4,4'],
  W: ['0,4 0,0 1.6,2.2 3.2,0 3.2,4'],
  X: ['0,0 2.2,4; 0,4 2.2,0'],
  Y: ['0,4 1.2,2 2.4,4; 1.2,2 1.2,0'],
  Z: ['0,4 2.2,4 0,0 2.2,0'],
  '-': ['0,2 1.4,2'],
  _: ['0,0 2,0'],
  '+': ['1,1 1,3; 0,2 2,2'],
  '=': ['0,1.1 1.8,1.1; 0,2.9 1.8,2.9'],
  '/': ['0,0 1.8,4'],
  '.': ['0,0'],
  ':': ['0,0.8; 0,3'],
  '(': ['0.8,4 0,3.2 0,0.8 0.8,0'],
  ')': ['0,4 0.8,3.2 0.8,0.8 0,0'],
  '%': ['0,0 2.6,4; 0.2,3.6; 2.4,0.4'],
};

const SPACE: Glyph = { strokes: [], bridges: [], width: 1 };

function parseNode(text: string): [number, number] {
  const [x, y] = text.split(',').map(Number);
  return [x, y];
}

function parseGlyph([strokes, bridges]: readonly [string, string?]): Glyph {
  const lines = strokes.split(';').map((line) => line.trim().split(' ').map(parseNode));
  return {
    strokes: lines,
    bridges: (bridges?.split(' ') ?? []).map((text) => ({
      at: parseNode(text.replace('|', '')),
      across: text.endsWith('|') ? 'post' : 'bar',
    })),
    width: Math.max(...lines.flat().map(([x]) => x)),
  };
}

const GLYPHS = new Map(Object.entries(DRAWN).map(([character, drawn]) => [character, parseGlyph(drawn)]));

/** The characters that can be cut, in order; small letters are cut as capitals. */
export const LETTERING_CHARACTERS: readonly string[] = [...GLYPHS.keys(), ' '].sort();

/** The glyph of a character; undefined for one that can't be cut. */
export function glyphOf(character: string): Glyph | undefined {
  return character === ' ' ? SPACE : GLYPHS.get(character.toUpperCase());
}
