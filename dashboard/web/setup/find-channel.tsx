import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { Channel } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SeenField } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { digits } from '../quantity.ts'
import { type FormValues, PartForm } from '../system/part-form.tsx'
import {
  type Guess,
  guessGauge,
  guessThermometer,
  type Mover,
  type Watched,
  where,
  whoMoved,
} from './who-moved.ts'

/** Polling interval, short enough to catch a quick squeeze, [ms]. */
const everyMs = 250
const restMs = 5000

const searches = {
  gauge: {
    title: t`Find the gauge`,
    is: t`This is the gauge`,
    ask: t`Now squeeze the bulb, or blow into the hose.`,
    kinds: /^(gauge|absolute)-pressure$/,
  },
  thermometer: {
    title: t`Find the thermometer`,
    is: t`This is the thermometer`,
    ask: t`Now warm the thermometer in your hand.`,
    kinds: /^temperature$/,
  },
} as const
type Search = keyof typeof searches

/** Finds the gauge among the logger's numbers: it moves when the bulb is squeezed. The user confirms the guess in the form. */
export function FindChannel() {
  const search = useSignal<Search | null>(null)
  const beganMs = useSignal(0)
  const watched = useSignal<ReadonlyMap<string, Watched>>(new Map())
  const found = useSignal<Mover | null>(null)
  useEffect(() => {
    if (search.value === null || found.value !== null) return
    const timer = setInterval(() => {
      get<readonly SeenField[]>('/api/fields').then(
        (fields) => {
          const isRest = performance.now() - beganMs.peek() < restMs
          watched.value = new Map(
            fields.map((seen) => [where(seen), updated(watched.peek().get(where(seen)), seen, isRest)]),
          )
        },
        () => undefined,
      )
    }, everyMs)
    return () => clearInterval(timer)
  }, [search.value, found.value])
  if (!mayOperate.value) return null
  const isRest = [...watched.value.values()].every(({ since }) => since.length === 0)
  const movers = whoMoved(watched.value.values())

  return (
    <section class="stack tight" aria-label="Find a sensor">
      <div class="row">
        {(Object.keys(searches) as Search[]).map((one) => (
          <button
            key={one}
            type="button"
            onClick={() => {
              search.value = one
              found.value = null
              beganMs.value = performance.now()
              watched.value = new Map()
            }}
          >
            {searches[one].title}
          </button>
        ))}
      </div>
      {search.value && !found.value && (
        <div class="note stack tight" role="status">
          <p>
            {watched.value.size === 0
              ? t`No logger sends a number yet: see Ports.`
              : isRest
                ? t`Leave everything at rest for five seconds, open to the air…`
                : searches[search.value].ask}
          </p>
          {movers.length > 1 && (
            <p>Several numbers moved: choose the one that moved with your hand, or begin again.</p>
          )}
          {movers.map((one) => (
            <p key={where(one.seen)} class="row spread">
              <span>
                <code>{where(one.seen)}</code> moved from {digits(one.rest, 3)} to {digits(one.peak, 3)}
              </span>
              <button type="button" class="main" onClick={() => (found.value = one)}>
                {searches[search.value!].is}
              </button>
            </p>
          ))}
        </div>
      )}
      {search.value && found.value && (
        <Found
          key={search.value + where(found.value.seen)}
          mover={found.value}
          search={search.value}
          heard={[...watched.value.values()].map(({ seen }) => seen)}
          onDone={() => {
            search.value = null
            found.value = null
          }}
        />
      )}
    </section>
  )
}

const updated = (before: Watched | undefined, seen: SeenField, isRest: boolean): Watched => {
  const { rest = [], since = [] } = before ?? {}
  if (before?.seen.timeS === seen.timeS) return { seen, rest, since }
  return isRest ? { seen, rest: [...rest, seen.raw], since } : { seen, rest, since: [...since, seen.raw] }
}

interface FoundProps {
  readonly mover: Mover
  readonly search: Search
  readonly heard: readonly SeenField[]
  readonly onDone: () => void
}

/** The form of the channel with guessed values; nothing is written to the file before it is saved. */
function Found({ mover, search, heard, onDone }: FoundProps) {
  const known = system.value!
  const barometer = known.channels.find(({ measures }) => measures === 'barometric-pressure')
  const barometerPa = (barometer && bench.value?.newest[barometer.id]?.reading) ?? null
  const most = Math.max(0, ...known.holds.map(({ pressurePa }) => pressurePa))
  const guess: Guess = search === 'gauge' ? guessGauge(mover, barometerPa, most) : guessThermometer(mover)
  // The target is the channel that has this number already, else one that no logger feeds.
  const of = known.channels.filter(({ measures }) => searches[search].kinds.test(measures))
  const takes = (channel: Channel, seen: SeenField): boolean =>
    channel.from.measurement === seen.measurement && channel.from.field === seen.field
  const target =
    of.find((channel) => takes(channel, mover.seen)) ??
    of.find((channel) => !heard.some((seen) => takes(channel, seen)))
  const { measurement, field, tags } = mover.seen
  const { why, ...guessed } = guess
  const draft: FormValues = {
    ...guessed,
    'from.measurement': measurement,
    'from.field': field,
    ...(Object.keys(tags).length > 0 && { 'from.tags': tags }),
    ...(target === undefined && { id: search, places: known.sections.map(({ id }) => id) }),
  }
  return (
    <>
      <p class="note is-undecided">{why} Compare unit and span with what is printed on it before you save.</p>
      <PartForm
        list="channels"
        id={target?.movable?.id ?? target?.id ?? null}
        draft={draft}
        onDone={onDone}
      />
    </>
  )
}
