import { homedir } from 'node:os';
import { isAbsolute, join } from 'node:path';

/** The folder of this user's own settings, by the convention of the platform. */
export function configFolder(
  platform: NodeJS.Platform = process.platform,
  env: NodeJS.ProcessEnv = process.env,
  home: string = homedir(),
): string {
  if (platform === 'win32') return join(env.APPDATA ?? join(home, 'AppData', 'Roaming'), 'apertrue');
  if (platform === 'darwin') return join(home, 'Library', 'Preferences', 'apertrue');
  // XDG Base Directory Specification: a relative path there is to be ignored.
  const xdg = env.XDG_CONFIG_HOME;
  return join(xdg !== undefined && isAbsolute(xdg) ? xdg : join(home, '.config'), 'apertrue');
}
