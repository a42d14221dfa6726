import fc from 'fast-check'
import { afterAll } from 'vitest'
import { endAll } from './at-end.ts'

// Property tests draw the same cases each time: a run says the same twice. tests/fuzz/run.ts draws anew.
fc.configureGlobal({ seed: 20261125 })
afterAll(endAll)
