import { defineConfig } from 'vitest/config';

// Two workers on two cores leave no room for threads of the picture library: a tenth less time.
process.env.VIPS_CONCURRENCY ??= '1';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    // A machine that does other things as well is slow, and no test of what comes out.
    testTimeout: 120_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    // Modules are loaded and made fast once a worker, not once a file: a third less time. No test replaces a module, the
    // clock or the environment of its process, and a bench gives the folder back, so that files have nothing to hide from each other.
    isolate: false,
    // What is made and dropped again is cleared away less often: a fifteenth less time.
    execArgv: ['--max-semi-space-size=64'],
    reporters: ['default', './tests/reporter.ts'],
  },
});
