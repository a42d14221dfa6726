import { useSignal } from '@preact/signals'
import { useEffect, useMemo, useRef } from 'preact/hooks'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import { isTank, type System } from '#analysis/model/system.ts'
import { t } from '#analysis/reasons/language.ts'
import { StateShape } from '../parts/state-mark.tsx'
import { pressure, volume, withUnit } from '../quantity.ts'
import { type ProofState, proofWords } from '../words.ts'
import { layOutSystem, ROW_REM, type SectionBox, shortId } from './lay-out-system.ts'

interface Props {
  readonly system: System
  readonly ledger: Ledger | null
  readonly picked: string | null
  /** Suspects of the hunt with their leak probabilities. */
  readonly suspects: ReadonlyMap<string, number>
  readonly onPick: (id: string) => void
  /** Given when sections and valves can be picked too. */
  readonly onPart?: (list: 'sections' | 'valves', id: string) => void
}

/** Attributes that make a part of the drawing a button. */
const asButton = (label: string, isPicked: boolean, pick: () => void) => ({
  role: 'button' as const,
  tabindex: 0,
  'aria-pressed': isPicked,
  'aria-label': label,
  onClick: pick,
  onKeyDown: (event: KeyboardEvent) => {
    if (event.key !== 'Enter' && event.key !== ' ') return
    event.preventDefault()
    pick()
  },
})

/** A pipe as straight legs with rounded corners. */
const leg = (points: readonly { readonly x: number; readonly y: number }[]): string =>
  `M${points.map(({ x, y }) => `${x} ${y}`).join('L')}`

