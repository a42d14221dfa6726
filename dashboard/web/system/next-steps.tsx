import type { HuntResult } from '#analysis/model/hunt.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { inUnits } from '../in-units.ts'
import { mayOperate } from '../live/bench.ts'
import { PanelHead } from '../parts/panel-head.tsx'
import { conditions, twoFigures } from '../quantity.ts'
import { address } from '../route.ts'

/** What to do next to find the leak, best first, and how likely each fitting is. */
export function NextSteps({ hunt }: { hunt: HuntResult }) {
  const suspects = hunt.fittings.filter((one) => one.leaking >= 0.005).slice(0, 8)
  return (
    <section class="panel stack" aria-label="Hunt">
      <PanelHead title="Hunt" />
      <p>{inUnits(hunt.message)}</p>
      {hunt.cautions.map((one) => (
        <p key={one} class="note is-undecided">
          {inUnits(one)}
        </p>
      ))}
      {hunt.next.length > 0 && (
        <ol class="next-steps">
          {hunt.next.slice(0, 3).map((step, i) => (
            <li key={step.title} class={i === 0 ? 'is-first' : ''}>
              <h3>{inUnits(step.title)}</h3>
              <p class="soft">
                {inUnits(step.why)} About {duration(step.minutes * 60)}.
                {step.shut.length > 0 && ` Shut ${step.shut.join(', ')}.`}
              </p>
              {step.kind === 'hold' && step.hold !== null && mayOperate.value && (
                <a class={`button ${i === 0 ? 'main' : ''}`} href={address('hold', 'start', step.hold)}>
                  Prepare this hold
                </a>
              )}
            </li>
          ))}
        </ol>
      )}
      {suspects.length > 0 && (
        <table class="suspects stacks">
          <thead>
            <tr>
              <th scope="col">fitting</th>
              <th scope="col" class="number">
                leaks
              </th>
              <th scope="col" class="number">
                if so, scc/min
              </th>
            </tr>
          </thead>
          <tbody>
            {suspects.map((one) => (
              <tr key={one.id}>
                <th scope="row">
                  <a href={address('system', one.id)}>{one.id}</a> {one.name}
                </th>
                <td class="number" data-label="leaks">
                  <meter min={0} max={1} value={one.leaking} aria-label={`${one.id} leaks`} />
                  {one.leaking >= 0.995 ? '> 99' : one.leaking < 0.01 ? '< 1' : Math.round(one.leaking * 100)}{' '}
                  %
                </td>
                <td class="number" data-label="if so, scc/min">
                  {one.scc_per_min
                    ? `${twoFigures(one.scc_per_min.low)} to ${twoFigures(one.scc_per_min.high)}`
                    : '–'}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {hunt.valves
        .filter((one) => one.passing >= 0.05)
        .map((one) => (
          <p key={one.id} class="soft">
            {one.id} ({one.name}) may be passing: {Math.round(one.passing * 100)} %.
          </p>
        ))}
      <p class="small soft">
        scc/min at {conditions(hunt.scc_reference)}. Counted: up to {hunt.largest_set} leaks at once.
      </p>
    </section>
  )
}
