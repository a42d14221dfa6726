#!/usr/bin/env node
import { register as registerAnalyze } from './analyze.ts'
import { register as registerArchive } from './archive.ts'
import { register as registerCalibrateCheck } from './calibrate-check.ts'
import { register as registerCampaign } from './campaign.ts'
import { register as registerCompare } from './compare.ts'
import { register as registerCompletion } from './completion.ts'
import { register as registerExport } from './export.ts'
import { register as registerFlow } from './flow.ts'
import { register as registerHistory } from './history.ts'
import { register as registerHunt } from './hunt.ts'
import { register as registerImport } from './import.ts'
import { register as registerInit } from './init.ts'
import { register as registerLedger } from './ledger.ts'
import { register as registerLevel } from './level.ts'
import { newProgram } from './new-program.ts'
import { register as registerPlan } from './plan.ts'
import { register as registerRecord } from './record.ts'
import { register as registerReport } from './report.ts'
import { register as registerSeal } from './seal.ts'
import { register as registerServe } from './serve.ts'
import { register as registerTorque } from './torque.ts'
import { register as registerVerify } from './verify.ts'
import { register as registerWet } from './wet.ts'

declare const __STILLHOLD_VERSION__: string | undefined

/** Version of package.json, put in by the build; `0.0.0-dev` when run from the sources. */
export const version = typeof __STILLHOLD_VERSION__ === 'string' ? __STILLHOLD_VERSION__ : '0.0.0-dev'

// Whoever reads the results may stop reading (`| head`): no fault of ours.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error
  process.exit()
})

const program = newProgram(version)

registerServe(program)
registerInit(program)
registerPlan(program)
registerRecord(program)
registerImport(program)
registerAnalyze(program)
registerCalibrateCheck(program)
registerHunt(program)
registerCompare(program)
registerLedger(program)
registerCampaign(program)
registerHistory(program)
registerFlow(program)
registerLevel(program)
registerTorque(program)
registerWet(program)
registerSeal(program)
registerReport(program)
registerVerify(program)
registerExport(program)
registerArchive(program)
registerCompletion(program)

await program.parseAsync()
