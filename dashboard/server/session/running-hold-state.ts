import type { Estimate, HoldAnalysis, SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec, System } from '#analysis/model/system.ts'
import type { CompensatedCurve, LeakLook, PressureLost, RunningHold, StartHold } from '#dashboard/api.ts'
import type { HoldNote } from './hold-note.ts'
import { PressureLoss } from './pressure-loss.ts'
import type { Settled } from './settled.ts'
import { type HoldStage, StageMachine } from './stage-machine.ts'

/** A look tells more than this many points could: older ones are thinned to every second. */
const looksAtMost = 240

/** The hold that is running: its stages, what the looks at it showed, and who runs it. */
export class RunningHoldState {
  readonly spec: HoldSpec
  readonly machine: StageMachine
  readonly order: StartHold
  readonly systemText: string
  /** Allowance as a drop over the hold, [Pa]; known exactly once the first look has converted it. */
  #allowanceDropPa: number
  #looks: readonly LeakLook[] = []
  #analysis: HoldAnalysis | null = null
  settled: Settled | null = null
  atPressure = false
  readonly loss = new PressureLoss()
  #lost: PressureLost | null = null
  /** The pressure was lost once: no look before or after it says anything of this hold. */
  #isSpoiled = false
  /** Why the hold can prove nothing more; it runs on, for it is under pressure until it is vented. */
  broken: string | null = null
  /** File names of the photos taken so far. */
  photos: readonly string[] = []
  /** The stages come with the logger's own lines, as in a replay: none begins by itself. */
  follows = false
  /** When each stage began, epoch nanoseconds as decimal text. */
  readonly begunNs: Partial<Record<HoldStage, string>> = {}

  /** Marks from this bench time on belong to the hold, [s]. */
  readonly sinceS: number

  constructor(
    spec: HoldSpec,
    order: StartHold,
    systemText: string,
    startedS: number,
    sinceS = Number.NEGATIVE_INFINITY,
  ) {
    this.sinceS = sinceS
    this.spec = spec
    this.order = order
    this.systemText = systemText
    this.machine = new StageMachine(spec, startedS)
    this.#allowanceDropPa = 'dropPa' in spec.allow ? spec.allow.dropPa : 0
  }

  /** The hold of a note left by a program that was killed. */
  static fromNote(
    note: HoldNote,
    system: System,
    secondsOf: (timeNs: string) => number,
  ): RunningHoldState | null {
    const spec = system.holds.find(({ id }) => id === note.hold)
    const pumpUp = note.begun['pump-up']
    if (!spec || pumpUp === undefined) return null
    const { hold, operator, witness, stateSheet, retests, systemText } = note
    const state = new RunningHoldState(
      spec,
      { hold, operator, witness, stateSheet, retests },
      systemText,
      secondsOf(pumpUp),
    )
    Object.assign(state.begunNs, note.begun)
    state.broken = note.broken ?? null
    state.photos = note.photos ?? []
    for (const stage of ['settle', 'hold', 'vent'] as const) {
      const begun = note.begun[stage]
      if (begun !== undefined) state.machine.enter(stage, secondsOf(begun))
    }
    return state
  }

  /** The stage that began last is taken back; looks at a hold that never began are forgotten. */
  takeBackStage(): void {
    delete this.begunNs[this.machine.stage]
    this.machine.takeBack()
    if (this.machine.stage === 'hold') return
    this.#looks = []
    this.#analysis = null
  }

  /** What must survive a kill of the program. */
  note(recording: string): HoldNote {
    const { stage } = this.machine
    return {
      stillhold_running: 1,
      stage: stage === 'end' ? 'vent' : stage,
      begun: Object.fromEntries(Object.entries(this.begunNs).filter(([, ns]) => ns !== undefined)),
      recording,
      systemText: this.systemText,
      ...(this.broken !== null && { broken: this.broken }),
      photos: this.photos,
      ...this.order,
    }
  }

  /** A fall that waits for the operator's word. */
  get lost(): PressureLost | null {
    return this.#lost
  }

  /** The live verdict is taken back at once, and the looks with it. */
  losePressure(lost: PressureLost): void {
    this.#lost = lost
    this.#isSpoiled = true
    this.#analysis = null
  }

  /** @param goesOn the section still holds pressure: looks count again */
  answerLost(goesOn: boolean): void {
    this.#lost = null
    if (goesOn) this.#isSpoiled = false
  }

