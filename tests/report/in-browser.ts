import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

/** A real browser, where there is one: Debian's chromium. */
export const BROWSER = ['chromium', 'chromium-browser', 'google-chrome'].find(
  (name) => !spawnSync(name, ['--version']).error,
);
if (!BROWSER) console.warn('no chromium here: pages are not opened in a browser');

/** Opens a page with a script at its end, and gives what that put into `result`. */
export function inBrowser(page: string, steps: string): Record<string, unknown> {
  const folder = mkdtempSync(join(tmpdir(), 'page-'));
  const file = join(folder, 'page.html');
  const script = `const result = {}; ${steps}
    const box = document.createElement('pre'); box.id = 'result'; box.textContent = btoa(unescape(encodeURIComponent(JSON.stringify(result)))); document.body.append(box);`;
  writeFileSync(file, page.replace('</body>', `<script>${script}</script></body>`));
  const args = [
    '--headless',
    '--no-sandbox',
    '--disable-gpu',
    '--dump-dom',
    `--user-data-dir=${join(folder, 'data')}`,
    pathToFileURL(file).href,
  ];
  const { stdout } = spawnSync(BROWSER ?? '', args, { encoding: 'utf8', timeout: 60_000, maxBuffer: 1 << 26 });
  rmSync(folder, { recursive: true, force: true });
  const [, text] = /<pre id="result">([^<]*)</.exec(stdout) ?? [];
  if (text === undefined) throw new Error(`the page did not run: ${stdout.slice(0, 300)}`);
  return JSON.parse(Buffer.from(text, 'base64').toString('utf8'));
}
