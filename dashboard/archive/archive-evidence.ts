import { type GaugeZero, zerosOfHold } from '#analysis/hunt/gauge-drift.ts'
import type { Evidence, HoldEvidence, MarkEvidence } from '#analysis/model/evidence.ts'
import type { HoldResult } from '#analysis/model/hold-result.ts'
import type { MarkMaker } from '#analysis/model/origin.ts'
import type { Mark, MarkKind } from '#analysis/model/samples.ts'
import type { KnownRecord, SealedRecord } from '#dashboard/archive/record.ts'
import { readKept, recordedMarks } from '#dashboard/archive/record-gist.ts'
import { mayCorrect, withoutCorrected } from '#ingest/recording/corrected-marks.ts'
import {
  type CorrectedHold,
  recomputeHold,
  systemOfRecord,
  type TakenBack,
  takenBackAfter,
} from './recompute-hold.ts'

/** Marks with findings about fittings. */
const findingKinds: readonly MarkKind[] = ['work', 'look', 'valve', 'plug', 'correction']

/** Converts sealed records into the evidence of hunt and ledger; each file is read once. */
export class ArchiveEvidence {
  readonly #read = new Map<string, readonly Evidence[]>()
  readonly #zeros = new Map<string, GaugeZero[]>()

  of(known: readonly KnownRecord[]): Evidence[] {
    const accepted = new Map(known.flatMap(({ record }) => acceptanceOf(record) ?? []))
    const origins = known.flatMap(({ record }) => (record.kind === 'hold' ? (record.origins ?? []) : []))
    const onlyDemo = origins.every(({ kind }) => kind === 'demo')
    const corrections = known.flatMap(({ record }) => (record.kind === 'correction' ? [record] : []))
    const evidence = known.flatMap((one) => {
      const { record, sha256 } = one
      const takenBack: TakenBack = record.kind === 'hold' ? takenBackAfter(record, corrections) : new Map()
      const key = [record.signature, ...takenBack.keys()].join()
      let own = this.#read.get(key)
      if (!own) {
        own = this.#evidenceOf(one, takenBack)
        this.#read.set(key, own)
      }
      if (record.kind !== 'hold') return own
      const doubt = doubtOf(record, own, onlyDemo)
      if (doubt === null) return own
      const by = accepted.get(sha256)
      return own.map((each) => {
        if (each.kind !== 'hold') return each
        return by === undefined ? { ...each, doubt } : { ...each, accepted: `${doubt}; ${by}` }
      })
    })
    const marks = evidence.flatMap((one) => (one.kind === 'mark' ? [one.mark] : []))
    const standing = new Set(withoutCorrected(marks).filter(({ kind }) => kind !== 'correction'))
    return evidence.filter((one) => one.kind !== 'mark' || standing.has(one.mark))
  }

  /** Zero readings of each gauge, from every hold whose recording is available. */
  zeros(known: readonly KnownRecord[]): GaugeZero[] {
    return known.flatMap(({ record, recording }) => {
      const system = record.kind === 'hold' && recording !== null ? systemOfRecord(record).system : null
      if (recording === null || system === null) return []
      const own =
        this.#zeros.get(record.signature) ??
        zerosOfHold(readKept(record, recording, system), system, record.result as HoldResult, record.id)
      this.#zeros.set(record.signature, own)
      return own
    })
  }

  #evidenceOf({ record, recording, marks: read }: KnownRecord, takenBack: TakenBack): Evidence[] {
    const result = record.result as Readonly<Record<string, unknown>>
    switch (record.kind) {
      case 'hold': {
        const { system } = systemOfRecord(record)
        if (!system) return []
        const { id, corrects, retests } = record
        const hold: HoldEvidence = {
          kind: 'hold',
          record: id,
          result: result as unknown as HoldResult,
          system,
          corrects,
          retests,
        }
        const marks: readonly Mark[] = read ? JSON.parse(read) : (recordedMarks(record, recording) ?? [])
        const isCorrected = marks.some((mark) => mayCorrect(mark) && takenBack.has(mark.timeNs))
        const again = isCorrected && recomputeHold(record, recording, takenBack).corrected
        const findings = marks.filter(counts).map((mark): Evidence => ({ kind: 'mark', record: id, mark }))
        return [again ? correctedEvidence(hold, again) : hold, ...findings]
      }
      case 'work':
      case 'look':
      case 'plug':
      case 'correction':
        return [markOf(record, record.kind, result)]
      case 'wet':
        return wetOf(record, result)
      default:
        return []
    }
  }
}

