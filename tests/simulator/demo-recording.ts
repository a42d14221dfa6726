import type { Verdict } from '#analysis/model/hold-result.ts'
import type { System } from '#analysis/model/system.ts'
import type { ScriptedSession } from './scripted-session.ts'

/** A recording of the demo scenario: what happened, and what an honest analysis makes of it. */
export interface DemoRecording {
  readonly name: string
  readonly about: string
  readonly seed: number
  readonly hold: string
  /** True leak of the section under test, in multiples of the allowance. */
  readonly leakOverAllowance: number
  readonly verdict: Verdict
  play(system: System, seed: number): ScriptedSession
}
