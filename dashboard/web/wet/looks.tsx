import { useSignal } from '@preact/signals'
import type { LookMethod, SeepScheme } from '#analysis/fuel-work/looks.ts'
import type { SheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { TableScroll } from '../parts/table-scroll.tsx'
import { findings } from '../words.ts'
import { Choice, Field, stated } from './judge.tsx'
import { shortTime } from './person.ts'
import { Omit } from './steps.tsx'

/** What `/api/wet` tells of the fuel work. */
export interface Known {
  readonly stages: readonly WetStage[]
  readonly scheme: SeepScheme
  readonly methods: readonly { readonly name: LookMethod; readonly sees: string }[]
  /** Published torque range of each fitting, in words. */
  readonly ranges: readonly { readonly id: string; readonly words: string | null }[]
  readonly forms: SheetForms
}

/** Every part of the fuel work is shown with the aircraft and what the server tells. */
export interface PartProps {
  readonly system: System
  readonly known: Known
}

const blank = { fitting: '', finding: 'dry', spread: '', 'since-wipe': '', head: '' }

/** Inspecting joint by joint: the server stamps the time, the name comes from the sheet's head. */
export function Looks(props: {
  readonly system: System
  readonly known: Known
  readonly sheet: SavedSheet['sheet']
  readonly off: boolean
  readonly enter: (entry: object) => void
}) {
  const { known, sheet, off, enter } = props
  const form = useSignal(blank)
  const how = useSignal<readonly LookMethod[]>([])
  const is = form.value
  const set = (key: keyof typeof blank) => (value: string) => {
    form.value = { ...form.value, [key]: value }
  }
  const joints = props.system.fittings.filter(({ section }) => sheet.sections.includes(section))
  const isOmitted = (id: string) => sheet.omitted.some((one) => one.fitting === id)
  const lastOf = (id: string) => sheet.looks.filter((look) => look.fitting === id && !look.withdrawn).at(-1)
  return (
    <>
      <h4>Inspect the joints</h4>
      <ul class="wet-joints">
        {joints.map(({ id, name }) => {
          const last = lastOf(id)
          return (
            <li key={id}>
              <button
                type="button"
                disabled={off || sheet.began === null || isOmitted(id)}
                aria-pressed={is.fitting === id}
                onClick={() => {
                  form.value = { ...blank, fitting: id }
                }}
              >
                Look at {id}
              </button>{' '}
              {name}
              {last && `: ${last.finding}, ${shortTime(last.at)}, ${last.by}`}
              {!last && (
                <Omit
                  what={id}
                  why={sheet.omitted.find((one) => one.fitting === id)?.why}
                  off={off}
                  onWhy={(why) => enter({ kind: 'omit', fitting: id, why })}
                />
              )}
            </li>
          )
        })}
      </ul>
      {is.fitting !== '' && (
        <section class="panel stack" aria-label={`Look at ${is.fitting}`}>
          <fieldset>
            <legend>How {is.fitting} is inspected</legend>
            {known.methods.map(({ name, sees }) => (
              <label key={name} class="check">
                <input
                  type="checkbox"
                  checked={how.value.includes(name)}
                  onChange={(event) => {
                    const rest = how.value.filter((one) => one !== name)
                    how.value = event.currentTarget.checked ? [...rest, name] : rest
                  }}
                />
                <span>
                  {name.replaceAll('-', ' ')} <span class="soft small">{sees}</span>
                </span>
              </label>
            ))}
          </fieldset>
          <div class="filters wet-fields">
            <Choice
              label={`Finding at ${is.fitting}`}
              value={is.finding}
              options={findings.map((one) => [one, one] as const)}
              onPick={set('finding')}
            />
            {is.finding !== 'dry' && (
              <>
                <Field label="Width of the spot" value={is.spread} onInput={set('spread')} />
                <Field label="Time since it was wiped" value={is['since-wipe']} onInput={set('since-wipe')} />
              </>
            )}
            <Field label="Height of the fuel above it" value={is.head} onInput={set('head')} />
          </div>
          <button
            type="button"
            class="main"
            disabled={off || how.value.length === 0}
            onClick={() => {
              enter({ kind: 'look', ...stated(is), how: how.value })
              form.value = blank
            }}
          >
            Record {is.fitting}: {is.finding}
          </button>
        </section>
      )}
      {sheet.looks.length > 0 && (
        <TableScroll label="Looks">
          <table class="wet-look stacks">
            <thead>
              <tr>
                {['joint', 'finding', 'when', 'by', 'how', ''].map((title) => (
                  <th key={title}>{title || <span class="unseen">withdraw</span>}</th>
                ))}
              </tr>
            </thead>
            <tbody>
              {sheet.looks.map((look, at) => (
                <tr key={at}>
                  <th scope="row">{look.fitting}</th>
                  <td data-label="finding">
                    {look.finding}
                    {look.spread ? ` ${look.spread}` : ''}
                  </td>
                  <td data-label="when">{shortTime(look.at)}</td>
                  <td data-label="by">{look.by}</td>
                  <td data-label="how">{look.how.join(', ')}</td>
                  <td>
                    {look.withdrawn ? (
                      `withdrawn: ${look.withdrawn}`
                    ) : (
                      <Withdraw onWhy={(why) => enter({ kind: 'withdraw', look: at + 1, why })} off={off} />
                    )}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </TableScroll>
      )}
      <p class="small soft">
        Classes by {known.scheme.name} ({known.scheme.source}); the scheme is kept with every look.
      </p>
    </>
  )
}

/** A look entered by mistake stays on the sheet with its reason. */
function Withdraw({ onWhy, off }: { readonly onWhy: (why: string) => void; readonly off: boolean }) {
  const text = useSignal('')
  return (
    <details class="small">
      <summary>Withdraw</summary>
      <Field label="Reason" value={text.value} onInput={(value) => (text.value = value)} />
      <button type="button" disabled={off || text.value.trim() === ''} onClick={() => onWhy(text.value)}>
        Withdraw this look
      </button>
    </details>
  )
}
