import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { Channel } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import type { SeenField } from '#dashboard/api.ts'
import { get } from '../api-client.ts'
import { bench, mayOperate, system } from '../live/bench.ts'
import { Button } from '../parts/fields.tsx'
import { digits } from '../quantity.ts'
import { type FormValues, PartForm } from '../system/part-form.tsx'
import {
  type Guess,
  guessGauge,
  guessThermometer,
  type Mover,
  sourceOf,
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

interface Begun {
  readonly search: Search
  readonly beganMs: number
}

/** Finds the gauge among the logger's numbers: it moves when the bulb is squeezed. The user confirms the guess in the form. */
export function FindChannel() {
  const begun = useSignal<Begun | null>(null)
  if (!mayOperate.value) return null
  return (
    <section class="stack tight" aria-label="Find a sensor">
      <div class="row">
        {(Object.keys(searches) as Search[]).map((search) => (
          <Button key={search} onClick={() => (begun.value = { search, beganMs: performance.now() })}>
            {searches[search].title}
          </Button>
        ))}
      </div>
      {begun.value && (
        <Watch key={begun.value.beganMs} {...begun.value} onDone={() => (begun.value = null)} />
      )}
    </section>
  )
}

/** Watches every number, at rest and after it, until the user says which one moved with the hand. */
function Watch({ search, beganMs, onDone }: Begun & { readonly onDone: () => void }) {
  const watched = useSignal<readonly Watched[]>([])
  const found = useSignal<Mover | null>(null)
  useEffect(() => {
    if (found.value !== null) return
    const look = async (): Promise<void> => {
      const fields = await get<readonly SeenField[]>('/api/fields')
      const isRest = performance.now() - beganMs < restMs
      watched.value = fields.map((seen) => {
        const before = watched.peek().find((one) => where(one.seen) === where(seen))
        return updated(before, seen, isRest)
      })
    }
    const timer = setInterval(() => void look().catch(() => undefined), everyMs)
    return () => clearInterval(timer)
  }, [found.value])
  if (found.value)
    return (
      <Found
        mover={found.value}
        search={search}
        heard={watched.value.map(({ seen }) => seen)}
        onDone={onDone}
      />
    )
  const isRest = watched.value.every(({ since }) => since.length === 0)
  const movers = whoMoved(watched.value)
  return (
    <div class="note stack tight" role="status">
      <p>
        {watched.value.length === 0
          ? t`No logger sends a number yet: see Ports.`
          : isRest
            ? t`Leave everything at rest for five seconds, open to the air…`
            : searches[search].ask}
      </p>
      {movers.length > 1 && (
        <p>Several numbers moved: choose the one that moved with your hand, or begin again.</p>
      )}
      {movers.map((one) => (
        <p key={where(one.seen)} class="row spread">
          <span>
            <code>{where(one.seen)}</code> moved from {digits(one.rest, 3)} to {digits(one.peak, 3)}
          </span>
          <Button class="main" onClick={() => (found.value = one)}>
            {searches[search].is}
          </Button>
        </p>
      ))}
    </div>
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
  const { why, ...guessed } = guess
  const draft: FormValues = {
    ...guessed,
    ...sourceOf(mover.seen),
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
