import { liveThrough, sessionsOf, withoutRefit, witnessFeatures, type Year } from '../fit/drift/year.js';

/** Years at a virtual bench, at length: refusals without a change, and when changes are seen. A few minutes. */
export async function main(log: (line: string) => void = console.log): Promise<void> {
  const features = await witnessFeatures();
  const refusedOn = (year: Year): number =>
    liveThrough(sessionsOf(features, year), withoutRefit).held.findIndex(({ changed }) => changed) + 1;
  const years = 18;
  const quiet = Array.from({ length: years }, (_, seed) => refusedOn({ days: 52, seed: 1000 + seed }));
  log(`no change: ${quiet.filter((day) => day > 0).length} of ${years} years of 52 additions have a refusal (aim 0)`);
  for (const at of [3, 10, 30]) {
    const growth = (day: number): number => (day >= at ? 0.015 : 0);
    const first = Array.from({ length: 40 }, (_, seed) => refusedOn({ days: at + 1, seed, growth }));
    const early = first.filter((day) => day > 0 && day < at).length;
    log(
      `step of 15 um in week ${at}: ${first.filter((day) => day >= at).length} of ${40 - early} seen within two weeks (aim 9 of 10); ${early} refused before`,
    );
  }
  for (const umAWeek of [0.3, 0.5, 1]) {
    const days = 52;
    const named = Array.from({ length: 12 }, (_, seed) =>
      refusedOn({ days, seed: 2000 + seed, growth: (day) => (umAWeek * day) / 1000 }),
    );
    const weeks = named.map((day) => day || days).sort((a, b) => a - b);
    log(
      `drift of ${umAWeek} um a week, named in week: ${named.map((day) => day || 'never').join(' ')}; the kerf has moved by ${(umAWeek * weeks[6]).toFixed(0)} um then in the middle, ${(umAWeek * weeks[11]).toFixed(0)} um at most`,
    );
  }
}

if (import.meta.url === `file://${process.argv[1]}`) await main();
