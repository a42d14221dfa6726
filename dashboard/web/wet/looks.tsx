import { useSignal } from '@preact/signals'
import { t } from '#analysis/reasons/language.ts'
import { Choice, Field, partOf, Ticks } from '../parts/fields.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { moment } from '../quantity.ts'
import { findings, sheetWord } from '../words.ts'
import type { OnSheet, PartProps } from './entries.ts'
import { stated } from './sheet-form.tsx'
import { Omit, WithReason } from './steps.tsx'

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
              <button
                type="button"
                disabled={off || sheet.began === null || isOmitted(id)}
                aria-pressed={fitting === id}
                onClick={() => {
                  form.value = { ...blank, fitting: id }
                }}
              >
                Look at {id}
              </button>{' '}
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
            options={known.methods.map(({ name, sees }) => ({
              value: name,
              words: (
                <span>
                  {sheetWord(name)} <span class="soft small">{sees}</span>
                </span>
              ),
            }))}
          />
          <div class="filters wet-fields">
            <Choice label={t`Finding at ${fitting}`} of={partOf(form, 'finding')} options={findings} />
            {finding !== 'dry' && (
              <>
                <Field label="Width of the spot" of={partOf(form, 'spread')} />
                <Field label="Time since it was wiped" of={partOf(form, 'since-wipe')} />
              </>
            )}
            <Field label="Height of the fuel above it" of={partOf(form, 'head')} />
          </div>
          <button
            type="button"
            class="main"
            disabled={off || how.value.length === 0}
            onClick={() => {
              enter({ kind: 'look', ...stated(form.value), how: how.value })
              form.value = blank
            }}
          >
            Record {fitting}: {sheetWord(finding)}
          </button>
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
