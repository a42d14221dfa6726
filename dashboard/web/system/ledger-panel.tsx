import type { Ledger } from '#analysis/model/ledger.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { sendMark } from '../hold/mark-pad.tsx'
import { mayOperate } from '../live/bench.ts'
import { PanelHead } from '../parts/panel-head.tsx'
import { StateMark, StateWord } from '../parts/state-mark.tsx'
import { TableScroll } from '../parts/table-scroll.tsx'
import { address } from '../route.ts'
import { kindWords, type ProofState, proofWords } from '../words.ts'

const order: readonly ProofState[] = ['failed', 'stale', 'never-held', 'proven']

/** The state of proof of every fitting and what still stands between the system and complete proof. */
export function LedgerPanel({ ledger, onChanged }: { ledger: Ledger; onChanged: () => void }) {
  const sorted = [...ledger.fittings].sort(
    (a, b) => order.indexOf(a.proof.state) - order.indexOf(b.proof.state),
  )
  const wet = ledger.fittings.some((one) => one.wet !== null)
  return (
    <section class="panel stack" aria-label="Ledger">
      <PanelHead title="Ledger">
        <a href="/api/dossier.pdf">Dossier as PDF</a>
      </PanelHead>
      <ul class="counts">
        {order.map((state) => (
          <li key={state} class={`is-${state}`}>
            <StateMark state={state} size={2} />
            <strong>{ledger.counts[state] ?? 0}</strong> {proofWords[state]}
          </li>
        ))}
      </ul>
      <p>
        {ledger.message}
        {ledger.fittings.some((one) => one.rig) && <span class="soft"> The rig is not counted.</span>}
      </p>
      {ledger.cautions.map((one) => (
        <p key={one} class="note is-undecided">
          {one}
        </p>
      ))}
      {ledger.plugs_in.length > 0 && (
        <div class="note is-failed stack tight">
          {ledger.plugs_in.map((one) => (
            <p key={one.id} class="row spread">
              <span>
                <strong>{one.id}</strong> is still plugged. Take it out before the system is called proven.
              </span>
              {mayOperate.value && (
                <button
                  type="button"
                  onClick={async () => {
                    await sendMark({ kind: 'plug', id: one.id, fields: { in: false } }, `${one.id} is out`)
                    onChanged()
                  }}
                >
                  It is out
                </button>
              )}
            </p>
          ))}
        </div>
      )}
      {ledger.open.length > 0 && (
        <>
          <h3>Still open</h3>
          <ul class="open-list">
            {ledger.open.map((one) => (
              <li key={one}>{one}</li>
            ))}
          </ul>
        </>
      )}
      {ledger.holds_to_do.length > 0 && (
        <>
          <h3>
            {ledger.holds_to_do_exact
              ? 'Shortest set of holds that closes it'
              : 'A set of holds that closes it'}
          </h3>
          <ul class="open-list">
            {ledger.holds_to_do.map((one) => (
              <li key={one.hold ?? one.sections.join()}>
                {one.hold && mayOperate.value ? (
                  <a href={address('hold', 'start', one.hold)}>{one.hold}</a>
                ) : (
                  (one.hold ?? one.sections.join(' and '))
                )}{' '}
                <span class="soft">
                  proves {one.proves.join(', ')}; about {duration(one.minutes * 60)}
                </span>
              </li>
            ))}
          </ul>
        </>
      )}
      {ledger.uncoverable.map((one) => (
        <p key={one.id} class="note is-void">
          {one.id}: {one.why}
        </p>
      ))}
      <TableScroll label="Fittings and their proof">
        <table class="stacks ledger-table">
          <thead>
            <tr>
              <th scope="col">fitting</th>
              <th scope="col">section</th>
              <th scope="col">proof</th>
              {wet && <th scope="col">wet</th>}
              <th scope="col">record</th>
            </tr>
          </thead>
          <tbody>
            {sorted.map((one) => (
              <tr key={one.id}>
                <th scope="row">
                  <a href={address('system', one.id)}>{one.id}</a> {one.name || kindWords[one.kind]}
                </th>
                <td data-label="section">{one.section}</td>
                <td data-label="proof">
                  <StateWord state={one.proof.state} word={proofWords[one.proof.state]} />
                </td>
                {wet && (
                  <td data-label="wet">
                    {one.wet && <StateWord state={one.wet.state} word={proofWords[one.wet.state]} />}
                  </td>
                )}
                <td data-label="record">
                  {one.proof.record && <a href={address('records', one.proof.record)}>{one.proof.record}</a>}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </TableScroll>
    </section>
  )
}
