import { useSignal } from '@preact/signals'
import { useMemo } from 'preact/hooks'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import { type HoldResult, leaksOf, type Verdict } from '#analysis/model/hold-result.ts'
import { duration, percentOf } from '#analysis/reasons/figures.ts'
import { inThousands, t } from '#analysis/reasons/language.ts'
import type { RecordMarks } from '#dashboard/api.ts'
import type { OpenRecord, SealedRecord } from '#dashboard/archive/record.ts'
import { isSuctionHold, mayOperate } from '../live/bench.ts'
import { MarkPad } from '../marks/mark-pad.tsx'
import { BudgetBar, Facts, Pending, Reasons } from '../parts/facts.tsx'
import { Button } from '../parts/fields.tsx'
import { allowanceLine, holdPart, sideOf, type WireCurves } from '../parts/hold-limits.ts'
import type { ChartColumns } from '../parts/line-path.ts'
import { StateMark, StateWord } from '../parts/state-mark.tsx'
import { Term } from '../parts/term.tsx'
import { TimeChart } from '../parts/time-chart.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import { VerdictFigures } from '../parts/verdict-figures.tsx'
import { clock, moment, pressure, twoFigures, zoneAt } from '../quantity.ts'
import { address } from '../route.ts'
import { withUnits } from '../settings.ts'
import { Likely } from '../system/next-steps.tsx'
import { recordKindWords, verdictWords } from '../words.ts'
import { Evidence, RecordMarksPanel } from './evidence.tsx'
import { RecordChart } from './record-chart.tsx'

const isJudged = (result: object): result is { readonly verdict: Verdict } =>
  'verdict' in result && String(result.verdict) in verdictWords
const isHold = (result: object): result is HoldResult => 'verdict' in result && 'allowance' in result

