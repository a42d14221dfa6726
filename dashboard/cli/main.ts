#!/usr/bin/env node
import { setFlagsFromString } from 'node:v8'
import { programFor } from './commands.ts'

// A command runs most of its code a few times: Node 20 would optimize it early and throw that away. Later ones lack the flag.
if (process.versions.node.startsWith('20.')) setFlagsFromString('--interrupt-budget=400000')

// The reader of the results may close the pipe (`| head`): this is no error.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
  process.exit()
})

const program = await programFor(process.argv.slice(2))
await program.parseAsync()
