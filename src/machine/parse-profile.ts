import type { Profile } from './types.js';

/**
 * Reads a profile (contract 3) of any released version.
 *
 * @param text - of the file, JSON; a byte order mark is accepted
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE; all problems together, each with line and key
 * @example (await parseProfile(profileText(profile), 'desk-laser.profile.json')).name // 'desk laser'
 */
export async function parseProfile(text: string, file: string): Promise<Profile> {
  const [{ parseJsonFile }, { profileSchema }] = await Promise.all([
    import('../schema/json-file.js'),
    import('./profile-schema.js'),
  ]);
  const { $schema, ...profile } = parseJsonFile(profileSchema, text, file) as Profile & { $schema?: string };
  return profile;
}
