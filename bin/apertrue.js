#!/usr/bin/env node
import module from 'node:module';

// Node 22.8 and later keep what they have compiled for the next run, in their folder for temporary files.
module.enableCompileCache?.();
const { main } = await import('../dist/main.js');

process.exitCode = await main(process.argv.slice(2));
