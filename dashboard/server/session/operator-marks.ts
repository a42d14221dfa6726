import { isKnownId } from '#analysis/hunt/effects-of-work.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { MarkMaker } from '#analysis/model/origin.ts'
import { parseQuantity } from '#analysis/physics/quantity.ts'
import type { NewMark } from '#dashboard/api.ts'
import type { RecordDraft } from '#dashboard/archive/record.ts'
import { RequestError } from '#dashboard/server/http/request-error.ts'
import { mayCorrect } from '#ingest/recording/corrected-marks.ts'
import type { HoldController } from './hold-controller.ts'
import type { SessionCore } from './session-core.ts'

/** Kinds sealed as separate records between holds: the ledger needs them even when no hold follows. */
const sealedKinds = ['work', 'look', 'plug'] as const
type SealedKind = (typeof sealedKinds)[number]
const isSealed = (kind: string): kind is SealedKind => (sealedKinds as readonly string[]).includes(kind)

/** Margin before the pump-up and after the vent in which valves are shut and fittings inspected, [ns]. */
const aroundNs = 600_000_000_000n

/** Idempotency keys remembered: a phone that lost the network resends its marks until it gets an answer. */
const keysKept = 2000

/** Curing time of the sealant of a work mark, [ns]; null when none is stated. */
function cureOf({ kind, fields }: NewMark): bigint | null {
  if (kind !== 'work' || fields.cure === undefined) return null
  const cure = parseQuantity(String(fields.cure), 'time')
  if ('fault' in cure || cure.value < 0)
    throw new RequestError(400, `Cure time "${fields.cure}": write a time with its unit, such as 24 h.`)
  return BigInt(Math.round(cure.value * 1e9))
}

/** Marks that people make on the page: written into the recording, and sealed as records between holds. */
export class OperatorMarks {
  readonly #core: SessionCore
  readonly #controller: HoldController
  readonly #keys = new Set<string>()

  constructor(core: SessionCore, controller: HoldController) {
    this.#core = core
    this.#controller = controller
  }

  /** @throws RequestError when it names something unknown or withdraws a mark that cannot be withdrawn */
  add(mark: NewMark, nowNs: bigint, from: MarkMaker = 'operator'): void {
    const { key, agoS = 0, aircraft: _, ...given } = mark
    // A finding on a movable gauge applies wherever the gauge goes.
    const moved = this.#core.systemFile.system.channels.find(({ id }) => id === mark.id)?.movable
    const written = mark.kind === 'zero' && moved ? { ...given, id: moved.id } : given
    if (key !== undefined && this.#keys.has(key)) return
    const timeNs = this.#core.marks.unusedNs(nowNs - BigInt(Math.round(agoS * this.#core.speed * 1e9)))
    if (mark.kind === 'correction') this.#takeBack(mark, timeNs, from)
    else {
      this.#requireKnown(mark)
      const cureNs = cureOf(mark)
      const cured: NewMark['fields'] = cureNs === null ? {} : { cured_time_ns: String(timeNs + cureNs) }
      this.#core.mark({ ...written, from }, timeNs)
      if (this.#controller.running === null && isSealed(mark.kind) && mark.id !== undefined)
        this.#seal(mark.kind, mark.id, { time_ns: String(timeNs), ...mark.fields, ...cured, from })
    }
    if (key !== undefined) this.#remember(key)
  }

  #requireKnown({ kind, id, fields }: NewMark): void {
    const { system } = this.#core.systemFile
    if (kind === 'place') {
      const gauge = system.channels.find(({ movable }) => movable?.id === id)?.movable
      if (gauge?.places.includes(String(fields.section))) return
      const where = gauge === undefined ? 'no movable gauge' : `no place ${fields.section} for it`
      throw new RequestError(404, `The system file has ${where} (${id}): see places of its channels.`)
    }
    if ((kind !== 'work' && kind !== 'look') || isKnownId(system, id ?? '')) return
    throw new RequestError(404, `The system file names no ${id ?? 'id'}: choose a fitting, valve or section.`)
  }

  #takeBack({ fields, id }: NewMark, timeNs: bigint, from: MarkMaker): void {
    const of = String(fields.of)
    const mark = this.#core.marks.at(of)
    const record = this.#recordOf(of)
    if (mark === undefined && record === null)
      throw new RequestError(404, 'This mark is no longer available: it is in an earlier recording.')
    if (mark?.kind === 'zero')
      throw new RequestError(409, 'A captured zero cannot be taken back: capture the zero again.')
    if (mark !== undefined && !mayCorrect(mark))
      throw new RequestError(409, 'The program made this mark: it cannot be taken back.')
    const correction = {
      kind: 'correction' as const,
      from,
      ...(id !== undefined && { id }),
      fields: { ...fields, of },
    }
    const write = () => this.#core.mark(correction, timeNs)
    if (mark?.kind === 'stage') this.#controller.takeBackStage(of, write)
    else write()
    const sealed = record ?? (this.#controller.running ? null : this.#holdAround(BigInt(of)))
    if (sealed === null) return
    const about = sealed.result as { readonly id?: string }
    this.#seal('correction', String(about.id ?? id ?? ''), { time_ns: String(timeNs), of }, sealed.id)
  }

  /** The sealed hold that contains a mark of that time: its verdict may rest on the mark. */
  #holdAround(timeNs: bigint) {
    for (const { id } of this.#core.archive.list({ kind: 'hold' })) {
      const { result } = this.#core.archive.get(id)
      const { pump_up_ns, hold_ns, vent_ns } = (result as HoldResult).stages
      const beganNs = pump_up_ns ?? hold_ns
      const endedNs = vent_ns ?? hold_ns
      if (beganNs === null || endedNs === null) continue
      if (timeNs >= BigInt(beganNs) - aroundNs && timeNs <= BigInt(endedNs) + aroundNs) return { id, result }
    }
    return null
  }

  /** The record that a mark between holds was sealed as. */
  #recordOf(timeNs: string): { readonly id: string; readonly result: RecordDraft['result'] } | null {
    for (const kind of sealedKinds)
      for (const { id } of this.#core.archive.list({ kind })) {
        const { result } = this.#core.archive.get(id)
        if ((result as { readonly time_ns?: unknown }).time_ns === timeNs) return { id, result }
      }
    return null
  }

  #seal(
    kind: SealedKind | 'correction',
    id: string,
    fields: Readonly<Record<string, string | number | boolean>>,
    corrects: string | null = null,
  ): void {
    const { system, text } = this.#core.systemFile
    const section =
      system.fittings.find((one) => one.id === id)?.section ??
      system.sections.find((one) => one.id === id)?.id
    this.#core.archive.seal({
      kind,
      recordingPath: null,
      systemText: text,
      systemName: system.name,
      result: { stillhold: 1, id, ...(section ? { section } : {}), ...fields },
      operator: typeof fields.by === 'string' ? fields.by : null,
      corrects,
    })
  }

  #remember(key: string): void {
    this.#keys.add(key)
    const [oldest] = this.#keys
    if (this.#keys.size > keysKept && oldest !== undefined) this.#keys.delete(oldest)
  }
}
