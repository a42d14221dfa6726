import type { Evidence, HoldEvidence, MarkEvidence } from '#analysis/model/evidence.ts'
import type { HoldResult, SectionLeak, Verdict } from '#analysis/model/hold-result.ts'
import type { MarkKind } from '#analysis/model/samples.ts'
import type { Fitting, HoldSpec, Section, System, Valve } from '#analysis/model/system.ts'

export function section(id: string, over: Partial<Section> = {}): Section {
  return {
    id,
    medium: 'air',
    volumeM3: 0.35e-3,
    volumeToleranceM3: 0.035e-3,
    maxPressurePa: 103421,
    maxVacuumPa: null,
    stretchPerPa: null,
    kind: 'line',
    capacityM3: null,
    unusableM3: null,
    ...over,
  }
}

export function fitting(id: string, inSection: string, over: Partial<Fitting> = {}): Fitting {
  return {
    id,
    section: inSection,
    kind: 'flare',
    size: null,
    name: '',
    material: null,
    torqueNm: null,
    behind: [],
    ...over,
  }
}

export function valve(id: string, between: readonly string[], kind: Valve['kind'] = 'shut-off'): Valve {
  return { id, between, name: '', kind }
}

export function holdSpec(
  id: string,
  sections: readonly string[],
  shut: readonly string[],
  over: Partial<HoldSpec> = {},
): HoldSpec {
  return {
    id,
    sections,
    shut,
    pressurePa: 68947.57,
    settleS: 120,
    holdS: 600,
    allow: { kind: 'gas-leak', molPerS: 1e-7 },
    allowSource: null,
    rig: null,
    ...over,
  }
}

/** A system with a gauge on every section unless `gauges` names fewer. */
export function system(
  sections: readonly Section[],
  fittings: readonly Fitting[],
  valves: readonly Valve[],
  holds: readonly HoldSpec[],
  gauges: readonly string[] = sections.map((s) => s.id),
): System {
  return {
    name: 'floatplane',
    sccReferenceK: 273.15,
    channels: gauges.map((id) => ({
      id: `p-${id}`,
      measures: 'gauge-pressure',
      section: id,
      from: { measurement: 'logger', field: `p-${id}`, tags: {} },
      unit: 'psi',
      scale: null,
      rangeSi: null,
      resolutionSi: null,
      accuracySi: null,
      calibration: null,
    })),
    sections,
    fittings,
    valves,
    holds,
  }
}

const startNs = 1767225600n * 1_000_000_000n

/** Epoch nanoseconds so many minutes into the made-up session. */
export function atMinute(minutes: number): string {
  return String(startNs + BigInt(Math.round(minutes * 60e9)))
}

/** Leak of a section, [mol/s], with a normal uncertainty. */
export function leak(id: string, molPerS: number, std: number): SectionLeak {
  const half = 1.959963984540054 * std
  const estimate = { value: molPerS, low: molPerS - half, high: molPerS + half }
  return { section: id, mol_per_s: estimate, drop_Pa: { value: 0, low: 0, high: 0 } }
}

/** A hold of 17 minutes that began so many minutes into the session. */
export function held(
  of: System,
  hold: string,
  minute: number,
  verdict: Verdict,
  leaks: readonly SectionLeak[] | null = null,
  over: Partial<Omit<HoldEvidence, 'result'>> & { readonly result?: Partial<HoldResult> } = {},
): HoldEvidence {
  const spec = of.holds.find((h) => h.id === hold)
  const { result, ...rest } = over
  return {
    kind: 'hold',
    record: null,
    system: of,
    corrects: null,
    retests: null,
    ...rest,
    result: {
      stillhold: 1,
      recording: 'session.lp',
      hold,
      sections: spec?.sections ?? [],
      verdict,
      reasons: [],
      stages: {
        source: 'marks',
        pump_up_ns: atMinute(minute),
        settle_ns: atMinute(minute + 2),
        hold_ns: atMinute(minute + 5),
        vent_ns: atMinute(minute + 15),
      },
      seconds: 600,
      leak: leaks === null ? null : leaks.length === 1 ? leaks[0] : leaks,
      allowance: { mol_per_s: 1e-7, drop_Pa: 690 },
      raw_drop_Pa: null,
      needs_seconds_more: null,
      fittings: [],
      events: [],
      ...result,
    },
  }
}

export function marked(
  kind: MarkKind,
  id: string | null,
  minute: number,
  fields: MarkEvidence['mark']['fields'],
): Evidence {
  return {
    kind: 'mark',
    record: null,
    mark: { timeNs: atMinute(minute), timeS: minute * 60, kind, id, hold: null, fields },
  }
}
