import type { HistoryHold } from '#analysis/hunt/history.ts'
import { type HoldResult, leaksOf } from '#analysis/model/hold-result.ts'
import { t } from '#analysis/reasons/language.ts'
import type { OpenRecord } from '#dashboard/archive/record.ts'
import { get } from '../api-client.ts'
import { Pending } from '../parts/facts.tsx'
import { holdPart, type WireCurves } from '../parts/hold-limits.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { useAnswer, useAsked } from '../parts/use-answer.ts'
import { moment, pressure, pressureDifference } from '../quantity.ts'
import { address } from '../route.ts'
import { changeWords } from './history.tsx'

/** Each line differs in dashes as well as in color; the newest hold is solid. */
const looks = [
  { token: '--line-b', dash: [10, 5] },
  { token: '--temperature', dash: [3, 4] },
  { token: '--barometer', dash: [14, 4, 3, 4] },
  { token: '--raw', dash: [6, 8] },
  { token: '--accent', dash: [18, 6] },
] as const
const newest = { token: '--line-a' }

/** Holds drawn from a common start, oldest first, to show the effect of work. */
export function Overlay({ ids }: { ids: readonly string[] }) {
  const answer = useAsked(ids.join(), () =>
    Promise.all(ids.map((id) => get<OpenRecord>(`/api/records/${encodeURIComponent(id)}`))),
  ).value
  const history = useAnswer<readonly HistoryHold[]>('/api/history').value.value ?? []
  if (answer.value === null || answer.error) return <Pending of={answer} words="Opening the records…" />
  const holds = answer.value.map(({ record, curves }, i) => ({
    record,
    curves: curves as unknown as readonly WireCurves[],
    result: record.result as HoldResult,
    name: ids.length > 2 ? `${i + 1}` : i === 0 ? t`before` : t`after`,
  }))
  const sections = [...new Set(holds.flatMap(({ result }) => result.sections))]
    .map((section) => ({
      section,
      of: holds.map((hold) => {
        const curve = hold.curves.find((each) => each.section === section)
        return {
          ...hold,
          curve: curve ? lostSince(holdPart(curve, hold.result.seconds)) : { x: [], y: [] },
          drop: leaksOf(hold.result).find((leak) => leak.section === section)?.drop_Pa,
          told: history.find((one) => one.record === hold.record.id && one.section === section)?.change,
        }
      }),
    }))
    .filter(({ of }) => of.some(({ curve, drop }) => curve.x.length > 0 || drop))
  const voids = holds.filter(({ result }) => result.verdict === 'void')
  const kinds = [...new Set(holds.map(({ result }) => result.hold))]
  const several = sections.length > 1
  return (
    <div class="stack">
      <h1>{ids.length > 2 ? t`${ids.length} holds` : t`Before and after`}</h1>
      {kinds.length > 1 && (
        <p class="note is-undecided">
          These are different holds ({kinds.join(', ')}): the pressures compare, the allowances do not.
        </p>
      )}
      {voids.length > 0 && (
        <p class="note is-void">
          Void: {voids.map(({ record }) => record.id).join(', ')}. With a void hold the comparison proves
          nothing: hold again.
        </p>
      )}
      {sections.map(({ section, of }) => (
        <section key={section} class="panel" aria-label={t`Holds of ${section}`}>
          <TimeChart
            label={t`${several ? t`${section}: lost` : t`Lost`} since the start of the hold, compensated`}
            unit={pressure().symbol}
            decimals={pressure().decimals + 1}
            lines={of.map(({ name, record }, i) => ({
              label: `${name}: ${record.id}`,
              width: 2.5,
              ...((i < of.length - 1 && looks[i % looks.length]) || newest),
            }))}
            view={() => ({
              columns: of.map(({ curve: { x, y } }) => ({ x, y: y.map((pa) => pa * pressure().slope) })),
              x: [0, Math.max(60, ...of.map(({ curve }) => curve.x.at(-1) ?? 0)) * 1.01],
              y: null,
              zeroS: 0,
            })}
          />
        </section>
      ))}
      <section class="panel" aria-label="Figures of each">
        <Table
          label="Figures side by side"
          rows={sections.flatMap(({ section, of }) => of.map((one) => ({ section, ...one })))}
          columns={[
            [t`(hold)`, ({ section, name }) => (several ? `${name}, ${section}` : name), 'head'],
            [t`record`, ({ record }) => <a href={address('records', record.id)}>{record.id}</a>],
            [t`sealed`, ({ record }) => moment(record.sealed_at)],
            [t`verdict`, ({ result: { verdict } }) => <StateWord state={verdict} />],
            [t`leak in the stated hold`, ({ drop }) => pressureDifference(drop?.value), 'number'],
            [
              t`95 % interval`,
              ({ drop }) =>
                drop ? t`${pressureDifference(drop.low)} to ${pressureDifference(drop.high)}` : '–',
              'number',
            ],
            [t`change in its history`, ({ told }) => changeWords(told)],
          ]}
        />
        <p class="small soft">
          A change is judged against all holds of the section since the change before, by the statistics of
          the command history.
        </p>
      </section>
    </div>
  )
}

/** Compensated pressure minus its value at the start of the hold, [Pa]. */
const lostSince = ({ timeS, compensatedPa, leakLinePa }: WireCurves) => ({
  x: timeS.map((at) => at - (timeS[0] ?? 0)),
  y: compensatedPa.map((pa) => pa - (leakLinePa[0] ?? 0)),
})
