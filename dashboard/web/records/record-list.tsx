import { useSignal } from '@preact/signals'
import type { Verdict } from '#analysis/model/hold-result.ts'
import type { RecordSummary } from '#dashboard/archive/record.ts'
import { bench, system } from '../live/bench.ts'
import { StateWord } from '../parts/state-mark.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { moment } from '../quantity.ts'
import { address, go } from '../route.ts'
import { recordKindWords, verdictWords } from '../words.ts'
import { DropFile } from './drop-file.tsx'

const verdicts = ['pass', 'fail', 'undecided', 'void'] as const satisfies readonly Verdict[]

/** Every sealed record, newest first; two of one kind can be laid over each other. */
export function RecordList() {
  const verdict = useSignal('')
  const section = useSignal('')
  const kind = useSignal('')
  const text = useSignal('')
  const picked = useSignal<readonly string[]>([])
  const query = new URLSearchParams()
  if (verdict.value) query.set('verdict', verdict.value)
  if (section.value) query.set('section', section.value)
  if (kind.value) query.set('kind', kind.value)
  if (text.value.trim()) query.set('text', text.value.trim())
  const asked = query.toString()
  const answer = useAnswer<readonly RecordSummary[]>(
    `/api/records${asked === '' ? '' : `?${asked}`}`,
    bench.value?.last?.record,
  ).value
  const all = [...(answer.value ?? [])].sort((a, b) => b.sequence - a.sequence)
  const choice = (words: string, value: typeof verdict, options: readonly (readonly [string, string])[]) => (
    <label class="field">
      <span>{words}</span>
      <select
        value={value.value}
        onChange={(event) => {
          value.value = event.currentTarget.value
        }}
      >
        <option value="">all</option>
        {options.map(([one, word]) => (
          <option key={one} value={one}>
            {word}
          </option>
        ))}
      </select>
    </label>
  )
  return (
    <div class="stack">
      <h1>Records</h1>
      <a href={address('records', 'history')}>History of each section</a>
      <DropFile />
      <search class="filters">
        {choice(
          'Verdict',
          verdict,
          verdicts.map((one) => [one, verdictWords[one].word.toLowerCase()]),
        )}
        {choice(
          'Section',
          section,
          (system.value?.sections ?? []).map((one) => [one.id, one.id]),
        )}
        {choice('Kind', kind, Object.entries(recordKindWords))}
        <label class="field">
          <span>Words</span>
          <input
            type="search"
            value={text.value}
            onInput={(event) => {
              text.value = event.currentTarget.value
            }}
          />
        </label>
      </search>
      {answer.error && <p class="note is-undecided">{answer.error}</p>}
      {answer.value !== null && all.length === 0 && (
        <p class="empty">
          {asked === ''
            ? 'Nothing is sealed yet. The first hold that ends appears here.'
            : 'No record fits these filters.'}
        </p>
      )}
      {all.length > 0 && (
        <section class="panel" aria-label="Sealed records">
          <div class="row spread overlay-bar" role="status">
            <span class="soft">
              {picked.value.length === 0
                ? 'Tick two records to lay one over the other: before and after the work.'
                : picked.value.length === 1
                  ? `${picked.value[0]}, and one more`
                  : `${picked.value[0]} and ${picked.value[1]}`}
            </span>
            <button
              type="button"
              disabled={picked.value.length !== 2}
              onClick={() => {
                const [a, b] = [...picked.value].sort()
                go('records', a, 'over', b)
              }}
            >
              Lay over
            </button>
          </div>
          <table class="record-table">
            <thead>
              <tr>
                <th scope="col">
                  <span class="unseen">pick</span>
                </th>
                <th scope="col">verdict</th>
                <th scope="col">record</th>
                <th scope="col">sections</th>
                <th scope="col">sealed</th>
                <th scope="col">by</th>
              </tr>
            </thead>
            <tbody>
              {all.map((one) => (
                <tr key={one.id}>
                  <td class="pick">
                    {one.kind === 'hold' && (
                      <input
                        type="checkbox"
                        aria-label={`Pick ${one.id}`}
                        checked={picked.value.includes(one.id)}
                        onChange={(event) => {
                          picked.value = event.currentTarget.checked
                            ? [...picked.value, one.id].slice(-2)
                            : picked.value.filter((other) => other !== one.id)
                        }}
                      />
                    )}
                  </td>
                  <td class="of-verdict">
                    {one.verdict ? (
                      <StateWord state={one.verdict} word={verdictWords[one.verdict].word} />
                    ) : (
                      <span class="soft">{recordKindWords[one.kind]}</span>
                    )}
                  </td>
                  <th scope="row">
                    <a href={address('records', one.id)}>{one.id}</a>
                    {one.retests && <span class="small soft"> retests {one.retests}</span>}
                    {one.corrects && <span class="small soft"> corrects {one.corrects}</span>}
                  </th>
                  <td>{one.sections.join(', ')}</td>
                  <td class="soft">{moment(one.sealed_at)}</td>
                  <td class="soft">{one.operator ?? ''}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </section>
      )}
    </div>
  )
}
