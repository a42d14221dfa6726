import type { GaugeDrift } from '#analysis/hunt/gauge-drift.ts'
import type { HistoryHold } from '#analysis/hunt/history.ts'
import { isoTime } from '#analysis/model/samples.ts'
import { t } from '#analysis/reasons/language.ts'
import { bench } from '../live/bench.ts'
import { type Brush, circle, edge } from '../parts/brush.ts'
import { Pending } from '../parts/facts.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { moment, pressure, pressureDifference, twoFigures } from '../quantity.ts'
import { address } from '../route.ts'
import { markWord } from '../words.ts'

/** Words for a change; a dash for none. */
export const changeWords = (change: HistoryHold['change'] | undefined): string =>
  change?.changed === 'less' ? t`the leak fell` : change?.changed === 'more' ? t`the leak grew` : '–'

const isChange = ({ change }: HistoryHold): boolean => changeWords(change) !== '–'
const secondsOf = ({ time_ns }: { time_ns: string }): number => Number(BigInt(time_ns) / 1_000_000_000n)

/** The holds of a section over months: the leak with its interval, work, and significant changes. */
export function History({ section }: { section: string | null }) {
  const answer = useAnswer<readonly HistoryHold[]>('/api/history', bench.value?.last?.record).value
  if (answer.value === null) return <Pending of={answer} words="Reading every hold…" />
  const sections = [...new Set(answer.value.map((one) => one.section))]
  const chosen = section ?? sections[0]
  const holds = answer.value.filter((one) => one.section === chosen)
  const [oldest, ...newer] = holds.flatMap(({ record, verdict }) =>
    record && verdict !== 'void' ? [record] : [],
  )
  return (
    <div class="stack">
      <h1>History{chosen && t` of ${chosen}`}</h1>
      <nav class="row" aria-label="Sections">
        <a href={address('records')}>All records</a>
        {sections.map((one) => (
          <a
            key={one}
            href={address('records', 'history', one)}
            aria-current={one === chosen ? 'page' : undefined}
          >
            {one}
          </a>
        ))}
        {oldest && newer.length > 0 && (
          <a href={address('records', oldest, 'over', ...newer)}>Overlay its {newer.length + 1} holds</a>
        )}
      </nav>
      {holds.length === 0 ? (
        <p class="soft">It has no sealed hold yet.</p>
      ) : (
        <>
          <Chart holds={holds} />
          <Holds holds={holds} />
        </>
      )}
      <Gauges />
    </div>
  )
}

/** Leaks as drops in the stated time: comparable with the allowance for gas and liquid. */
function Chart({ holds }: { holds: readonly HistoryHold[] }) {
  const { slope, symbol, decimals } = pressure()
  const points = holds.flatMap((hold) => {
    if (hold.leak === null || hold.verdict === 'void') return []
    const { value, low, high } = hold.leak.drop_Pa
    const allowed = hold.allowance.drop_Pa * slope
    return { hold, s: secondsOf(hold), value: value * slope, low: low * slope, high: high * slope, allowed }
  })
  if (points.length === 0) return null
  const times = points.map(({ s }) => s)
  const [from, to] = [Math.min(...times), Math.max(...times)]
  const room = Math.max(1800, (to - from) * 0.04)
  const most = Math.max(...points.flatMap(({ high, allowed }) => [high, allowed])) * 1.06
  const least = Math.min(0, ...points.map(({ low }) => low)) * 1.06
  const works = holds
    .flatMap(({ work }) => work)
    .filter((one) => secondsOf(one) >= from && secondsOf(one) <= to)
  const said = t`Holds: ${points.length}, work: ${works.length}, changes of the leak: ${points.filter(({ hold }) => isChange(hold)).length}`
  const over = ({ level, upright, shape, words }: Brush): void => {
    level(0, { token: '--line', width: 1.5 })
    for (const one of works) {
      const at = secondsOf(one)
      upright(at, { token: '--line-b', width: 1.5, dash: [5, 4] })
      words(`${markWord(one.action)} ${one.on}`, [at, edge], { token: '--line-b', dy: 3, weight: 400 })
    }
    for (const { hold, s, value, low, high, allowed } of points) {
      const token = hold.verdict === 'fail' ? '--fail' : '--line-a'
      upright(s, { token: '--ink', width: 1.5 }, [low, high])
      shape(circle(isChange(hold) ? 7 : 4), [s, value], { token, fill: true })
      shape('M-8 0H8', [s, allowed], { token: '--ink-soft', width: 2.5 })
    }
  }
  return (
    <section class="panel" aria-label="Leak over time">
      <TimeChart
        label="Drop that the leak would cause in the stated time"
        unit={symbol}
        said={said}
        across="day"
        decimals={decimals + 1}
        lines={[{ label: t`leak`, token: '--line-a', width: 0.01 }]}
        view={() => ({
          columns: [{ x: times, y: points.map(({ value }) => value) }],
          x: [from - room, to + room],
          y: [least, most],
          zeroS: 0,
        })}
        over={over}
        figures={{ summary: `${said}.`, rows: [] }}
      />
      <p class="small soft">
        {said}. Each with its 95 % interval. Dashes: allowed. Vertical lines: work. Large dots: the leak
        changed.
      </p>
    </section>
  )
}

/** Zero drift of the gauges over months. */
function Gauges() {
  const gauges = useAnswer<readonly GaugeDrift[]>('/api/gauges', bench.value?.last?.record).value.value ?? []
  if (gauges.length === 0) return null
  return (
    <section class="panel" aria-label="Gauges">
      <h2>Zeros of the gauges</h2>
      <ul>
        {gauges.map(({ gauge, zeros, drift_Pa_per_year: drift, drifts }) => (
          <li key={gauge} class={drifts ? 'note is-undecided' : ''}>
            {gauge}: {zeros.length} holds, newest zero{' '}
            {pressureDifference(zeros.at(-1)?.after_Pa ?? zeros.at(-1)?.before_Pa)}.{' '}
            {drift === null
              ? t`Too few holds, or too close together, to show a drift.`
              : t`${drifts ? t`It drifts:` : t`No drift shows:`} ${pressureDifference(drift.value)} a year, between ${pressureDifference(drift.low)} and ${pressureDifference(drift.high)}.`}
          </li>
        ))}
      </ul>
    </section>
  )
}

const Holds = ({ holds }: { holds: readonly HistoryHold[] }) => (
  <Table
    label="Holds in the order of time"
    rows={[...holds].reverse()}
    columns={[
      [t`time`, (one) => moment(isoTime(one.time_ns)), 'head'],
      [t`record`, ({ record }) => record && <a href={address('records', record)}>{record}</a>],
      [t`verdict`, ({ verdict }) => <StateWord state={verdict} />],
      [
        t`leak, scc/min or mL/min`,
        (one) => {
          const leak = one.leak?.scc_per_min ?? one.leak?.mL_per_min
          return leak
            ? t`${twoFigures(leak.value)} (${twoFigures(leak.low)} to ${twoFigures(leak.high)})`
            : '–'
        },
        'number',
      ],
      [
        t`work before`,
        ({ work }) => work.map(({ action, on }) => `${markWord(action)} ${on}`).join(', ') || '–',
      ],
      [t`change`, ({ change }) => changeWords(change)],
    ]}
  />
)
