import { type ClosingHold, closingHolds, isPlug, plugS } from '#analysis/hunt/closing-holds.ts'
import { holdsInOrder, marksInOrder } from '#analysis/hunt/evidence-order.ts'
import type { Isolation } from '#analysis/hunt/isolations.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import { rigStanding } from '#analysis/hunt/rig.ts'
import type { Campaign, CampaignStep } from '#analysis/model/campaign.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { Ledger } from '#analysis/model/ledger.ts'
import type { System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { overdueCalibrations } from '#analysis/reasons/hold-cautions.ts'
import { planHold } from './plan-hold.ts'

export interface CampaignOptions {
  /** A rig proven in the day before counts. */
  readonly nowNs: bigint
  /** Asks the plan of each hold what its stated times can decide; some tenths of a second each. */
  readonly withPlans?: boolean
}

/** The set-ups that close the ledger in the least time: the rig first, every plug out last. */
export function campaign(system: System, evidence: readonly Evidence[], options: CampaignOptions): Campaign {
  const state = ledger(system, evidence)
  const parts = state.fittings.filter((f) => !f.rig)
  const unproven = parts.filter((f) => f.proof.state !== 'proven').map((f) => f.id)
  const failed = new Set(parts.filter((f) => f.proof.state === 'failed').map((f) => f.id))
  const pluggedNow = new Set([...state.plugs_in.map(({ id }) => id), ...capsOfHolds(system, evidence)])
  const rigs = new Set(
    system.sections
      .map(({ id }) => id)
      .filter((id) => rigStanding(evidence, id, options.nowNs).state === 'proven'),
  )
  const closing = closingHolds(system, unproven, { plugs: pluggedNow, rigs })
  const steps: CampaignStep[] = []
  const plugged = new Set(pluggedNow)
  const cautions = (isolation: Isolation): string[] => stepCautions(system, isolation, options)
  for (const alone of closing.rigs)
    steps.push({
      ...setUp(system, alone, [], plugged, cautions(alone)),
      kind: 'rig',
      title: `Prove the rig alone with ${alone.hold}`,
    })
  for (const { isolation, proves } of inOrder(closing.holds, shutLast(evidence))) {
    const step = setUp(system, isolation, proves, plugged, cautions(isolation))
    steps.push({ ...step, repair_first: proves.filter((id) => failed.has(id)) })
  }
  if (plugged.size > 0) steps.push(plugsOut([...plugged], pluggedNow))
  const minutes = steps.reduce((sum, s) => sum + s.minutes, 0)
  const complete = state.complete && pluggedNow.size === 0
  const plan = { complete, steps, minutes, uncoverable: closing.uncoverable }
  return {
    stillhold: 1,
    system: system.name,
    ...plan,
    message: inOneSentence(state, plan, failed),
    proven: state.counts.proven,
    total: parts.length,
    done: provingRecords(state),
    bound_minutes: minutes - (closing.seconds - closing.boundS) / 60,
    exact: closing.exact,
    plugs_in: [...pluggedNow],
  }
}

/** Puts the plugs that it needs among those that are in. */
function setUp(
  system: System,
  isolation: Isolation,
  proves: readonly string[],
  plugged: Set<string>,
  cautions: readonly string[],
): CampaignStep {
  const spec = system.holds.find((h) => h.id === isolation.hold)
  const { sections, shut, seconds } = isolation
  const plugs = shut.filter((id) => isPlug(system, id) && !plugged.has(id))
  for (const id of plugs) plugged.add(id)
  const within = (ends: readonly string[]): boolean => ends.every((s) => sections.includes(s))
  return {
    kind: 'hold',
    title: spec ? `Hold ${spec.id}` : `Hold ${sections.join(' and ')}, which the file does not name: add it`,
    hold: isolation.hold,
    sections,
    shut,
    open: system.valves.filter((v) => !shut.includes(v.id) && within(v.between)).map((v) => v.id),
    plugs,
    gauges: isolation.measured.flatMap((body) =>
      body.channels.map((channel) => ({
        channel,
        section: system.channels.find((c) => c.id === channel)?.section ?? body.sections[0],
      })),
    ),
    pressure_Pa: isolation.pressurePa,
    settle_seconds: spec?.settleS ?? null,
    hold_seconds: spec?.holdS ?? null,
    minutes: (seconds + (plugS / 2) * plugs.length) / 60,
    proves,
    repair_first: [],
    cautions,
  }
}

function plugsOut(plugs: readonly string[], pluggedNow: ReadonlySet<string>): CampaignStep {
  const later = plugs.filter((id) => !pluggedNow.has(id)).length
  return {
    kind: 'plugs-out',
    title: `Take out ${plugs.join(', ')} and mark ${plugs.length === 1 ? 'it' : 'each one'} out`,
    hold: null,
    sections: [],
    shut: [],
    open: [],
    plugs,
    gauges: [],
    pressure_Pa: null,
    settle_seconds: null,
    hold_seconds: null,
    minutes: ((plugS / 2) * plugs.length) / 60,
    proves: [],
    repair_first: [],
    cautions: later < plugs.length ? [`In now: ${[...pluggedNow].join(', ')}.`] : [],
  }
}

/** From one set-up to the one with the fewest valves to turn. */
function inOrder(holds: readonly ClosingHold[], shutNow: readonly string[]): ClosingHold[] {
  const left = [...holds].sort((a, b) => b.proves.length - a.proves.length)
  const order: ClosingHold[] = []
  const turns = ({ isolation }: ClosingHold): number => {
    const before = order.at(-1)?.isolation.shut ?? shutNow
    const both = isolation.shut.filter((id) => before.includes(id)).length
    return before.length + isolation.shut.length - 2 * both
  }
  while (left.length > 0) {
    const next = left.reduce((best, h) => (turns(h) < turns(best) ? h : best))
    order.push(next)
    left.splice(left.indexOf(next), 1)
  }
  return order
}

/** Valves as the last hold left them. */
function shutLast(evidence: readonly Evidence[]): readonly string[] {
  const last = holdsInOrder(evidence).at(-1)?.evidence
  return last?.system.holds.find((h) => h.id === last.result.hold)?.shut ?? []
}

function stepCautions(system: System, isolation: Isolation, { withPlans, nowNs }: CampaignOptions): string[] {
  const spec = system.holds.find((h) => h.id === isolation.hold)
  if (spec === undefined) return ['The file states no allowance and no times for it.']
  const today = new Date(Number(nowNs / 1_000_000n)).toISOString().slice(0, 10)
  const overdue = overdueCalibrations(spec, system, today)
  const plan = withPlans ? planHold(system, spec.id) : null
  if (plan === null) return overdue
  const { settle_seconds, needed_seconds, needed_settle_seconds: settleS } = plan
  return [
    ...overdue,
    ...(plan.decides
      ? []
      : [
          needed_seconds === null
            ? 'Its gauge cannot decide this hold in any reasonable time.'
            : `It decides only after ${duration(needed_seconds)}.`,
        ]),
    ...(settleS > settle_seconds ? [`It needs ${duration(settleS)} to settle.`] : []),
  ]
}

/** A cap that a hold was made with is in until it is marked out: most are put in without a mark. */
function capsOfHolds(system: System, evidence: readonly Evidence[]): string[] {
  const marks = marksInOrder(evidence)
  const out = (id: string, sinceNs: bigint): boolean =>
    marks.some(
      ({ timeNs, mark }) =>
        timeNs > sinceNs &&
        mark.id === id &&
        ((mark.kind === 'plug' && (mark.fields.state === 'out' || mark.fields.in === false)) ||
          (mark.kind === 'valve' && mark.fields.open === true)),
    )
  return holdsInOrder(evidence).flatMap(({ startNs, evidence: held }) => {
    const shut = held.system.holds.find((h) => h.id === held.result.hold)?.shut ?? []
    return shut.filter((id) => isPlug(system, id) && !out(id, startNs))
  })
}

function provingRecords({ fittings }: Ledger): Campaign['done'] {
  const done = new Map<string, { record: string; hold: string | null; proves: string[] }>()
  for (const { id, rig, proof } of fittings) {
    if (rig || proof.state !== 'proven' || proof.record === null) continue
    const known = done.get(proof.record) ?? { record: proof.record, hold: proof.hold, proves: [] }
    known.proves.push(id)
    done.set(proof.record, known)
  }
  return [...done.values()].sort((a, b) => a.record.localeCompare(b.record))
}

function inOneSentence(
  state: Ledger,
  { complete, steps, minutes, uncoverable }: Pick<Campaign, 'complete' | 'steps' | 'minutes' | 'uncoverable'>,
  failed: ReadonlySet<string>,
): string {
  if (complete) return state.message
  const holds = steps.filter(({ kind }) => kind !== 'plugs-out').length
  const first = failed.size > 0 ? ` First find the leak: ${[...failed].join(', ')} failed.` : ''
  const rest = uncoverable.length > 0 ? ` No hold covers ${uncoverable.map(({ id }) => id).join(', ')}.` : ''
  if (holds === 0) return `${state.message}${steps.length > 0 ? ` ${steps[0].title}.` : ''}${rest}`
  const one = holds === 1 ? 's' : ''
  const all = uncoverable.length > 0 ? `cover${one} what can be covered` : `close${one} the ledger`
  return `${holds} set-up${holds === 1 ? '' : 's'}, about ${duration(minutes * 60)}, ${all}.${first}${rest}`
}
