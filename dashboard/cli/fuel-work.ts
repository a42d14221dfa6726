import { basename } from 'node:path'
import type { LevelResult } from '#analysis/fuel-work/calibrate-level.ts'
import { rangeFor } from '#analysis/fuel-work/judge-torque.ts'
import { wetStages } from '#analysis/fuel-work/wet-stages.ts'
import { rangeWords } from '#analysis/hunt/torque-tables.ts'
import type { Estimate } from '#analysis/model/hold-result.ts'
import type { Fitting, System } from '#analysis/model/system.ts'
import { toUnit } from '#analysis/physics/units.ts'
import { printResult } from './command.ts'
import { headText, sheetCommand } from './sheet-command.ts'
import { tableText } from './terminal.ts'

export const flow = sheetCommand({
  kind: 'flow',
  argument: ['<sheet>', 'flow sheet (YAML): fuel, take-off flow, timed deliveries'],
  own: [['--operator <name>', 'who measured']],
  examples: ['flow recordings/wet/flow.yaml --system recordings/wet/floatplane-wet.yaml'],
  text: ({ verdict, runs, reasons }) =>
    headText(verdict, runs.map(({ run }) => run).join('; '), reasons) +
    tableText([
      ['run', 'verdict', 'L/h', 'needed L/h', '% of take-off'],
      ...runs.map((run) => [
        run.run,
        run.verdict,
        interval(run.flow_L_per_h),
        interval(run.required_L_per_h),
        run.share_percent.toFixed(0),
      ]),
    ]),
})

function interval({ value, low, high }: Estimate): string {
  return `${value.toFixed(1)} (${low.toFixed(1)} to ${high.toFixed(1)})`
}