/** The fuel system from tanks to engine, each fitting with its state of proof. */
export function SystemDrawing({ system, ledger, picked, suspects, onPick, onPart }: Props) {
  const box = useRef<HTMLElement>(null)
  const room = useSignal({ width: 900, rem: 16 })
  useEffect(() => {
    const host = box.current!
    const sizes = new ResizeObserver(() => {
      room.value = {
        width: host.clientWidth,
        rem: Number.parseFloat(getComputedStyle(document.documentElement).fontSize),
      }
    })
    sizes.observe(host)
    return () => sizes.disconnect()
  }, [])
  const { width, rem } = room.value
  const layout = useMemo(() => {
    const along = layOutSystem(system, rem, 'LR')
    if (along.width <= width * 1.25) return along
    const down = layOutSystem(system, rem, 'TB')
    return down.width <= width * 1.25 ? down : layOutSystem(system, rem, 'TB', 2)
  }, [system, width, rem])
  const scale = Math.min(1, width / layout.width)
  const drawn = Math.max(scale, 0.8)
  const stateOf = (id: string): ProofState =>
    ledger?.fittings.find((one) => one.id === id)?.proof.state ?? 'never-held'

  const fittings = (place: SectionBox) =>
    system.fittings
      .filter((one) => one.section === place.id)
      .map((one, i) => {
        const state = stateOf(one.id)
        const cell = (place.width - rem) / place.across
        const x = place.x + rem / 2 + cell * ((i % place.across) + 0.5)
        const y = place.y + rem * 3.6 + Math.floor(i / place.across) * rem * ROW_REM
        const likely = suspects.get(one.id) ?? 0
        return (
          <g
            key={one.id}
            class={`fitting is-${state} ${picked === one.id ? 'is-picked' : ''}`}
            transform={`translate(${x} ${y})`}
            {...asButton(
              `${one.id}${likely >= 0.05 ? t` ${Math.round(likely * 100)} % likely to leak` : ''}, ${one.name}${ledger ? `, ${proofWords[state]}` : ''}`,
              picked === one.id,
              () => onPick(one.id),
            )}
          >
            <rect
              class="fitting-ground"
              x={-cell / 2 + 3}
              y={-rem}
              width={cell - 6}
              height={rem * (likely >= 0.05 ? 3.5 : 2.8)}
              rx="7"
            />
            <g transform={`scale(${(rem * 0.95) / 12})`}>
              <StateShape state={state} />
            </g>
            <text class="fitting-label" y={rem * 1.5} text-anchor="middle">
              {shortId(one.id)}
            </text>{' '}
            {likely >= 0.05 && (
              <text class="suspect" y={rem * 2.35} text-anchor="middle">
                {Math.round(likely * 100)} %
              </text>
            )}
          </g>
        )
      })

  return (
    <section ref={box} class="drawing" aria-label="Drawing, scrolls sideways">
      <svg
        width={layout.width * drawn}
        height={layout.height * drawn}
        viewBox={`0 0 ${layout.width} ${layout.height}`}
        aria-label="Drawing of the fuel system"
      >
        {layout.pipes.map((pipe) => (
          <g key={pipe.from + pipe.to}>
            <path class="pipe" d={leg(pipe.points)} />
            <path class="pipe-bore" d={leg(pipe.points)} />
          </g>
        ))}
        {layout.sections.map((place) => {
          const section = system.sections.find((one) => one.id === place.id)!
          const own = system.fittings.filter((one) => one.section === place.id)
          const proven = own.filter((one) => stateOf(one.id) === 'proven').length
          return (
            <g
              key={place.id}
              class={`section ${isTank(section) ? 'is-tank' : ''} ${section.kind === 'rig' ? 'is-rig' : ''}`}
            >
              <rect
                class={`section-wall ${picked === place.id ? 'is-picked' : ''}`}
                {...(onPart &&
                  asButton(t`section ${place.id}`, picked === place.id, () => onPart('sections', place.id)))}
                x={place.x}
                y={place.y}
                width={place.width}
                height={place.height}
                rx={isTank(section) ? rem * 1.6 : rem * 0.4}
              />
              <text class="section-name" x={place.x + rem} y={place.y + rem * 1.35}>
                {section.id}
              </text>
              <text class="section-note" x={place.x + rem} y={place.y + rem * 2.25}>
                {own.length === 0
                  ? t`no fittings`
                  : ledger
                    ? t`${proven} of ${own.length} proven`
                    : withUnit(section.volumeM3, volume())}
                <title>
                  {withUnit(section.volumeM3, volume())} {section.medium}
                  {section.maxPressurePa !== null &&
                    t`, never over ${withUnit(section.maxPressurePa, pressure(), 1)}`}
                </title>
              </text>
              {fittings(place)}
            </g>
          )
        })}
        {layout.valves.map((place) => {
          const valve = system.valves.find((one) => one.id === place.id)!
          const plugged = ledger?.plugs_in.some((one) => one.id === valve.id) ?? false
          return (
            <g
              key={place.id}
              class={`valve ${plugged ? 'is-plugged' : ''} ${picked === place.id ? 'is-picked' : ''}`}
              transform={`translate(${place.x} ${place.y})`}
              {...(onPart &&
                asButton(t`valve ${valve.id} ${valve.name}`, picked === place.id, () =>
                  onPart('valves', place.id),
                ))}
            >
              <circle r={rem * 0.95} />
              {valve.kind === 'pump' ? (
                <path d={`M${-rem * 0.4} ${-rem * 0.45}L${rem * 0.5} 0L${-rem * 0.4} ${rem * 0.45}Z`} />
              ) : valve.between.length === 1 || valve.kind === 'cap' ? (
                <path d={`M0 ${-rem * 0.55}V${rem * 0.55}`} />
              ) : (
                <path d={`M${-rem * 0.5} ${rem * 0.5}L${rem * 0.5} ${-rem * 0.5}`} />
              )}
              <text y={rem * 1.9} text-anchor="middle">
                {valve.id}
              </text>
              <title>{`${valve.id} ${valve.name}${plugged ? t`, plug in` : ''}`}</title>
            </g>
          )
        })}
      </svg>
    </section>
  )
}
