#!/usr/bin/env node
import module from 'node:module';
import { setFlagsFromString } from 'node:v8';

// Node 22.8 and later keep what they have compiled for the next run, in their folder for temporary files.
module.enableCompileCache?.();
// Node 20 optimises code that is over before that has paid: it waits eight times as long here. Later ones know better.
if (process.version.startsWith('v20.')) setFlagsFromString('--interrupt-budget=540672');
const { main } = await import('../dist/main.js');

process.exitCode = await main(process.argv.slice(2));
