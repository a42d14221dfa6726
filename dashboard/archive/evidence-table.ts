import { holdsInOrder, marksInOrder } from '#analysis/hunt/evidence-order.ts'
import { ledger } from '#analysis/hunt/ledger.ts'
import type { Evidence } from '#analysis/model/evidence.ts'
import type { SectionLeak } from '#analysis/model/hold-result.ts'
import { isoTime } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { holdCoverage } from '#analysis/model/system-graph.ts'

/** Every row has every column, null where it does not apply: docs/formats/table.md. */
const columns = {
  row: 'hold' as 'hold' | 'fitting' | 'work' | 'look' | 'state',
  archive: '',
  aircraft: '',
  registration: null as string | null,
  record: null as string | null,
  time: null as string | null,
  hold: null as string | null,
  section: null as string | null,
  fitting: null as string | null,
  fitting_kind: null as string | null,
  verdict: null as string | null,
  counts: null as boolean | null,
  covered: null as boolean | null,
  leaking: null as number | null,
  pressure_Pa: null as number | null,
  hold_s: null as number | null,
  leak_mol_per_s: null as number | null,
  leak_low_mol_per_s: null as number | null,
  leak_high_mol_per_s: null as number | null,
  leak_mL_per_min: null as number | null,
  drop_Pa: null as number | null,
  allowance_mol_per_s: null as number | null,
  allowance_drop_Pa: null as number | null,
  action: null as string | null,
  torque_Nm: null as number | null,
  finding: null as string | null,
  state: null as string | null,
}

export type TableRow = typeof columns
export const tableColumns = Object.keys(columns)

/**
 * The evidence of one archive on one aircraft, flat: holds by section, the fittings that each reached, work, looks, and
 * the present state of each fitting.
 */
export function* tableRows(
  archive: string,
  system: System,
  evidence: readonly Evidence[],
): Generator<TableRow> {
  const whose = {
    ...columns,
    archive,
    aircraft: system.name,
    registration: system.aircraft?.registration ?? null,
  }
  const kinds = new Map(system.fittings.map(({ id, section, kind }) => [id, { section, fitting_kind: kind }]))
  const marks = marksInOrder(evidence)
  const lastWork = new Map<string, string>()
  let next = 0
  const workUpTo = (ns: bigint): void => {
    for (let one = marks[next]; one && one.timeNs <= ns; one = marks[++next]) {
      const { kind, id, fields } = one.mark
      if (kind === 'work' && id !== null) lastWork.set(id, String(fields.action))
    }
  }
  for (const { startNs, evidence: held } of holdsInOrder(evidence)) {
    const { result, record, system: then } = held
    const spec = then.holds.find(({ id }) => id === result.hold)
    const shared = {
      ...whose,
      record,
      time: isoTime(startNs),
      hold: result.hold,
      verdict: result.verdict,
      counts: !held.doubt,
      pressure_Pa: spec?.pressurePa ?? null,
      hold_s: result.seconds,
    }
    const leaks = [result.leak ?? []].flat() as SectionLeak[]
    for (const section of leaks.length > 0 ? leaks.map((leak) => leak.section) : result.sections.slice(0, 1))
      yield {
        ...shared,
        row: 'hold',
        section,
        ...figuresOf(leaks.find((l) => l.section === section)),
        ...allowed(result.allowance),
      }
    if (!spec) continue
    workUpTo(startNs)
    const { reached, covered } = holdCoverage(then, spec)
    for (const id of reached) {
      const fitting = then.fittings.find((f) => f.id === id)!
      yield {
        ...shared,
        row: 'fitting',
        section: fitting.section,
        fitting: id,
        fitting_kind: fitting.kind,
        covered: covered.includes(id),
        leaking: result.fittings.find((f) => f.id === id)?.leaking ?? null,
        action: lastWork.get(id) ?? null,
      }
    }
  }
  for (const { timeNs, record, mark } of marks) {
    if (mark.kind !== 'work' && mark.kind !== 'look') continue
    const { action, finding, torque_Nm } = mark.fields
    yield {
      ...whose,
      ...(mark.id === null ? {} : kinds.get(mark.id)),
      row: mark.kind,
      record,
      time: isoTime(timeNs),
      fitting: mark.id,
      action: action === undefined ? null : String(action),
      torque_Nm: typeof torque_Nm === 'number' ? torque_Nm : null,
      finding: finding === undefined ? null : String(finding),
    }
  }
  for (const { id, section, kind, proof } of ledger(system, evidence).fittings)
    yield {
      ...whose,
      row: 'state',
      record: proof.record,
      time: proof.since_ns === null ? null : isoTime(proof.since_ns),
      hold: proof.hold,
      section,
      fitting: id,
      fitting_kind: kind,
      action: lastWork.get(id) ?? null,
      state: proof.state,
    }
}

function figuresOf(leak: SectionLeak | undefined): Partial<TableRow> {
  return {
    leak_mol_per_s: leak?.mol_per_s?.value ?? null,
    leak_low_mol_per_s: leak?.mol_per_s?.low ?? null,
    leak_high_mol_per_s: leak?.mol_per_s?.high ?? null,
    leak_mL_per_min: leak?.mL_per_min?.value ?? null,
    drop_Pa: leak?.drop_Pa.value ?? null,
  }
}

function allowed({
  mol_per_s,
  drop_Pa,
}: {
  readonly mol_per_s?: number
  readonly drop_Pa: number
}): Partial<TableRow> {
  return { allowance_mol_per_s: mol_per_s ?? null, allowance_drop_Pa: drop_Pa }
}
