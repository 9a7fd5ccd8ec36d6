import { InputError, type Place } from '../errors.js';

/** No film that is cut for paste is thicker, mm: whoever says more means another unit. */
export const THICKEST_FILM_MM = 2;

/** What is known to be harmful about lasering a film. */
export interface FilmHazard {
  /** `never`: it must not be lasered at all. */
  readonly verdict: 'never' | 'caution';
  readonly reason: string;
}

/** Words as `plainWords` leaves them; German ones run together with others. */
const NEVER: readonly [RegExp, string][] = [
  [
    /pvc|vinyl(?!iden| ?fluor)|\b(faux|artificial|imitation|synthetic|vegan) leather\b|leatherette|kunstleder/,
    'it sets free hydrogen chloride and chlorine, which hurt lungs and eyes and corrode the machine',
  ],
  [
    /ptfe|\b(fep|pfa|etfe|e?ctfe|pctfe|pvdf|pvf|fkm)|fluor(?!es)|non ?stick|anti ?haft/,
    'fluoroplastics, of which non-stick films are made, set free carbonyl fluoride and hydrogen fluoride',
  ],
  [/pvdc|vinyliden|chlor|halogen|brominated|bromiert/, 'halogenated plastics set free acids and chlorine'],
  [
    /adhesive|selbstkleb|klebefolie|\bstickers?\b|aufkleber|\bdecals?\b|\bcling|adha?e?sionsfolie|frischhaltefolie/,
    'most self-adhesive and clinging films are vinyl, and nobody knows what the glue holds',
  ],
  [/nitro ?[cz]ellulos|[cz]ellulose? ?nitrat|[cz]elluloid/, 'it burns like powder, once lit'],
  [
    /\b(unknown|unidentified|mystery|not sure|no idea|don ?t know|weiss nicht|keine ahnung)\b|unbekannt|^[? ]*\?[? ]*$/,
    'a film that nobody can name may hold chlorine',
  ],
];

const CAUTION: readonly [RegExp, string][] = [
  [
    /laminat|laminier|\btapes?\b|klebeband|\blabels?\b|etikett/,
    'nobody knows what its glue holds, and some are vinyl: only if its maker names them as free of chlorine, and extract the fumes to the outside',
  ],
  [/\bpi\b|polyimid|\bamber\b/, 'its fumes hold carbon monoxide and hydrogen cyanide: extract them to the outside'],
  [
    /\b(bo)?pet ?g?(\b|film|foli)|polyester|transparenc|\boverhead|\bohp\b/,
    'its fumes hold formaldehyde and fine particles: extract them to the outside',
  ],
  [/a[cz]etat/, 'its fumes hold acetic acid, and it burns readily: extract them to the outside'],
  [/\babs\b/, 'its fumes hold hydrogen cyanide, and it melts and burns'],
  [/\bpc\b|poly ?[ck]arbonat/, 'it chars and burns, and its fumes are poisonous'],
  [/\bpom\b|acetal|azetal/, 'its fumes hold formaldehyde, and its flame can hardly be seen'],
  [
    /styr[eo]|foam|schaum|\b(ps|eps|xps|hips)\b/,
    'it melts and catches fire, and its fumes hold styrene: extract them to the outside',
  ],
];

/** A name that a maker gave tells nothing of the plastic, and may be that of one that must never be lasered. */
const NAMELESS =
  'nothing is known here of lasering it, and trade names hide chlorine and fluorine: only if its maker names the plastic and calls it fit for lasers; extract the fumes to the outside';

/** Small letters without marks, words parted by single blanks, and nothing of what the film is said not to hold. */
function plainWords(kind: string): string {
  const words = kind
    .toLowerCase()
    .replace(/ß/g, 'ss')
    .normalize('NFKD')
    .replace(/\p{M}/gu, '')
    .replace(/(?<=\b\w)\.(?=\w\b)/g, '')
    .replace(/[^\p{L}\p{N}?]+/gu, ' ');
  const held = '(pvc|vinyl|chlor(?:ine?)?|fluor(?:ine?)?|halogene?s?|adhesive|styrene)';
  const saidNot = new RegExp(
    `\\b${held} ?(free|frei\\w*)\\b|\\b(no|non|not|free of|without|ohne|kein|frei von) ${held}\\b`,
    'g',
  );
  return words.replace(saidNot, ' ');
}

/**
 * What is known about lasering a film of this kind, or that nothing is.
 *
 * Sources: University of Texas, "Prohibited Laser Cutter Materials" (PVC, vinyl, faux leather, PTFE, ABS, POM,
 * halogenated, unknown and self-adhesive films); Chan et al., Aerosol Air Qual. Res. 16 (2016) 2216 (PET); for
 * polyimide, an abstract on chemical transformations by laser heating. Common practice, without a source: that stickers
 * and clinging films are vinyl, non-stick ones fluoroplastics, overhead films polyester, amber ones polyimide; what is
 * said of nitrocellulose, acetate, polycarbonate, polystyrene and of glue. The machine's manual and local rules come first.
 */
export function filmHazard(kind: string): FilmHazard {
  const words = plainWords(kind);
  const find = (list: readonly [RegExp, string][]): string | undefined =>
    list.find(([pattern]) => pattern.test(words))?.[1];
  const never = find(NEVER);
  return never === undefined
    ? { verdict: 'caution', reason: find(CAUTION) ?? NAMELESS }
    : { verdict: 'never', reason: never };
}

/**
 * Refuses a film that must never be lasered.
 *
 * @param kind - what the film is said to be made of
 * @param place - where it is said
 * @returns why the film needs care; undefined where none is named
 * @throws {InputError} FILM_NOT_FOR_LASERS
 */
export function refuseFilm(kind: string | undefined, place: Place): string | undefined {
  const hazard = kind === undefined || kind.trim() === '' ? undefined : filmHazard(kind);
  if (hazard?.verdict !== 'never') return hazard?.reason;
  throw new InputError({
    code: 'FILM_NOT_FOR_LASERS',
    place,
    message: `"${kind}" must never be lasered: ${hazard.reason}.`,
    hint: 'Take a film that its maker names as free of chlorine and fluorine, such as plain PET, and keep to the manual of the machine.',
  });
}
