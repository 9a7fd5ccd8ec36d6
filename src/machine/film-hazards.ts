import { InputError, type Place } from '../errors.js';

/** No film that is cut for paste is thicker, mm: whoever says more means another unit. */
export const THICKEST_FILM_MM = 2;

/** What is known to be harmful about lasering a film. */
export interface FilmHazard {
  /** `never`: it must not be lasered at all. */
  readonly verdict: 'never' | 'caution';
  readonly reason: string;
}

const NEVER: readonly [RegExp, string][] = [
  [
    /\b(pvc|u-?pvc|vinyls?|poly ?vinyl ?chlorid\w*|faux ?leather|leatherette|artificial leather)\b/,
    'it sets free hydrogen chloride and chlorine, which hurt lungs and eyes and corrode the machine',
  ],
  [
    /\b(pvdc|polyvinylidene\w*|chlorinated|halogenated|brominated)\b/,
    'halogenated plastics set free acids and chlorine',
  ],
  [
    /\b(ptfe|fep|pfa|etfe|pvdf|pctfe|fluoropolymers?)\b/,
    'fluoroplastics set free carbonyl fluoride and hydrogen fluoride',
  ],
  [/\b(self-?adhesive|adhesive)\b/, 'most self-adhesive films are vinyl, and nobody knows what the glue holds'],
  [/\b(unknown|unidentified|mystery)\b/, 'a film that nobody can name may hold chlorine'],
];

const CAUTION: readonly [RegExp, string][] = [
  [/\b(pi|polyimide)\b/, 'its fumes hold carbon monoxide and hydrogen cyanide: extract them to the outside'],
  [/\b(pet|pet-?g|polyester|bopet)\b/, 'its fumes hold formaldehyde and fine particles: extract them to the outside'],
  [/\b(abs)\b/, 'its fumes hold hydrogen cyanide, and it melts and burns'],
  [/\b(pc|polycarbonate)\b/, 'it chars and burns, and its fumes are poisonous'],
  [/\b(pom|acetal)\b/, 'its fumes hold formaldehyde, and its flame can hardly be seen'],
];

/**
 * What is known about lasering a film of this kind; undefined for kinds without an entry.
 *
 * Sources: University of Texas, "Prohibited Laser Cutter Materials" (PVC, vinyl, faux leather, PTFE, ABS, POM,
 * halogenated, unknown and self-adhesive films); Chan et al., Aerosol Air Qual. Res. 16 (2016) 2216 (PET); for
 * polyimide, an abstract on chemical transformations by laser heating. The machine's manual and local rules come first.
 */
export function filmHazard(kind: string): FilmHazard | undefined {
  const words = kind.toLowerCase().replace(/[_/]+/g, ' ');
  const find = (list: readonly [RegExp, string][]): string | undefined =>
    list.find(([pattern]) => pattern.test(words))?.[1];
  const never = /\bpvc[- ]free\b/.test(words) ? undefined : find(NEVER);
  if (never !== undefined) return { verdict: 'never', reason: never };
  const caution = find(CAUTION);
  return caution === undefined ? undefined : { verdict: 'caution', reason: caution };
}

/**
 * Refuses a film that must never be lasered.
 *
 * @param kind - what the film is said to be made of
 * @param place - where it is said
 * @returns why a film needs care, where something is known
 * @throws {InputError} FILM_NOT_FOR_LASERS
 */
export function refuseFilm(kind: string | undefined, place: Place): string | undefined {
  const hazard = kind === undefined ? undefined : filmHazard(kind);
  if (hazard?.verdict !== 'never') return hazard?.reason;
  throw new InputError({
    code: 'FILM_NOT_FOR_LASERS',
    place,
    message: `"${kind}" must never be lasered: ${hazard.reason}.`,
    hint: 'Take a film that its maker names as free of chlorine and fluorine, such as plain PET, and keep to the manual of the machine.',
  });
}
