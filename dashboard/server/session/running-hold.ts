import { type Estimate, type HoldAnalysis, leaksOf, type SectionLeak } from '#analysis/model/hold-result.ts'
import type { HoldSpec } from '#analysis/model/system.ts'
import type {
  CompensatedCurve,
  LeakLook,
  PressureLost,
  RunningHold as ShownHold,
  StartHold,
} from '#dashboard/api.ts'
import type { HoldNote } from './hold-note.ts'
import { PressureLoss, type SectionNow, type Settled, settled } from './pressure-watch.ts'
import type { SessionCore } from './session-core.ts'
import { type HoldStage, StageMachine } from './stage-machine.ts'

/** Bench time between looks, and before the first, [s]. */
const lookEveryS = 3
const firstLookAtS = 20
/** Minimum real time between looks, [ms]: the demo's time runs fast. */
const lookEveryMs = 700
/** Bench time between evaluations of a settling section, [s]. */
const settlingEveryS = 2

/** More looks than this add nothing: they are thinned to every second, and the newest is kept. */
const looksAtMost = 240

/**
 * The running hold: its stages and operator, its settling, any pressure loss, and the results of the
 * looks so far.
 */
export class RunningHold {
  readonly spec: HoldSpec
  readonly machine: StageMachine
  readonly order: StartHold
  readonly #core: SessionCore
  readonly #systemText: string
  /** Marks from this bench time on belong to the hold, [s]. */
  readonly #sinceS: number
  /** Allowance as a pressure drop over the hold, [Pa]; exact only after the first look has converted it. */
  #allowanceDropPa: number
  #looks: readonly LeakLook[] = []
  #analysis: HoldAnalysis | null = null
  #isLooking = false
  #lookedAtS = Number.NEGATIVE_INFINITY
  #lookedAtMs = Number.NEGATIVE_INFINITY
  #settled: Settled | null = null
  #settledAtS = Number.NEGATIVE_INFINITY
  #isAtPressure = false
  readonly #loss = new PressureLoss()
  /** A pressure drop that waits for the operator's answer. */
  lost: PressureLost | null = null
  /** The pressure was lost once: no look of this hold is valid. */
  #isSpoiled = false
  /** Why the hold can prove nothing more; it continues because the section is under pressure until vented. */
  broken: string | null = null
  /** File names of the photos taken so far. */
  photos: readonly string[] = []
  /** The stages come with the logger's lines, as in a replay: none starts automatically. */
  follows = false
  /** The hold or the session ended: the result of a pending look is discarded. */
  isOver = false
  /** Start of each stage, epoch nanoseconds as decimal text. */
  readonly begunNs: Partial<Record<HoldStage, string>> = {}

  constructor(
    core: SessionCore,
    spec: HoldSpec,
    order: StartHold,
    startedS: number,
    sinceS = Number.NEGATIVE_INFINITY,
  ) {
    this.#core = core
    this.#sinceS = sinceS
    this.spec = spec
    this.order = order
    this.#systemText = core.systemFile.text
    this.machine = new StageMachine(spec, startedS)
    this.#allowanceDropPa = 'dropPa' in spec.allow ? spec.allow.dropPa : 0
  }

  /** The hold of a note left by a killed program, run against the same system file. */
  static fromNote(note: HoldNote, core: SessionCore): RunningHold | null {
    const spec = core.systemFile.system.holds.find(({ id }) => id === note.hold)
    const pumpUp = note.begun['pump-up']
    if (!spec || pumpUp === undefined) return null
    const { hold, operator, witness, stateSheet, retests } = note
    const secondsOf = (ns: string) => core.seconds(BigInt(ns))
    const order = { hold, operator, witness, stateSheet, retests }
    const running = new RunningHold(core, spec, order, secondsOf(pumpUp))
    Object.assign(running.begunNs, note.begun)
    running.broken = note.broken ?? null
    running.photos = note.photos ?? []
    for (const stage of ['settle', 'hold', 'vent'] as const) {
      const begun = note.begun[stage]
      if (begun !== undefined) running.machine.enter(stage, secondsOf(begun))
    }
    return running
  }

  /** Gauge pressures of its measured sections now, [Pa]. */
  gaugePa(): number[] {
    return this.#standing().map(({ gaugePa }) => gaugePa)
  }

