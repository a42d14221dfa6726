import type { HistoryHold } from '#analysis/hunt/history.ts'
import { bench } from '../live/bench.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { TableScroll } from '../parts/table-scroll.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { moment, pressureDifference, twoFigures } from '../quantity.ts'
import { address } from '../route.ts'
import { verdictWords } from '../words.ts'

const width = 640
const height = 220
const edge = 16

const changeWords = { less: 'the leak fell', more: 'the leak grew', 'not-shown': '' } as const
const isoOf = (ns: string): string => new Date(Number(BigInt(ns) / 1_000_000n)).toISOString()

/** Every hold of a section over months: the leak with its interval, work marked, and a change only where it is one. */
export function History({ section }: { section: string | null }) {
  const { value: all, error } = useAnswer<readonly HistoryHold[]>(
    '/api/history',
    bench.value?.last?.record,
  ).value
  if (all === null) return <p class="note is-undecided">{error ?? 'Reading every hold…'}</p>
  const sections = [...new Set(all.map((one) => one.section))]
  const chosen = section ?? sections[0]
  const holds = all.filter((one) => one.section === chosen)
  return (
    <div class="stack">
      <h1>History{chosen && ` of ${chosen}`}</h1>
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
      </nav>
      {holds.length === 0 ? (
        <p class="soft">No hold of it is sealed yet.</p>
      ) : (
        <>
          <Chart holds={holds} />
          <Table holds={holds} />
        </>
      )}
    </div>
  )
}

/** Drops that the leaks would cause in the stated time: they compare with the allowance, gas or liquid. */
function Chart({ holds }: { holds: readonly HistoryHold[] }) {
  const told = holds.filter(({ leak, verdict }) => leak !== null && verdict !== 'void')
  if (told.length === 0) return null
  const at = ({ time_ns }: { time_ns: string }): number => Number(BigInt(time_ns) / 1_000_000_000n)
  const [from, to] = [at(told[0]), at(told.at(-1)!)]
  const drops = told.map(({ leak }) => leak!.drop_Pa)
  const most = Math.max(...drops.map(({ high }) => high), ...told.map(({ allowance }) => allowance.drop_Pa))
  const least = Math.min(0, ...drops.map(({ low }) => low))
  const x = (s: number): number => edge + ((s - from) / Math.max(1, to - from)) * (width - 2 * edge)
  const y = (pa: number): number => height - edge - ((pa - least) / (most - least)) * (height - 2 * edge)
  const works = holds.flatMap(({ work }) => work).filter((one) => at(one) >= from && at(one) <= to)
  const changes = told.filter(({ change }) => change && change.changed !== 'not-shown').length
  const said = `Holds: ${told.length}, work: ${works.length}, changes of the leak: ${changes}`
  return (
    <figure class="panel">
      <svg class="history-chart" viewBox={`0 0 ${width} ${height}`} role="img" aria-label={said}>
        <line class="axis" x1={edge} x2={width - edge} y1={y(0)} y2={y(0)} />
        {works.map((one) => (
          <line
            key={one.time_ns + one.on}
            class="work"
            x1={x(at(one))}
            x2={x(at(one))}
            y1={edge}
            y2={height - edge}
          >
            <title>{`${one.action} ${one.on}, ${moment(isoOf(one.time_ns))}`}</title>
          </line>
        ))}
        {told.map((one, i) => (
          <g key={one.time_ns} class={`is-${one.verdict}`}>
            <title>{`${moment(isoOf(one.time_ns))}: ${pressureDifference(drops[i].value)}`}</title>
            <line x1={x(at(one))} x2={x(at(one))} y1={y(drops[i].low)} y2={y(drops[i].high)} />
            <circle
              cx={x(at(one))}
              cy={y(drops[i].value)}
              r={one.change && one.change.changed !== 'not-shown' ? 7 : 4}
            />
            <line
              class="allowed"
              x1={x(at(one)) - 8}
              x2={x(at(one)) + 8}
              y1={y(one.allowance.drop_Pa)}
              y2={y(one.allowance.drop_Pa)}
            />
          </g>
        ))}
      </svg>
      <figcaption class="small soft">
        {said}, {moment(isoOf(told[0].time_ns)).slice(0, 10)} to{' '}
        {moment(isoOf(told.at(-1)!.time_ns)).slice(0, 10)}. Drop that the leak would cause in the stated time,
        with its 95 % interval; top of the scale {pressureDifference(most)}. Dashes: allowed. Vertical lines:
        work. Large dots: the leak changed.
      </figcaption>
    </figure>
  )
}

function Table({ holds }: { holds: readonly HistoryHold[] }) {
  return (
    <TableScroll label="Holds in the order of time">
      <table class="stacks">
        <thead>
          <tr>
            <th scope="col">time</th>
            <th scope="col">record</th>
            <th scope="col">verdict</th>
            <th scope="col" class="number">
              leak, scc/min or mL/min
            </th>
            <th scope="col">work before</th>
            <th scope="col">change</th>
          </tr>
        </thead>
        <tbody>
          {[...holds].reverse().map((one) => {
            const leak = one.leak?.scc_per_min ?? one.leak?.mL_per_min
            return (
              <tr key={one.time_ns + one.record}>
                <th scope="row">{moment(isoOf(one.time_ns))}</th>
                <td data-label="record">
                  {one.record && <a href={address('records', one.record)}>{one.record}</a>}
                </td>
                <td data-label="verdict">
                  <StateWord state={one.verdict} word={verdictWords[one.verdict].word} />
                </td>
                <td class="number" data-label="leak">
                  {leak
                    ? `${twoFigures(leak.value)} (${twoFigures(leak.low)} to ${twoFigures(leak.high)})`
                    : '–'}
                </td>
                <td data-label="work before">
                  {one.work.map(({ action, on }) => `${action} ${on}`).join(', ') || '–'}
                </td>
                <td data-label="change">{(one.change && changeWords[one.change.changed]) || '–'}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
    </TableScroll>
  )
}
