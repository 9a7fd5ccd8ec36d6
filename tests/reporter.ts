import type { Reporter, TestCase } from 'vitest/node';

/** Closes a run with one plain line that any build log reader can count. */
export default class ClosingLine implements Reporter {
  private passed = 0;
  private failed = 0;
  private skipped = 0;

  onTestCaseResult(test: TestCase): void {
    const { state } = test.result();
    if (state === 'passed') this.passed += 1;
    else if (state === 'failed') this.failed += 1;
    else this.skipped += 1;
  }

  onTestRunEnd(): void {
    const skipped = this.skipped > 0 ? `, ${this.skipped} skipped` : '';
    process.stdout.write(`\n${this.passed} passed, ${this.failed} failed${skipped}\n`);
  }
}
