import { useSignal } from '@preact/signals'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import { t } from '#analysis/reasons/language.ts'
import { Button, Check, entry, Field, partOf, Ticks } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { moment } from '../quantity.ts'
import { findings, sheetWord } from '../words.ts'
import type { OnSheet, PartProps } from './judge.tsx'
import { stated } from './sheet-form.tsx'

/** The checklist of a stage, with omitted steps and their reasons; a safety step cannot be omitted. */
export function Steps(props: OnSheet & { readonly stage: WetStage; readonly earlier: readonly WetStage[] }) {
  const { stage, earlier, sheet, off, enter } = props
  return (
    <>
      <ul aria-label="Steps">
        {stage.steps.map(({ text, safety }, i) => {
          const step = i + 1
          const done = sheet.done.includes(step)
          return (
            <li key={text}>
              <Check of={entry(done, (now) => enter({ kind: 'step', step, done: now }))} disabled={off}>
                <span>
                  {safety && <strong>Safety: </strong>}
                  {text}
                </span>
              </Check>
              {!safety && !done && <Omit {...props} what={t`step ${step}`} of={{ step }} />}
            </li>
          )
        })}
      </ul>
      {earlier.length > 0 && (
        <details>
          <summary>An earlier stage does not apply</summary>
          <ul>
            {earlier.map(({ name, title }) => (
              <li key={name}>
                {title} <Omit {...props} what={title} of={{ stage: name }} />
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  )
}

type Omitted = { readonly step: number } | { readonly stage: string } | { readonly fitting: string }

/** An omission with its reason. */
function Omit({ what, of, sheet, off, enter }: OnSheet & { what: string; of: Omitted }) {
  const omitted = sheet.omitted.find((one) =>
    Object.entries(of).every(([key, value]) => one[key as keyof typeof one] === value),
  )
  const save = (why: string) => enter({ kind: 'omit', ...of, why })
  if (omitted)
    return (
      <span class="small">
        omitted: {omitted.why}{' '}
        <Button class="quiet" disabled={off} onClick={() => save('')}>
          Take back
        </Button>
      </span>
    )
  return (
    <WithReason
      title={t`Omit ${what}`}
      label={t`Reason to omit ${what}`}
      words="Save the reason"
      off={off}
      onWhy={save}
    />
  )
}

/** A form that cannot be saved without a reason. */
function WithReason(props: {
  readonly title: string
  readonly label: string
  readonly words: string
  readonly off: boolean
  readonly onWhy: (why: string) => void
}) {
  const why = useSignal('')
  return (
    <details class="small">
      <summary>{props.title}</summary>
      <Field label={props.label} of={why} />
      <Button disabled={props.off || why.value.trim() === ''} onClick={() => props.onWhy(why.value)}>
        {props.words}
      </Button>
    </details>
  )
}

const blank = { fitting: '', finding: 'dry', spread: '', 'since-wipe': '', head: '' }

/** Inspection joint by joint: the server stamps the time; the name is from the sheet's head. */
export function Looks(props: PartProps & OnSheet) {
  const { known, sheet, off, enter } = props
  const form = useSignal(blank)
  const how = useSignal<readonly string[]>([])
  const { fitting, finding } = form.value
  const joints = props.system.fittings.filter(({ section }) => sheet.sections.includes(section))
  const isOmitted = (id: string) => sheet.omitted.some((one) => one.fitting === id)
  return (
    <>
      <h4>Inspect the joints</h4>
      <ul class="wet-joints">
        {joints.map(({ id, name }) => {
          const last = sheet.looks.findLast((look) => look.fitting === id && !look.withdrawn)
          return (
            <li key={id}>
              <Button
                disabled={off || sheet.began === null || isOmitted(id)}
                aria-pressed={fitting === id}
                onClick={() => {
                  form.value = { ...blank, fitting: id }
                }}
              >
                Look at {id}
              </Button>{' '}
              {name}
              {last && `: ${sheetWord(last.finding)}, ${moment(last.at)}, ${last.by}`}
              {!last && <Omit {...props} what={id} of={{ fitting: id }} />}
            </li>
          )
        })}
      </ul>
      {fitting !== '' && (
        <section class="panel stack" aria-label={t`Look at ${fitting}`}>
          <Ticks
            legend={t`How ${fitting} is inspected`}
            of={how}
            class=""
            options={known.methods.map(({ name, sees }) => [
              name,
              <span key={name}>
                {sheetWord(name)} <span class="soft small">{sees}</span>
              </span>,
            ])}
          />
          <div class="cells low">
            <Field label={t`Finding at ${fitting}`} of={partOf(form, 'finding')} options={findings} />
            {finding !== 'dry' && (
              <>
                <Field label="Width of the spot" of={partOf(form, 'spread')} />
                <Field label="Time since it was wiped" of={partOf(form, 'since-wipe')} />
              </>
            )}
            <Field label="Height of the fuel above it" of={partOf(form, 'head')} />
          </div>
          <Button
            class="main"
            disabled={off || how.value.length === 0}
            onClick={() => {
              enter({ kind: 'look', ...stated(form.value), how: how.value })
              form.value = blank
            }}
          >
            Record {fitting}: {sheetWord(finding)}
          </Button>
        </section>
      )}
      {sheet.looks.length > 0 && (
        <Table
          label="Looks"
          class="wet-look stacks"
          rows={sheet.looks}
          columns={[
            [t`joint`, (look) => look.fitting, 'head'],
            [t`finding`, (look) => [sheetWord(look.finding), look.spread].filter(Boolean).join(' ')],
            [t`when`, (look) => moment(look.at)],
            [t`by`, (look) => look.by],
            [t`how`, (look) => look.how.map(sheetWord).join(', ')],
            [
              t`(withdraw)`,
              (look, at) =>
                // A look entered by mistake stays on the sheet with its reason.
                look.withdrawn ? (
                  t`withdrawn: ${look.withdrawn}`
                ) : (
                  <WithReason
                    title="Withdraw"
                    label="Reason"
                    words="Withdraw this look"
                    off={off}
                    onWhy={(why) => enter({ kind: 'withdraw', look: at + 1, why })}
                  />
                ),
            ],
          ]}
        />
      )}
      <p class="small soft">
        Classes by {known.scheme.name} ({known.scheme.source}); the scheme is kept with every look.
      </p>
    </>
  )
}