export const torque = sheetCommand({
  kind: 'work',
  argument: ['[sheet]', 'work sheet (YAML); without it the ranges are printed'],
  examples: [
    'torque --system recordings/wet/floatplane-wet.yaml',
    'torque recordings/wet/work.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  text: ({ verdict, id, action, by, reasons }) => headText(verdict, `${id} ${action}, by ${by}`, reasons),
  without: (system, { json }) =>
    process.stdout.write(
      json ? system.fittings.map((one) => `${JSON.stringify(rangeOf(one))}\n`).join('') : rangesText(system),
    ),
})

function rangeOf(fitting: Fitting) {
  const range = rangeFor(fitting, null, null)
  return {
    id: fitting.id,
    range_low_Nm: range?.lowNm ?? null,
    range_high_Nm: range?.highNm ?? null,
    range_source: range?.source ?? null,
    range_for: range?.purpose ?? null,
    threads: range?.threads ?? null,
  }
}

function rangesText({ fittings }: System): string {
  const rows = fittings.map((fitting) => {
    const range = rangeFor(fitting, null, null)
    return [
      fitting.id,
      [fitting.kind, fitting.size, fitting.material].filter(Boolean).join(' '),
      range ? rangeWords(range) : 'the maker’s figure',
    ]
  })
  return `${tableText([['joint', 'kind', 'torque'], ...rows])}  The maker’s range comes first. A self-locking nut takes its run-on torque on top (AC 43.13-1B 7-40 d).\n`
}

export const level = sheetCommand({
  kind: 'level',
  argument: [
    '<file...>',
    'recordings with fill marks, or a level sheet (YAML) with figures typed from the panel',
  ],
  own: [
    ['--operator <name>', 'who calibrated'],
    ['--channel <id>', 'channel of the level sender that the recordings read'],
    ['--steps <count>', 'parts of the gauge’s scale', { default: '8' }],
  ],
  examples: [
    'level recordings/wet/left-sender.lp --system recordings/wet/floatplane-wet.yaml --channel sender-left',
    'level recordings/wet/right-panel.yaml --system recordings/wet/floatplane-wet.yaml',
  ],
  sheetOf: (files, { channel, steps }: { readonly channel?: string; readonly steps: string }) =>
    files.length === 1 && /\.ya?ml$/.test(files[0]!)
      ? null
      : { channel, steps: Number(steps), recordings: files.map((file) => basename(file)) },
  text: levelText,
})

/** The verdict, the table for the gauge maker, its drawing, and the omitted data. */
function levelText(result: LevelResult): string {
  let text = headText(result.verdict, `${result.channel}, ${result.section}`, result.reasons)
  const cell = (value: number | null, decimals: number): string =>
    value === null ? '–' : value.toFixed(decimals).replace(/^-(0\.?0*)$/, '$1')
  for (const [attitude, steps] of [
    ['level', result.steps_level],
    ['ground', result.steps_ground],
  ] as const) {
    if (steps.length === 0) continue
    text += `\n  Table in ${attitude} attitude; 95 % intervals\n`
    text += tableText([
      ['step', 'usable L', result.reading_unit, 'from', 'to', 'stands for L'],
      ...steps.map((s) => [
        s.step,
        cell(s.usable_L, 1),
        cell(s.reading, 1),
        cell(s.reading_low, 1),
        cell(s.reading_high, 1),
        s.usable_low_L === null ? '–' : `${cell(s.usable_low_L, 1)} to ${cell(s.usable_high_L, 1)}`,
      ]),
    ])
    const readings = steps.flatMap(({ reading }) => (reading === null ? [] : [reading]))
    const [low, high] = [Math.min(...readings), Math.max(...readings)]
    if (high > low)
      text += steps
        .map(
          (s) =>
            `  ${s.step.padEnd(6)}|${s.reading === null ? ' not read' : `${' '.repeat(Math.round((48 * (s.reading - low)) / (high - low)))}o`}\n`,
        )
        .join('')
  }
  if (result.hysteresis) {
    const { span_percent, fuel_L } = result.hysteresis
    text += `\n  Up and down differ by ${span_percent.toFixed(1)} % of the span, ${fuel_L.toFixed(1)} L at most.\n`
  }
  for (const one of result.rejected)
    text += `  Left out: ${one.usable_L.toFixed(1)} L ${one.direction}, ${one.reading?.toFixed(1) ?? 'no reading'}: ${one.message}.\n`
  return text
}

export const wet = sheetCommand({
  kind: 'wet',
  argument: ['[sheet]', 'sheet of one stage (YAML); without it the checklist is printed'],
  own: [['--operator <name>', 'who looked']],
  examples: [
    'wet --system recordings/wet/floatplane-wet.yaml',
    'wet recordings/wet/soak.yaml --system recordings/wet/floatplane-wet.yaml --seal',
  ],
  text: ({ verdict, stage, sections, reasons, looks, scheme }) =>
    headText(verdict, `${stage}, ${sections.join(' + ')}`, reasons) +
    tableText([
      ['joint', 'after', 'finding', 'by', 'how', 'class', 'head psi'],
      ...looks.map((look) => [
        look.fitting,
        `${Math.round(look.after_s / 60)} min`,
        look.withdrawn === null ? look.finding : `${look.finding}, withdrawn`,
        look.by ?? '–',
        look.how || '–',
        look.class ?? '',
        look.head_Pa === null ? '' : toUnit(look.head_Pa, 'psi', 'pressure').toFixed(2),
      ]),
    ]) +
    `  Classes: ${scheme.name} (${scheme.source}): ${scheme.classes}\n`,
  without: (system, options) => printResult(options, wetStages, () => checklistText(system)),
})

/** The stages in order with checkboxes, and the fittings to inspect. */
function checklistText(system: System): string {
  const stages = wetStages.map(
    ({ title, name, steps, soakS, looks, proves }, i) =>
      `${i + 1}. ${title} (${name})\n${steps.map(({ text, safety }, at) => `   [ ] ${at + 1}${safety ? ' safety' : ''}: ${text}\n`).join('')}   ${looks ? `last look after ${Math.round(soakS / 60)} min; ${proves ? 'dry is proof' : 'dry is permission to go on'}` : 'no joints are inspected'}\n`,
  )
  const fittings = system.sections.map(({ id }) => {
    const own = system.fittings.filter(({ section }) => section === id)
    return own.length === 0 ? '' : `  ${id}: ${own.map((f) => `${f.id} ${f.name}`).join(', ')}\n`
  })
  return `${stages.join('\n')}\nFittings to look at\n${fittings.join('')}\nThe kit or airframe maker’s instructions come first. No ignition source; bond tank and can; gloves and eye protection.\n`
}