/** The hold's result without its withdrawn marks. */
function correctedEvidence(hold: HoldEvidence, { by, result }: CorrectedHold): HoldEvidence {
  if (result !== null) return { ...hold, result, correctedBy: by }
  return {
    ...hold,
    doubt: `a mark was corrected after sealing (${by.join(', ')}), and no hold is left without it`,
  }
}

/** A dry fitting is proven, a weeping one has failed; an open stage leaves the rest undecided. */
function wetOf(record: SealedRecord, result: Readonly<Record<string, unknown>>): Evidence[] {
  const timeNs = String(result.time_ns ?? BigInt(Date.parse(record.sealed_at)) * 1_000_000n)
  const ids = (key: string): string[] => {
    const list = result[key]
    return Array.isArray(list) ? list.filter((id) => typeof id === 'string') : []
  }
  return [
    { passed: true, fittings: ids('proves') },
    { passed: false, fittings: ids('wept') },
  ]
    .filter(({ fittings }) => fittings.length > 0)
    .map((found) => ({ kind: 'wet', record: record.id, timeNs, ...found }))
}

/** Hash of the accepted record, with who accepts it and why. */
function acceptanceOf({ kind, result, operator }: SealedRecord): [string, string][] | null {
  if (kind !== 'acceptance') return null
  const { record_sha256, because } = result as Readonly<Record<string, unknown>>
  return [[String(record_sha256), `accepted by ${operator}: ${because}`]]
}

/** Why a hold proves nothing until a person accepts it; null for readings from a bench with stages set by a person. */
function doubtOf(record: SealedRecord, evidence: readonly Evidence[], onlyDemo: boolean): string | null {
  // Version 0.1 kept no origins: its records are accepted as sealed, and `verify` reports it.
  if (record.stillhold_record === 1) return null
  if (!record.origins?.length) return 'the source of its readings is unknown'
  for (const { kind, name } of record.origins) {
    const from = name === null ? '' : ` (${name})`
    if (kind === 'replay') return `its readings are replayed from a recording${from}`
    if (kind === 'import' || kind === 'typed')
      return `its readings are ${kind === 'typed' ? 'typed' : 'imported'}${from}`
    if (kind === 'demo' && !onlyDemo) return 'its readings come from the simulated bench'
  }
  const byLogger = evidence.some((each) => each.kind === 'mark' && each.mark.kind === 'stage')
  return byLogger ? 'its stages were marked by the logger, not by a person' : null
}

/**
 * A logger's mark counts only where it weakens a proof, never where it strengthens one: the write token
 * identifies no person.
 */
function counts({ kind, from, fields }: Mark): boolean {
  if (from !== 'logger') return findingKinds.includes(kind)
  switch (kind) {
    case 'stage':
    case 'work':
      return true
    case 'look':
      return fields.finding !== 'dry'
    case 'valve':
      return fields.open === true
    case 'plug':
      return fields.state !== 'out'
    default:
      return false
  }
}

function markOf(
  record: SealedRecord,
  kind: 'work' | 'look' | 'plug' | 'correction',
  result: Readonly<Record<string, unknown>>,
): MarkEvidence {
  const { stillhold: _version, id, section: _section, time_ns, from, ...fields } = result
  const mark: Mark = {
    timeNs: String(time_ns),
    timeS: 0,
    kind,
    id: typeof id === 'string' ? id : null,
    hold: null,
    ...(from ? { from: from as MarkMaker } : {}),
    fields: fields as Mark['fields'],
  }
  return { kind: 'mark', record: record.id, mark }
}
