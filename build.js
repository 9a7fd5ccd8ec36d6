/*
 * Builds dist/: declarations by the compiler, and the code as some two hundred chunks. A command then reads a hundred
 * small files less. What package.json lists under
 * `dependencies` stays outside; what it lists under `devDependencies` is taken in, with its licence. Library and program
 * are built apart: nobody loads both, and chunks that both need would be cut smaller than either wants them.
 */
import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { build } from 'esbuild';

const { dependencies } = JSON.parse(readFileSync('package.json', 'utf8'));

// The compiler by its path: two packages bring a `tsc`, as tests and typedoc need the older one's functions.
const compiler = 'node_modules/@typescript/native/bin/tsc';
execFileSync(process.execPath, [compiler, '-b', 'tsconfig.json'], { stdio: 'inherit' });

const library = { index: 'src/index.ts' };
const program = { main: 'src/cli/main.ts', worker: 'src/cli/correct/worker.ts' };
const builds = await Promise.all(
  [library, program].map((entryPoints) =>
    build({
      entryPoints,
      outdir: 'dist',
      bundle: true,
      splitting: true,
      format: 'esm',
      platform: 'node',
      target: 'node20',
      external: Object.keys(dependencies),
      metafile: true,
      logLevel: 'warning',
    }),
  ),
);

const built = new Set(builds.flatMap(({ metafile }) => Object.keys(metafile.outputs)));
for (const name of readdirSync('dist', { recursive: true })) {
  if (name.endsWith('.js') && !built.has(`dist/${name}`)) rmSync(`dist/${name}`);
}

const packageOf = (path) => /.*node_modules\/(@[^/]+\/)?[^/]+/.exec(path)?.[0] ?? [];
const taken = new Set(builds.flatMap(({ metafile }) => Object.keys(metafile.inputs)).flatMap(packageOf));
const licences = [...taken].sort().map((folder) => {
  const { name, version } = JSON.parse(readFileSync(`${folder}/package.json`, 'utf8'));
  return `${name} ${version}\n\n${readFileSync(`${folder}/LICENSE`, 'utf8')}`;
});
writeFileSync('dist/LICENSES.txt', licences.join('\n\n'));
