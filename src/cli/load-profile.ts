import { parseProfile } from '../machine/parse-profile.js';
import type { Profile } from '../machine/types.js';
import type { Io } from './io.js';

/** Reads a profile, and gives its bytes too, for hashing. */
export async function loadProfile(path: string, io: Io): Promise<{ profile: Profile; bytes: Uint8Array }> {
  const bytes = await io.readFile(path);
  return { profile: await parseProfile(new TextDecoder().decode(bytes), path), bytes };
}