  #standing(): SectionNow[] {
    return this.#core.channels.standing(this.spec.sections)
  }

  update(timeS: number): void {
    const { machine } = this
    const standing = this.#standing()
    if (machine.stage === 'pump-up')
      this.#isAtPressure = machine.isAtPressure(standing.map(({ gaugePa }) => gaugePa))
    if (machine.stage === 'settle') this.#judgeSettling(timeS)
    if ((machine.stage !== 'settle' && machine.stage !== 'hold') || this.lost) return
    const lost = this.#loss.update(standing)
    if (!lost) return
    // The live verdict and the looks are withdrawn at once.
    this.lost = lost
    this.#isSpoiled = true
    this.#analysis = null
    this.#core.changed()
  }

  /** Sets the present pressure as the reference for later readings. */
  anchor(standing = this.#standing()): void {
    this.#loss.anchor(standing, this.#fallPaPerS())
  }

  /** Has the analysis evaluate the hold so far, at intervals. */
  look(nowS: number): void {
    const nowMs = performance.now()
    if (this.#isLooking || this.lost || nowS - this.machine.startedS < firstLookAtS) return
    if (nowS - this.#lookedAtS < lookEveryS || nowMs - this.#lookedAtMs < lookEveryMs) return
    this.#isLooking = true
    this.#lookedAtS = nowS
    this.#lookedAtMs = nowMs
    const standing = this.#standing()
    this.#core.thread
      .ask('look', this.spec.id, this.#core.marks.since(this.#sinceS))
      .then((analysis) => {
        if (analysis && !this.isOver && this.machine.stage === 'hold') {
          this.#take(analysis)
          // Pressure at the time of this look: a later drop is not in its interval.
          this.anchor(standing)
        }
        this.#core.changed()
      })
      .catch((error: Error) => {
        if (!this.isOver) this.#core.log(`the look at the running hold failed: ${error.message}`)
      })
      .finally(() => {
        this.#isLooking = false
      })
  }

  #judgeSettling(nowS: number): void {
    if (Math.abs(nowS - this.#settledAtS) < settlingEveryS) return
    this.#settledAtS = nowS
    const { machine, spec } = this
    const wasReady = this.#settled?.ready ?? false
    const each = spec.sections.flatMap((section) => {
      const gauge = this.#core.channels.gaugeSince(section, Math.max(machine.startedS, nowS - 60))
      return gauge ? [settled(gauge, this.#allowedPaPerS, { settleS: spec.settleS, wasReady })] : []
    })
    this.#settled = each.find(({ ready }) => !ready) ?? each[0] ?? null
    const isSound = machine.isAtPressure(this.gaugePa()) && !this.lost && this.broken === null
    machine.settling(nowS, this.#settled?.ready === true && isSound)
    this.anchor()
    this.#core.changed()
  }

  /** Withdraws the stage that began last; looks at a withdrawn hold stage are discarded. */
  takeBackStage(): void {
    delete this.begunNs[this.machine.stage]
    this.machine.takeBack()
    if (this.machine.stage === 'hold') return
    this.#looks = []
    this.#analysis = null
  }

  /** State that must survive a kill of the program. */
  note(recording: string): HoldNote {
    const { stage } = this.machine
    return {
      stillhold_running: 1,
      stage: stage === 'end' ? 'vent' : stage,
      begun: Object.fromEntries(Object.entries(this.begunNs).filter(([, ns]) => ns !== undefined)),
      recording,
      systemText: this.#systemText,
      ...(this.broken !== null && { broken: this.broken }),
      photos: this.photos,
      ...this.order,
    }
  }

  /** @param goesOn the section still holds pressure: looks are valid again */
  answerLost(goesOn: boolean): void {
    this.lost = null
    if (goesOn) this.#isSpoiled = false
  }

  /** Rate of the allowance, [Pa/s]. */
  get #allowedPaPerS(): number {
    const { pressurePa, holdS } = this.spec
    return (this.#allowanceDropPa || 0.01 * Math.abs(pressurePa)) / holdS
  }

  /** Upper bound of the drop rate at the last look, [Pa/s]. */
  #fallPaPerS(): number {
    const highPa = this.#looks.at(-1)?.dropPa.high ?? Number.NaN
    if (Number.isFinite(highPa)) return Math.max(highPa / this.spec.holdS, this.#allowedPaPerS)
    // Before the first look, the trend at the end of settling is the only evidence.
    const slope = this.#settled?.nowPaPerS ?? null
    const nothingKnown = 0.01 * Math.abs(this.spec.pressurePa)
    return slope === null ? nothingKnown : Math.max(Math.abs(slope), this.#allowedPaPerS)
  }

  #take(analysis: HoldAnalysis): void {
    if (this.#isSpoiled) return
    this.#analysis = analysis
    const { result } = analysis
    if (Number.isFinite(result.allowance.drop_Pa)) this.#allowanceDropPa = result.allowance.drop_Pa
    const all = leaksOf(result)
    const leak = worstLeak(all)
    if (!leak) return
    const look: LeakLook = {
      atS: result.seconds,
      dropPa: shortEstimate(leak.drop_Pa),
      ...(all.length > 1 && {
        sections: Object.fromEntries(all.map(({ section, drop_Pa }) => [section, shortEstimate(drop_Pa)])),
      }),
    }
    // A new array each time: consumers detect a change by identity.
    const looks = [...this.#looks, look]
    this.#looks = looks.length > looksAtMost ? looks.filter((_, index) => index % 2 === 0) : looks
  }

  show(nowS: number): ShownHold {
    const { machine, spec } = this
    const result = this.#analysis?.result
    return {
      hold: spec.id,
      stage: machine.stage === 'end' ? 'vent' : machine.stage,
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
      lost: this.lost,
      broken: this.broken,
      ...(machine.stage === 'pump-up' ? { atPressure: this.#isAtPressure } : {}),
      ...(machine.stage === 'settle' && this.#settled
        ? { settled: { ...this.#settled, startsInS: machine.startsInS(nowS) } }
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

/** The section with the largest leak that cannot be excluded. */
function worstLeak(leaks: readonly SectionLeak[]): SectionLeak | null {
  return leaks.reduce<SectionLeak | null>(
    (worst, each) => (worst && worst.drop_Pa.high >= each.drop_Pa.high ? worst : each),
    null,
  )
}

/** More digits than a chart can show. */
const digits = 6

/**
 * An estimate for the page, in fewer digits. The bounds are rounded outwards, so that a shortened interval never seems
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
