#!/usr/bin/env node
import { programFor } from './commands.ts'

// Whoever reads the results may stop reading (`| head`): no fault of ours.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
  process.exit()
})

const program = await programFor(process.argv.slice(2))
await program.parseAsync()
