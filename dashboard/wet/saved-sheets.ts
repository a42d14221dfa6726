import { randomUUID } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { SavedSheet } from '#dashboard/api.ts'
import { makeFolder } from '#dashboard/archive/archive-folder.ts'
import { renamePatiently } from '#dashboard/archive/rename-patiently.ts'
import { writeFileDurably } from '#dashboard/archive/write-durably.ts'
import { SheetEntries, SheetError } from './sheet-entries.ts'

/**
 * The open sheets of the fuelling checks, one a stage and set of sections, each a file beside the archive: any device opens
 * them, one person hands over to the next, and a night survives a restart.
 */
export class SavedSheets {
  readonly #folder: string
  readonly #check: (sheet: unknown) => void

  /** @param check throws SheetError for a sheet that could not be judged; nothing of the kind is kept */
  constructor(archiveFolder: string, check: (sheet: unknown) => void) {
    this.#folder = join(archiveFolder, 'sheets')
    this.#check = check
  }

  list(): SavedSheet[] {
    if (!existsSync(this.#folder)) return []
    return readdirSync(this.#folder)
      .filter((name) => /^[0-9a-f-]{36}\.json$/.test(name))
      .map((name) => JSON.parse(readFileSync(join(this.#folder, name), 'utf8')) as SavedSheet)
      .sort((a, b) => (a.sheet.journal[0].at < b.sheet.journal[0].at ? -1 : 1))
  }

  /** @throws SheetError when there is none, or it was closed meanwhile */
  get(id: string): SavedSheet {
    const found = this.list().find((one) => one.id === id)
    if (!found) throw new SheetError('that sheet is closed: sealed or put aside by somebody')
    return found
  }

  /** Opens a sheet; where one of that stage on any of the sections is open, that one. */
  open(order: unknown): SavedSheet {
    const entries = new SheetEntries(order, 'new sheet')
    const [stage, sections, by] = [entries.text('stage'), entries.texts('sections'), entries.text('by')]
    entries.finish()
    const open = this.list().find(
      ({ sheet }) => sheet.stage === stage && sheet.sections.some((id) => sections.includes(id)),
    )
    if (open) return open
    const at = new Date().toISOString()
    const journal = [{ at, by, did: 'opened the sheet' }]
    return this.#keep({
      id: randomUUID(),
      sheet: { stage, sections, began: null, done: [], omitted: [], looks: [], journal },
    })
  }

  /** One entry by one person, stamped with the time now. @throws SheetError */
  change(id: string, order: unknown): SavedSheet {
    const saved = this.get(id)
    const entries = new SheetEntries(order, 'entry')
    const by = entries.text('by')
    const kind = entries.word('kind', Object.keys(changes) as (keyof typeof changes)[])
    const at = new Date().toISOString()
    const { sheet, did } = changes[kind](saved.sheet, entries, by, at)
    entries.finish()
    return this.#keep({ id, sheet: { ...sheet, journal: [...sheet.journal, { at, by, did }] } })
  }

  /** Closes a sheet; its file stays under the name of what became of it. */
  close(id: string, as: 'sealed' | 'put-aside'): void {
    renamePatiently(join(this.#folder, `${id}.json`), join(this.#folder, `${as}-${id}.json`))
  }

  #keep(saved: SavedSheet): SavedSheet {
    const { sheet } = saved
    this.#check({
      fuel: 'avgas',
      temperature: '15 degC',
      ...sheet,
      began: sheet.began ?? sheet.journal[0].at,
    })
    makeFolder(this.#folder)
    writeFileDurably(join(this.#folder, `${saved.id}.json`), JSON.stringify(saved, null, 1))
    return saved
  }
}

type StageSheet = SavedSheet['sheet']

type Change = (
  sheet: StageSheet,
  entries: SheetEntries,
  by: string,
  at: string,
) => { readonly sheet: StageSheet; readonly did: string }

const changes: Readonly<
  Record<'set' | 'begin' | 'step' | 'omit' | 'look' | 'withdraw' | 'take-over', Change>
> = {
  set(sheet, entries) {
    const fuel = entries.optionalText('fuel') ?? sheet.fuel
    const temperature = entries.optionalText('temperature') ?? sheet.temperature
    const hold = entries.optionalText('hold-record') ?? sheet['hold-record']
    return {
      sheet: {
        ...sheet,
        ...(fuel && { fuel }),
        ...(temperature && { temperature }),
        ...(hold && { 'hold-record': hold }),
      },
      did: 'entered the conditions',
    }
  },
  /** The fill is done, the shut-off open, the pump or the engine on: the soak counts from now. */
  begin(sheet, entries, _by, at) {
    if (sheet.looks.length > 0) entries.fail('kind', 'begin comes before the first look: open a new sheet')
    return { sheet: { ...sheet, began: at }, did: 'began the soak' }
  },
  step(sheet, entries) {
    const n = entries.number('step') ?? entries.fail('step', 'is missing')
    const done = entries.flag('done') ?? true
    return {
      sheet: {
        ...sheet,
        done: [...sheet.done.filter((one) => one !== n), ...(done ? [n] : [])].sort((a, b) => a - b),
        omitted: done ? sheet.omitted.filter(({ step }) => step !== n) : sheet.omitted,
      },
      did: `${done ? 'did' : 'took back'} step ${n}`,
    }
  },
  /** An empty reason takes the omission back. */
  omit(sheet, entries) {
    const step = entries.number('step') ?? undefined
    const stage = entries.optionalText('stage') ?? undefined
    const fitting = entries.optionalText('fitting') ?? undefined
    const why = entries.optionalText('why')
    const rest = sheet.omitted.filter(
      (one) => one.step !== step || one.stage !== stage || one.fitting !== fitting,
    )
    const what = step === undefined ? (stage ?? fitting ?? '') : `step ${step}`
    if (what === '') entries.fail('step', 'or stage or fitting: name exactly one')
    return {
      sheet: { ...sheet, omitted: why === null ? rest : [...rest, { step, stage, fitting, why }] },
      did: why === null ? `took back the omission of ${what}` : `omitted ${what}: ${why}`,
    }
  },
  look(sheet, entries, by, at) {
    if (sheet.began === null) entries.fail('kind', 'look comes after begin')
    const fitting = entries.text('fitting')
    const finding = entries.text('finding')
    const how = entries.texts('how')
    if (how.length === 0) entries.fail('how', 'is missing: say how the joint was inspected')
    const measured = Object.fromEntries(
      ['spread', 'since-wipe', 'head']
        .map((key) => [key, entries.optionalText(key)] as const)
        .filter(([, value]) => value !== null),
    )
    return {
      sheet: {
        ...sheet,
        looks: [...sheet.looks, { fitting, at, by, stamped: true, finding, how, ...measured }],
      },
      did: `found ${fitting} ${finding}`,
    }
  },
  /** A look entered by mistake stays on the sheet with the reason. */
  withdraw(sheet, entries) {
    const n = entries.number('look') ?? entries.fail('look', 'is missing')
    const why = entries.text('why')
    const look = sheet.looks[n - 1] ?? entries.fail('look', `is a number from 1 to ${sheet.looks.length}`)
    return {
      sheet: { ...sheet, looks: sheet.looks.with(n - 1, { ...look, withdrawn: why }) },
      did: `withdrew ${look.fitting} ${look.finding}: ${why}`,
    }
  },
  'take-over'(sheet) {
    return { sheet, did: 'took over' }
  },
}
