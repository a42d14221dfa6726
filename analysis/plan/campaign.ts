import { type ClosingHold, closingHolds, isPlug, moveS, plugS } from '#analysis/hunt/closing-holds.ts'
import { holdsInOrder, marksInOrder } from '#analysis/hunt/evidence-order.ts'
import { type Ledger, ledger } from '#analysis/hunt/ledger.ts'
import { rigStanding } from '#analysis/hunt/rig.ts'
import type { Campaign, CampaignStep } from '#analysis/model/campaign.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { Channel, System } from '#analysis/model/system.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { overdueCalibrations } from '#analysis/reasons/hold-cautions.ts'
import { planHold } from './plan-hold.ts'

export interface CampaignOptions {
  /** Current time: a rig proven within the last day counts. */
  readonly nowNs: bigint
  /** Plans each hold to see if its stated times can decide it; takes some tenths of a second each. */
  readonly withPlans?: boolean
}

/** Set-ups that close the ledger in the least time: the rig first, all plugs out last. */
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
  const places = new Set(placesNow(system, evidence))
  const closing = closingHolds(system, unproven, { plugs: pluggedNow, rigs, places })
  const bench = benchOf(system, pluggedNow, places, options)
  const steps: CampaignStep[] = closing.rigs.map((alone) => ({
    ...bench.setUp(alone),
    kind: 'rig',
    title: `Prove the rig alone with ${alone.isolation.hold}`,
  }))
  for (const hold of inOrder(bench, closing.holds, shutLast(evidence)))
    steps.push({ ...bench.setUp(hold), repair_first: hold.proves.filter((id) => failed.has(id)) })
  const { plugged } = bench
  if (plugged.size > 0) steps.push(plugsOut([...plugged], pluggedNow))
  const minutes = steps.reduce((sum, s) => sum + s.minutes, 0)
  // Returning a gauge to a place costs another move.
  const movedAgainS = (bench.moves() - closing.moves) * moveS
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
    bound_minutes: minutes - (movedAgainS + closing.seconds - closing.boundS) / 60,
    exact: closing.exact && movedAgainS === 0,
    plugs_in: [...pluggedNow],
  }
}

/** State of plugs and gauge places between set-ups. */
function benchOf(
  system: System,
  pluggedNow: ReadonlySet<string>,
  places: ReadonlySet<string>,
  options: CampaignOptions,
) {
  const plugged = new Set(pluggedNow)
  const sitting = new Map(movableOf([...places]).map((c) => [c.movable!.id, c.id]))
  let moves = 0

  function movableOf(channels: readonly string[]): Channel[] {
    return system.channels.filter((c) => c.movable !== undefined && channels.includes(c.id))
  }

  /** Channels whose gauge is at another place now. */
  function toMove(channels: readonly string[]): string[] {
    return movableOf(channels).flatMap((c) => (sitting.get(c.movable!.id) === c.id ? [] : [c.id]))
  }

  function setUp({ isolation, proves, channels }: ClosingHold): CampaignStep {
    const spec = system.holds.find((h) => h.id === isolation.hold)
    const { sections, shut, seconds } = isolation
    const plugs = shut.filter((id) => isPlug(system, id) && !plugged.has(id))
    for (const id of plugs) plugged.add(id)
    const moved = toMove(channels)
    moves += moved.length
    for (const { id, movable } of movableOf(moved)) sitting.set(movable!.id, id)
    const within = (ends: readonly string[]): boolean => ends.every((s) => sections.includes(s))
    return {
      kind: 'hold',
      title: spec
        ? `Hold ${spec.id}`
        : `Hold ${sections.join(' and ')}, which the file does not name: add it`,
      hold: isolation.hold,
      sections,
      shut,
      open: system.valves.filter((v) => !shut.includes(v.id) && within(v.between)).map((v) => v.id),
      plugs,
      gauges: system.channels
        .filter(({ id }) => channels.includes(id))
        .map(({ id, section, movable }) => ({
          channel: movable?.id ?? id,
          section: section!,
          move: moved.includes(id),
        })),
      pressure_Pa: isolation.pressurePa,
      settle_seconds: spec?.settleS ?? null,
      hold_seconds: spec?.holdS ?? null,
      minutes: (seconds + (plugS / 2) * plugs.length + moveS * moved.length) / 60,
      proves,
      repair_first: [],
      cautions: stepCautions(system, isolation, options),
    }
  }

  return { plugged, toMove, setUp, moves: () => moves }
}

/** Channels of movable gauges at their places by the last mark. */
function placesNow(system: System, evidence: readonly Evidence[]): string[] {
  const sits = new Map<string, string>()
  for (const { mark } of marksInOrder(evidence))
    if (mark.kind === 'place' && mark.id !== null) sits.set(mark.id, String(mark.fields.section))
  return system.channels.flatMap(({ id, movable, section }) =>
    movable !== undefined && sits.get(movable.id) === section ? [id] : [],
  )
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

/** Greedy order: next the set-up with the fewest gauges to move, then the fewest valves to turn. */
function* inOrder(
  bench: ReturnType<typeof benchOf>,
  holds: readonly ClosingHold[],
  shutNow: readonly string[],
): Generator<ClosingHold> {
  const left = [...holds].sort((a, b) => b.proves.length - a.proves.length)
  let before = shutNow
  const effort = ({ isolation: { shut }, channels }: ClosingHold): number => {
    const both = shut.filter((id) => before.includes(id)).length
    return 1000 * bench.toMove(channels).length + before.length + shut.length - 2 * both
  }
  while (left.length > 0) {
    const next = left.reduce((best, h) => (effort(h) < effort(best) ? h : best))
    left.splice(left.indexOf(next), 1)
    before = next.isolation.shut
    yield next
  }
}

/** Valves that the last hold left shut. */
function shutLast(evidence: readonly Evidence[]): readonly string[] {
  return holdsInOrder(evidence).at(-1)?.spec?.shut ?? []
}

function stepCautions(
  system: System,
  isolation: ClosingHold['isolation'],
  { withPlans, nowNs }: CampaignOptions,
): string[] {
  const spec = system.holds.find((h) => h.id === isolation.hold)
  if (spec === undefined) return ['The file states no allowance and no times for it.']
  const overdue = overdueCalibrations(spec, system, isoTime(nowNs).slice(0, 10))
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

/** A cap used in a hold counts as in until it is marked out: most are put in without a mark. */
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
  return holdsInOrder(evidence).flatMap(({ startNs, spec }) =>
    (spec?.shut ?? []).filter((id) => isPlug(system, id) && !out(id, startNs)),
  )
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
