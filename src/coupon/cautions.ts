/** All of it in a line: said once wherever something is made that will be cut. */
export const CAUTION =
  'an open beam blinds and burns (class 4); never cut PVC, vinyl or unknown film; extract the fumes; stay with the machine. Its manual and local rules come first.';

/** What belongs on every sheet that makes somebody switch a laser on. */
export const BEAM_CAUTIONS: readonly string[] = [
  'The open beam of a cutting laser is class 4: beam and reflections blind and burn. Close the lid or wear eyewear made for this wavelength and power.',
  'Never cut PVC, vinyl, self-adhesive or unknown plastics: PVC gives off hydrogen chloride. PET and polyimide fumes are harmful too: extract them outdoors.',
  'Never leave a running laser alone. Keep an extinguisher within reach and the bed free of scraps.',
  "The machine's manual and local rules come first.",
];

/** More for a grid that tries powers on purpose. */
export const GRID_CAUTIONS: readonly string[] = [
  'High power at low speed can set film on fire: watch every cell, and stop when it flares.',
  'Change the power or the speed only while the beam is off, and do not move the film between the jobs.',
];
