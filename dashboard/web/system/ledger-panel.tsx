import type { Ledger, LedgerFitting, LedgerHold } from '#analysis/hunt/ledger.ts'
import { duration } from '#analysis/reasons/figures.ts'
import { plural, t } from '#analysis/reasons/language.ts'
import { mayOperate } from '../live/bench.ts'
import { PlugOut } from '../marks/part-tools.tsx'
import { Notes } from '../parts/facts.tsx'
import { PanelHead } from '../parts/panel-head.tsx'
import { StateMark, StateWord } from '../parts/state-mark.tsx'
import { type Column, Table } from '../parts/table-scroll.tsx'
import { Term } from '../parts/term.tsx'
import { address } from '../route.ts'
import { kindWords, type ProofState, proofWords } from '../words.ts'

const order: readonly ProofState[] = ['failed', 'stale', 'never-held', 'proven']

/** The fittings of one section, their worst state, and the hold that closes it. */
interface Group {
  readonly section: string
  readonly fittings: readonly LedgerFitting[]
  readonly worst: ProofState
  readonly closes: LedgerHold | null
}

function groupsOf(ledger: Ledger): readonly Group[] {
  const sections = [...new Set(ledger.fittings.map(({ section }) => section))]
  const groups = sections.map((section) => {
    const fittings = ledger.fittings.filter((one) => one.section === section)
    const worst = order.find((state) => fittings.some(({ proof }) => proof.state === state)) ?? 'proven'
    const closes = ledger.holds_to_do.find(({ proves }) => fittings.some(({ id }) => proves.includes(id)))
    return { section, fittings, worst, closes: closes ?? null }
  })
  return groups.sort((a, b) => order.indexOf(a.worst) - order.indexOf(b.worst))
}

const idsIn = (fittings: readonly LedgerFitting[], state: ProofState): string =>
  fittings
    .filter(({ proof }) => proof.state === state)
    .map(({ id }) => id)
    .join(', ')

/** Counts of fittings by state: `F07 failed, 3 proven`. Failed and reworked ones are named. */
function stateWords({ fittings }: Group): string {
  return order
    .flatMap((state) => {
      const of = fittings.filter(({ proof }) => proof.state === state)
      if (of.length === 0) return []
      const who =
        of.length === fittings.length
          ? t`all`
          : state === 'failed' || state === 'stale'
            ? idsIn(of, state)
            : String(of.length)
      return [`${who} ${proofWords[state]}`]
    })
    .join(', ')
}

/** Number and duration of the holds that close the ledger; summed from the holds listed below. */
function closing(ledger: Ledger): string {
  const { holds_to_do: holds, uncoverable, plugs_in: plugs } = ledger
  if (ledger.complete) return ledger.message
  if (uncoverable.length > 0) return t`No hold covers ${uncoverable.map(({ id }) => id).join(', ')}.`
  const failed = idsIn(ledger.fittings, 'failed')
  const after = [failed && t`${failed} is repaired`, ...plugs.map(({ id }) => t`${id} is out`)].filter(
    Boolean,
  )
  const minutes = holds.reduce((sum, hold) => sum + hold.minutes, 0)
  if (holds.length === 0) return ledger.message
  const time = duration(minutes * 60)
  const once = after.length > 0 ? t` once ${after.join(t` and `)}` : ''
  return plural(holds.length, {
    one: t`One hold, about ${time}, closes it${once}.`,
    other: t`${holds.length} holds, about ${time}, close it${once}.`,
  })
}

/** The state of proof by section, one line each, with the hold that closes it and its duration. */
export function LedgerPanel({ ledger, onChanged }: { ledger: Ledger; onChanged: () => void }) {
  return (
    <section class="panel stack" aria-label="Ledger">
      <PanelHead title="Ledger">
        <Term of="ledger" />
        <a href={address('system', 'campaign')}>Campaign</a>
        <a href="/api/dossier.pdf">Dossier</a>
        <a href={address('system', 'draw')}>Draw</a>
      </PanelHead>
      <p>{closing(ledger)}</p>
      <Notes of={[...ledger.errors, ...ledger.cautions]} />
      {ledger.plugs_in.map((one) => (
        <p key={one.id} class="note is-failed row spread">
          <span>
            <strong>{one.id}</strong> is still plugged.
          </span>
          <PlugOut id={one.id} onOut={onChanged} />
        </p>
      ))}
      <ul class="ledger-groups stack tight">
        {groupsOf(ledger).map((group) => (
          <li key={group.section} class="row">
            <StateMark state={group.worst} />
            <span>
              <strong>{group.section}</strong> <span class="soft">{stateWords(group)}</span>
            </span>
            {group.closes && <Closes hold={group.closes} />}
          </li>
        ))}
      </ul>
      <details>
        <summary>All {ledger.fittings.length} fittings</summary>
        <FittingTable ledger={ledger} />
        <Notes of={ledger.uncoverable.map(({ id, why }) => `${id}: ${why}`)} state="void" />
      </details>
    </section>
  )
}

function Closes({ hold }: { hold: LedgerHold }) {
  const name = hold.hold ?? hold.sections.join(t` and `)
  const time = duration(hold.minutes * 60)
  return hold.hold && mayOperate.value ? (
    <a class="button" href={address('hold', 'start', hold.hold)}>
      {name}, {time}
    </a>
  ) : (
    <span class="soft">
      {name}, {time}
    </span>
  )
}

const wetColumn: Column<Ledger['fittings'][number]> = [
  t`wet`,
  ({ wet }) => wet && <StateWord state={wet.state} />,
]

function FittingTable({ ledger }: { ledger: Ledger }) {
  const sorted = [...ledger.fittings].sort(
    (a, b) => order.indexOf(a.proof.state) - order.indexOf(b.proof.state),
  )
  return (
    <Table
      label="Fittings and their proof"
      class="stacks ledger-table"
      rows={sorted}
      columns={[
        [
          t`fitting`,
          ({ id, name, kind }) => (
            <>
              <a href={address('system', id)}>{id}</a> {name || kindWords[kind]}
            </>
          ),
          'head',
        ],
        [t`section`, ({ section }) => section],
        [t`proof`, ({ proof: { state } }) => <StateWord state={state} />],
        ...(sorted.some((one) => one.wet !== null) ? [wetColumn] : []),
        [t`why`, ({ proof }) => proof.why],
        [t`record`, ({ proof: { record } }) => record && <a href={address('records', record)}>{record}</a>],
      ]}
    />
  )
}