  /** What the allowance loses a second, [Pa/s]. */
  get allowedPaPerS(): number {
    const { pressurePa, holdS } = this.spec
    return (this.#allowanceDropPa || 0.01 * Math.abs(pressurePa)) / holdS
  }

  /** Upper bound of the fall at the last look, [Pa/s]. */
  get fallPaPerS(): number {
    const highPa = this.#looks.at(-1)?.dropPa.high ?? Number.NaN
    if (Number.isFinite(highPa)) return Math.max(highPa / this.spec.holdS, this.allowedPaPerS)
    // Before the first look only the run of the pressure at the end of settling tells.
    const slope = this.settled?.nowPaPerS ?? null
    const nothingKnown = 0.01 * Math.abs(this.spec.pressurePa)
    return slope === null ? nothingKnown : Math.max(Math.abs(slope), this.allowedPaPerS)
  }

  update(analysis: HoldAnalysis): void {
    if (this.#isSpoiled) return
    this.#analysis = analysis
    const { result } = analysis
    if (Number.isFinite(result.allowance.drop_Pa)) this.#allowanceDropPa = result.allowance.drop_Pa
    const leak = worstLeak(result.leak)
    if (!leak) return
    const all = leaksOf(result.leak)
    const look: LeakLook = {
      atS: result.seconds,
      dropPa: shortEstimate(leak.drop_Pa),
      ...(all.length > 1 && {
        sections: Object.fromEntries(all.map(({ section, drop_Pa }) => [section, shortEstimate(drop_Pa)])),
      }),
    }
    // A list of its own each time: whoever has the one before sees by that that there is something new.
    const looks = [...this.#looks, look]
    this.#looks = looks.length > looksAtMost ? looks.filter((_, index) => index % 2 === 1) : looks
  }

  show(nowS: number): RunningHold {
    const { machine, spec, settled } = this
    const result = this.#analysis?.result
    return {
      hold: spec.id,
      stage: shownStage(machine.stage),
      stageStartedS: machine.startedS,
      stageLengthS: machine.lengthS,
      looks: this.#looks,
      allowanceDropPa: this.#allowanceDropPa,
      verdict: result?.verdict ?? null,
      reasons: result?.reasons ?? [],
      decidesInS: result?.needs_seconds_more ?? null,
      proof: result?.proof ?? null,
      compensatedPa: Object.fromEntries(
        (this.#analysis?.curves ?? []).map(({ section, compensatedPa }) => [
          section,
          compensatedPa.at(-1) ?? Number.NaN,
        ]),
      ),
      pumpUpS: machine.begun['pump-up'] ?? null,
      time: spec.time ?? 'prescribed',
      lost: this.#lost,
      broken: this.broken,
      ...(machine.stage === 'pump-up' ? { atPressure: this.atPressure } : {}),
      ...(machine.stage === 'settle' && settled
        ? { settled: { ...settled, startsInS: machine.startsInS(nowS) } }
        : {}),
    }
  }

  curves(): CompensatedCurve[] {
    return (this.#analysis?.curves ?? []).map(({ section, timeS, compensatedPa }) => ({
      section,
      timeS: Array.from(timeS),
      compensatedPa: Array.from(compensatedPa),
    }))
  }
}

function shownStage(stage: HoldStage): RunningHold['stage'] {
  return stage === 'end' ? 'vent' : stage
}

function leaksOf(leak: HoldAnalysis['result']['leak']): readonly SectionLeak[] {
  if (leak === null) return []
  return 'drop_Pa' in leak ? [leak] : leak
}

/** Of several sections the one with the largest leak that cannot be excluded. */
function worstLeak(leak: HoldAnalysis['result']['leak']): SectionLeak | null {
  return leaksOf(leak).reduce<SectionLeak | null>(
    (worst, each) => (worst && worst.drop_Pa.high >= each.drop_Pa.high ? worst : each),
    null,
  )
}

/** Digits that a chart can show and more. */
const digits = 6

/**
 * An estimate as the page draws it, in fewer digits. The bounds go outwards, so that a shortened interval never seems
 * to lie on one side of an allowance where the whole one does not.
 */
export function shortEstimate({ value, low, high }: Estimate): Estimate {
  return { value: Number(value.toPrecision(digits)), low: -atLeast(-low), high: atLeast(high) }
}

function atLeast(value: number): number {
  const near = Number(value.toPrecision(digits))
  if (!(near < value)) return near
  const step = 10 ** (Math.floor(Math.log10(Math.abs(value))) + 1 - digits)
  return Number((near + step).toPrecision(digits))
}
