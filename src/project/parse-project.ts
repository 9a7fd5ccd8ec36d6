import type { Project } from './project.js';

/**
 * Reads a project file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY with the nearest name, BAD_VALUE
 */
export async function parseProject(text: string, file: string): Promise<Project> {
  const [{ parseJsonFile }, { projectSchema }] = await Promise.all([
    import('../schema/json-file.js'),
    import('./project-schema.js'),
  ]);
  return parseJsonFile(projectSchema, text, file);
}
