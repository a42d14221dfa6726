import { useSignal } from '@preact/signals'
import type { FlowResult } from '#analysis/fuel-work/flow-result.ts'
import type { System } from '#analysis/model/system.ts'
import { digits } from '../quantity.ts'
import { Choice, Field, Judge, numberOrNull, stated } from './judge.tsx'

const blank = {
  fuel: 'avgas',
  takeOff: '',
  source: '',
  climb: '',
  tank: '',
  feed: 'gravity',
  pump: '',
  weighed: '',
  measured: '',
  time: '',
  temperature: '',
  attitude: '',
  head: 'not-stated',
}

/** One timed delivery against what the engine takes at take-off. */
export function FlowPart({ system }: { system: System }) {
  const tanks = system.sections.filter(({ kind }) => kind === 'tank')
  const form = useSignal({ ...blank, tank: tanks[0]?.id ?? system.sections[0]?.id ?? '' })
  const found = useSignal<readonly FlowResult[]>([])
  const is = form.value
  const set = (key: keyof typeof blank) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const sheet = () =>
    stated({
      fuel: is.fuel,
      'take-off-flow': is.takeOff,
      'take-off-flow-source': is.source,
      'climb-attitude': numberOrNull(is.climb),
      runs: [
        stated({
          tank: is.tank,
          feed: is.feed,
          pump: is.feed === 'pump' ? is.pump : '',
          weighed: is.weighed,
          measured: is.measured,
          time: is.time,
          temperature: is.temperature,
          attitude: numberOrNull(is.attitude),
          'lowest-head': is.head === 'not-stated' ? null : is.head === 'yes',
        }),
      ],
    })
  return (
    <section class="panel stack">
      <h2>Fuel flow check</h2>
      <p>
        Nose up as in the steepest climb, the tank at its unusable fuel and what the run needs. By gravity 150
        % of the take-off flow is needed, by pump 125 % (14 CFR 23.955); write quantities with their unit and
        tolerance, such as “8.10 kg ± 0.02 kg”.
      </p>
      <div class="filters wet-fields">
        <Choice
          label="Fuel"
          value={is.fuel}
          options={['avgas', 'mogas', 'jet-a'].map((one) => [one, one] as const)}
          onPick={set('fuel')}
        />
        <Field label="Take-off flow of the engine" value={is.takeOff} onInput={set('takeOff')} />
        <Field label="Where that comes from" value={is.source} onInput={set('source')} />
        <Field label="Steepest climb, nose up °" value={is.climb} onInput={set('climb')} />
        <Choice
          label="Tank"
          value={is.tank}
          options={system.sections.map(({ id }) => [id, id] as const)}
          onPick={set('tank')}
        />
        <Choice
          label="Feed"
          value={is.feed}
          options={[
            ['gravity', 'gravity'],
            ['pump', 'pump'],
          ]}
          onPick={set('feed')}
        />
        {is.feed === 'pump' && <Field label="Which pump" value={is.pump} onInput={set('pump')} />}
        <Field label="Weighed" value={is.weighed} onInput={set('weighed')} />
        <Field label="or measured" value={is.measured} onInput={set('measured')} />
        <Field label="In the time" value={is.time} onInput={set('time')} />
        <Field label="Temperature of the fuel" value={is.temperature} onInput={set('temperature')} />
        <Field label="Nose up in this run °" value={is.attitude} onInput={set('attitude')} />
        <Choice
          label="Lowest head"
          value={is.head}
          options={[
            ['not-stated', 'not stated'],
            ['yes', 'yes, as low as allowed'],
            ['no', 'no, more in the tank'],
          ]}
          onPick={set('head')}
        />
      </div>
      <Judge<FlowResult> path="/api/flow" found={found} sheet={sheet}>
        {(result) =>
          result.runs.map((run) => (
            <p key={run.run}>
              {run.run}: {digits(run.share_percent, 0)} % of take-off flow, {run.needed_percent} % needed.
            </p>
          ))
        }
      </Judge>
    </section>
  )
}
