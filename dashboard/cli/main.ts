#!/usr/bin/env node
import { programFor } from './commands.ts'

// The reader of the results may close the pipe (`| head`): this is no error.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
  process.exit()
})

const program = await programFor(process.argv.slice(2))
await program.parseAsync()
