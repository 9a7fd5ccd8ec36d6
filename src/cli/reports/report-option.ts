import type { Command } from 'commander';

/** Whether a report is written; the same for every command that makes one. */
export function addReportOption(command: Command, where: string): Command {
  return command
    .option('--report', `write a report ${where}, as a page and as PDF`)
    .option('--no-report', 'none, although apertrue.json asks for it');
}
