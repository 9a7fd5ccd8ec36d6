import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

/** A real browser, where there is one: Debian's chromium. */
export const BROWSER = ['chromium', 'chromium-browser', 'google-chrome'].find(
  (name) => !spawnSync(name, ['--version']).error,
);
if (!BROWSER) console.warn('no chromium here: pages are not opened in a browser');

/** Runs the browser on a page that lies in a folder of its own. */
function browse<T>(page: string, options: readonly string[], take: (stdout: string, folder: string) => T): T {
  const folder = mkdtempSync(join(tmpdir(), 'page-'));
  const file = join(folder, 'page.html');
  writeFileSync(file, page);
  const fixed = ['--headless', '--no-sandbox', '--disable-gpu', `--user-data-dir=${join(folder, 'data')}`];
  const args = [...fixed, ...options, pathToFileURL(file).href];
  const { stdout } = spawnSync(BROWSER ?? '', args, { cwd: folder, encoding: 'utf8', timeout: 60_000, maxBuffer: 1 << 26 }); // biome-ignore format: one call
  try {
    return take(stdout, folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Opens a page with a script at its end, and gives what that put into `result`. */
export function inBrowser(page: string, steps: string): Record<string, unknown> {
  const script = `const result = {}; ${steps}
    const box = document.createElement('pre'); box.id = 'result'; box.textContent = btoa(unescape(encodeURIComponent(JSON.stringify(result)))); document.body.append(box);`;
  return browse(page.replace('</body>', `<script>${script}</script></body>`), ['--dump-dom'], (stdout) => {
    const [, text] = /<pre id="result">([^<]*)</.exec(stdout) ?? [];
    if (text === undefined) throw new Error(`the page did not run: ${stdout.slice(0, 300)}`);
    return JSON.parse(Buffer.from(text, 'base64').toString('utf8'));
  });
}

/** A page as the browser prints it: a PDF. */
export const printed = (page: string): Buffer =>
  browse(page, ['--no-pdf-header-footer', '--print-to-pdf=out.pdf'], (_, folder) =>
    readFileSync(join(folder, 'out.pdf')),
  );
