import { useSignal } from '@preact/signals'
import type { Verdict } from '#analysis/model/hold-result.ts'
import { t } from '#analysis/reasons/language.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import { bench, system } from '../live/bench.ts'
import { Pending } from '../parts/facts.tsx'
import { asOptions, Button, Check, Field, memberOf, type Option, partOf } from '../parts/fields.tsx'
import { StateWord } from '../parts/state-mark.tsx'
import { Table } from '../parts/table-scroll.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { moment } from '../quantity.ts'
import { address, go } from '../route.ts'
import { recordKindWords, verdictWords } from '../words.ts'
import { DropFile } from './drop-file.tsx'

const verdicts = ['pass', 'fail', 'undecided', 'void'] as const satisfies readonly Verdict[]

/** Every sealed record, newest first; holds can be overlaid. */
export function RecordList() {
  const filter = useSignal({ verdict: '', section: '', kind: '', text: '' })
  const picked = useSignal<readonly string[]>([])
  const asked = new URLSearchParams(
    Object.entries(filter.value).filter(([, value]) => value.trim() !== ''),
  ).toString()
  const answer = useAnswer<readonly RecordSummary[]>(
    `/api/records${asked === '' ? '' : `?${asked}`}`,
    bench.value?.last?.record,
  ).value
  const all = [...(answer.value ?? [])].sort((a, b) => b.sequence - a.sequence)
  const choices = [
    [t`Verdict`, 'verdict', verdicts.map((one): Option => [one, verdictWords[one].word.toLocaleLowerCase()])],
    [t`Section`, 'section', asOptions((system.value?.sections ?? []).map(({ id }) => id))],
    [t`Kind`, 'kind', Object.entries(recordKindWords)],
  ] as const
  return (
    <div class="stack">
      <h1>Records</h1>
      <a href={address('records', 'history')}>History of each section</a>
      <DropFile />
      <search class="filters cells">
        {choices.map(([label, key, options]) => (
          <Field key={key} label={label} of={partOf(filter, key)} options={[['', t`all`], ...options]} />
        ))}
        <Field type="search" label="Words" of={partOf(filter, 'text')} />
      </search>
      <Pending of={answer} />
      {answer.value !== null && all.length === 0 && (
        <p class="soft">
          {asked === ''
            ? t`Nothing is sealed yet. The first hold that ends appears here.`
            : t`No record fits these filters.`}
        </p>
      )}
      {all.length > 0 && (
        <section class="panel" aria-label="Sealed records">
          <div class="panel-head row spread overlay-bar" role="status">
            <span class="soft">
              {picked.value.length === 0
                ? t`Tick two records or more to overlay them: before and after the work.`
                : picked.value.length === 1
                  ? t`${picked.value[0]}, and one more`
                  : [...picked.value].sort().join(', ')}
            </span>
            <Button
              disabled={picked.value.length < 2}
              onClick={() => {
                const [first = '', ...others] = [...picked.value].sort()
                go('records', first, 'over', ...others)
              }}
            >
              Overlay
            </Button>
          </div>
          <Table
            class="stacks record-table"
            rows={all}
            columns={[
              [
                t`(pick)`,
                (one) =>
                  one.kind === 'hold' && (
                    <Check of={memberOf(picked, one.id)}>
                      <span class="unseen">{t`Pick ${one.id}`}</span>
                    </Check>
                  ),
                'pick',
              ],
              [
                t`verdict`,
                (one) =>
                  one.verdict ? (
                    <StateWord state={one.verdict} />
                  ) : (
                    <span class="soft">{recordKindWords[one.kind]}</span>
                  ),
                'of-verdict',
              ],
              [
                t`record`,
                (one) => (
                  <>
                    <a href={address('records', one.id)}>{one.id}</a>
                    {one.retests && <span class="small soft"> retests {one.retests}</span>}
                    {one.corrects && <span class="small soft"> corrects {one.corrects}</span>}
                  </>
                ),
                'head',
              ],
              [t`sections`, (one) => one.sections.join(', ')],
              [t`sealed`, (one) => moment(one.sealed_at), 'soft'],
              [t`by`, (one) => one.operator, 'soft'],
            ]}
          />
        </section>
      )}
    </div>
  )
}