/** A sealed record with its verdict, its curves, its evidence and its downloads. */
export function RecordView({ id }: { id: string }) {
  const file = (name: string): string => `/api/records/${encodeURIComponent(id)}/${name}`
  // The sealed record is shown at once; the curves are recomputed from the recording, after its chart.
  const answer = useAnswer<SealedRecord>(file('record.json')).value
  const charted = useSignal(false)
  const record = answer.value
  const mayCompute = record !== null && (record.recording === null || charted.value)
  const again = useAnswer<OpenRecord>(mayCompute ? `/api/records/${encodeURIComponent(id)}` : null).value
  const hunt = useAnswer<HuntResult>(record?.kind === 'hold' ? withUnits('/api/hunt') : null).value.value
  const marks = useAnswer<RecordMarks>(record?.recording ? file('marks') : null).value.value
  const photos = (record?.photos ?? []).map(({ name, sha256 }) => ({ name, url: file(`photos/${sha256}`) }))
  if (record === null || answer.error) return <Pending of={answer} words={t`Opening ${id}…`} />
  const result = isHold(record.result) ? record.result : null
  const judged = result ?? (isJudged(record.result) ? record.result : null)
  const ofRecording = [
    ['recording.lp', t`Recording`],
    ['samples.csv', 'CSV'],
  ] as const
  const files = [
    ['report.pdf', t`Test report`] as const,
    ...(record.recording ? ofRecording : []),
    ['record.json', t`Record as JSON`] as const,
  ]
  const { curves = [], meaning = [], statedHoldS = null, corrected = null } = again.value ?? {}
  return (
    <article class="record-view stack">
      <header class={`panel row spread record-head ${judged ? `is-${judged.verdict}` : ''}`}>
        <div>
          <h1>{record.id}</h1>
          <p class="soft">
            {record.system.name} · sealed {moment(record.sealed_at)} {zoneAt(record.sealed_at)}
            {record.operator && t` · by ${record.operator}`}
            {record.witness && t` · witness ${record.witness}`}
          </p>
        </div>
        {judged ? (
          <p class="verdict-word">
            <StateMark state={judged.verdict} /> {verdictWords[judged.verdict].word}
          </p>
        ) : (
          <p class="verdict-word is-kind">{recordKindWords[record.kind]}</p>
        )}
      </header>
      <nav class="row downloads" aria-label="Downloads">
        {files.map(([name, words]) => (
          <a key={name} class={`button ${name === 'report.pdf' ? 'main' : ''}`} href={file(name)}>
            {words}
          </a>
        ))}
        <Button class="quiet" onClick={() => print()}>
          Print this page
        </Button>
        {result && result.verdict !== 'pass' && mayOperate.value && (
          <a class="button" href={address('hold', 'start', result.hold, record.id)}>
            Retest
          </a>
        )}
      </nav>
      {result && (
        <div class="record-columns cells">
          <section class="panel stack tight" aria-label="Result">
            <h2>{result.hold}</h2>
            <p class="soft">{verdictWords[result.verdict].meaning}</p>
            {corrected && (
              <p class="note is-failed" role="alert">
                A mark was corrected after sealing ({corrected.by.join(', ')}). Re-analyzed without it, this
                hold is {verdictWords[corrected.verdict].word}: the ledger counts that verdict.
              </p>
            )}
            <Reasons of={result.reasons} withCode />
            <VerdictFigures result={result} />
            <BudgetBar of={again.value?.budget} />
            {result.needs_seconds_more !== null && (
              <p>About {duration(result.needs_seconds_more)} more would have decided it.</p>
            )}
            {result.events.map((one) => (
              <p key={one.time_ns + one.kind} class="note">
                <span class="soft">{atInHold(result, one.time_ns)}</span> {one.message}
              </p>
            ))}
            {record.note && <p class="note">{record.note}</p>}
          </section>
          <div class="stack">
            {again.value === null && record.recording !== null && (
              <Pending of={again} words="Computing the curves again from the recording…" />
            )}
            {(curves as unknown as readonly WireCurves[]).map((one) => (
              <Curves
                key={one.section}
                whole={one}
                side={result.sections.length > 1 ? sideIn(result, one.section) : null}
                allowanceDropPa={result.allowance.drop_Pa}
                seconds={result.seconds}
                statedS={statedHoldS}
              />
            ))}
          </div>
        </div>
      )}
      {!result && <Evidence kind={record.kind} value={record.result as Readonly<Record<string, unknown>>} />}
      <div class="record-columns cells">
        {meaning.length > 0 && (
          <section class="panel stack tight" aria-label="What it means">
            <h2>What it means</h2>
            {result?.verdict === 'void' && (
              <p class="note is-void">The hold is void: these follow from figures that prove nothing.</p>
            )}
            {meaning.map((one) => (
              <div key={one.section} class="stack tight">
                <Facts
                  of={[
                    [
                      `${one.section} ${result && isSuctionHold(result.hold) ? t`rises` : t`loses`}`,
                      one.drop_per_hour_Pa > 0
                        ? t`${twoFigures(one.drop_per_hour_Pa * pressure().slope)} ${pressure().symbol} an hour`
                        : t`nothing measurable`,
                    ],
                    one.equivalent_hole_m !== null && [
                      t`like a hole of`,
                      `${twoFigures(one.equivalent_hole_m * 1e6)} µm`,
                    ],
                    one.fuel_mL_per_h !== null &&
                      one.fuel_mL_per_h > 0 && [
                        t`could pass`,
                        t`${twoFigures(one.fuel_mL_per_h)} mL of fuel an hour${one.drops_per_min === null ? '' : t`, ${twoFigures(one.drops_per_min)} drops a minute`}`,
                      ],
                  ]}
                />
                <p class="small soft">Assumed: {one.assumptions.join('; ')}.</p>
              </div>
            ))}
          </section>
        )}
        {result && hunt && <ByAllEvidence hunt={hunt} sections={result.sections} />}
        {marks && <RecordMarksPanel of={marks} photos={photos} />}
      </div>
      {result && mayOperate.value && <MarkPad sections={result.sections} />}
      {record.recording && (
        <RecordChart
          id={id}
          sections={result?.sections ?? []}
          marks={marks?.marks}
          onOpened={() => {
            charted.value = true
          }}
        />
      )}
      <section class="panel stack tight seal" aria-label="Seal">
        <h2>
          Seal
          <Term of="seal" />
        </h2>
        <Facts
          look="small"
          of={[
            record.recording && [
              t`recording`,
              <>
                {record.recording.name}, {inThousands(record.recording.bytes)} bytes
                <br />
                SHA-256 {record.recording.sha256}
              </>,
            ],
            [t`previous record`, record.previous_sha256 ?? t`none: the first of the chain`],
            [t`signed with`, record.public_key],
            [t`program`, `${record.program.name} ${record.program.version}`],
          ]}
        />
      </section>
    </article>
  )
}

