/**
 * Speed against general-purpose libraries, as ratios in one run: `npm run bench`, or with the name of one benchmark and
 * what it takes: `npm run bench scale predict 4000 64000`.
 */
const BENCHMARKS = ['commands', 'export', 'guard', 'trace', 'scale'];

const [wanted, ...more] = process.argv.slice(2);
for (const name of BENCHMARKS.filter((one) => wanted === undefined || one === wanted)) {
  const { main } = (await import(`./${name}.js`)) as {
    main: (log: (line: string) => void, names: readonly string[]) => Promise<void>;
  };
  console.log(`\n${name} (Node ${process.version})`);
  await main((line) => console.log(`  ${line}`), more);
}
