#!/usr/bin/env node
import module from 'node:module';
import { setFlagsFromString } from 'node:v8';

// Node 22.8 and later keep what they have compiled for the next run, in their folder for temporary files.
module.enableCompileCache?.();
// A run is over before much of its code has paid for being optimised: eight times as long as usual is waited for that.
setFlagsFromString('--interrupt-budget=540672');
const { main } = await import('../dist/main.js');

process.exitCode = await main(process.argv.slice(2));