/** Fittings less likely to leak than this are not listed beside a verdict. */
const WORTH_A_LINE = 0.05

/** The posterior from all the evidence in the archive, with its date; not from this hold alone. */
function ByAllEvidence({ hunt, sections }: { hunt: HuntResult; sections: readonly string[] }) {
  const covered = hunt.fittings.filter((one) => sections.includes(one.section))
  const likely = covered.filter(({ held, leaking }) => held && leaking >= WORTH_A_LINE).slice(0, 8)
  return (
    <section class="panel stack tight" aria-label="Fittings">
      <h2>Which fitting leaks now</h2>
      {likely.length === 0 && (
        <p>None of its fittings is likely to leak now: each {percentOf(WORTH_A_LINE)} or less.</p>
      )}
      <Likely of={likely} hunt={hunt} />
    </section>
  )
}

/** Time of an event relative to the start of the hold. */
const atInHold = ({ stages }: HoldResult, timeNs: string): string =>
  stages.hold_ns === null
    ? ''
    : t`${clock(Number(BigInt(timeNs) - BigInt(stages.hold_ns)) / 1e9)} into the hold:`

/** The side of the allowance that one section of several is on; null when it is unknown or proves nothing. */
function sideIn(result: HoldResult, section: string): ReturnType<typeof sideOf> | null {
  if (result.verdict === 'void') return null
  const leak = leaksOf(result).find((one) => one.section === section)
  return leak ? sideOf(leak.drop_Pa, result.allowance.drop_Pa) : null
}

interface CurvesProps {
  readonly whole: WireCurves
  /** The side of one section among several. */
  readonly side: ReturnType<typeof sideOf> | null
  readonly allowanceDropPa: number
  readonly seconds: number
  /** Hold time of the allowance, [s]; null: unknown. */
  readonly statedS: number | null
}

function Curves({ whole, side, allowanceDropPa, seconds, statedS }: CurvesProps) {
  const { symbol, slope, decimals } = pressure()
  const [columns, endS] = useMemo(() => {
    const curve = holdPart(whole, seconds)
    const [start = 0] = curve.timeS
    const x = curve.timeS.map((t) => t - start)
    const table = (values: readonly number[]): ChartColumns => ({ x, y: values.map((pa) => pa * slope) })
    const allowed = allowanceLine((curve.leakLinePa[0] ?? 0) * slope, allowanceDropPa * slope, {
      heldS: seconds,
      statedS,
    })
    return [[table(curve.gaugePa), table(curve.compensatedPa), allowed], x.at(-1) ?? 0] as const
  }, [whole, seconds, statedS, slope, allowanceDropPa])
  return (
    <section class="panel" aria-label={t`Curves of ${whole.section}`}>
      {side && (
        <h2 class="section-side line">
          {whole.section} <StateWord state={side.state} word={side.word} />
        </h2>
      )}
      <TimeChart
        label={t`${whole.section}, from the start of the hold`}
        unit={symbol}
        decimals={decimals + 1}
        lines={[
          { label: t`as read`, token: '--raw', width: 1 },
          { label: t`compensated`, token: '--line-a', width: 2.5 },
          { label: t`allowance`, token: '--fail', width: 2, dash: [8, 5] },
        ]}
        view={() => ({ columns, x: [0, Math.max(seconds, endS) * 1.01], y: null, zeroS: 0 })}
      />
    </section>
  )
}
