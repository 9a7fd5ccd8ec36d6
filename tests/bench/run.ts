/** Speed against general-purpose libraries, as ratios in one run: `npm run bench`, or with names of benchmarks to run. */
const BENCHMARKS = ['commands', 'export', 'guard', 'trace'];

const wanted = process.argv.slice(2);
for (const name of BENCHMARKS.filter((one) => wanted.length === 0 || wanted.includes(one))) {
  const { main } = (await import(`./${name}.js`)) as { main: (log?: (line: string) => void) => Promise<void> };
  console.log(`\n${name} (Node ${process.version})`);
  await main((line) => console.log(`  ${line}`));
}
