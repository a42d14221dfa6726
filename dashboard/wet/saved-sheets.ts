import { randomUUID } from 'node:crypto'
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import * as v from 'valibot'
import { SheetError } from '#analysis/fuel-work/sheet-entries.ts'
import type { SavedSheet } from '#dashboard/api.ts'
import { makeFolder } from '#dashboard/archive/archive-folder.ts'
import { renamePatiently, writeFileDurably } from '#dashboard/archive/write-durably.ts'

const anyText = v.pipe(v.string(), v.trim(), v.maxLength(500, 'is longer than 500 characters'))
const text = v.pipe(anyText, v.nonEmpty('is missing'))
/** Empty values are omitted. */
const textOrNone = v.pipe(
  v.nullish(anyText),
  v.transform((given) => given || undefined),
)
const count = v.pipe(v.number(), v.integer(), v.minValue(1))

/** Input that opens a sheet. */
export const sheetOrder = v.strictObject({ stage: text, sections: v.array(text), by: text })

/** One entry of a sheet, by one person. */
export const sheetEntry = v.variant('kind', [
  v.strictObject({
    ...{ kind: v.literal('set'), by: text },
    ...{ fuel: v.optional(text), temperature: v.optional(text), 'hold-record': v.optional(text) },
  }),
  /** The fill is done, the shut-off open, the pump or the engine on: the soak time starts now. */
  v.strictObject({ kind: v.literal('begin'), by: text }),
  v.strictObject({ kind: v.literal('step'), by: text, step: count, done: v.optional(v.boolean(), true) }),
  /** An empty reason withdraws the omission. */
  v.strictObject({
    ...{ kind: v.literal('omit'), by: text, why: textOrNone },
    ...{ step: v.optional(count), stage: textOrNone, fitting: textOrNone },
  }),
  v.strictObject({
    ...{ kind: v.literal('look'), by: text, fitting: text, finding: text },
    how: v.pipe(v.array(text), v.minLength(1, 'is missing: say how the joint was inspected')),
    ...{ spread: textOrNone, 'since-wipe': textOrNone, head: textOrNone },
  }),
  /** A look entered by mistake stays on the sheet with the reason. */
  v.strictObject({ kind: v.literal('withdraw'), by: text, look: count, why: text }),
  v.strictObject({ kind: v.literal('take-over'), by: text }),
])

/**
 * The open sheets of the fuelling checks, one per stage and set of sections, each a file beside the archive. Any device
 * can open them, so work can change hands, and they survive a restart.
 */
export class SavedSheets {
  readonly #folder: string
  readonly #check: (sheet: unknown) => void

  /** @param check throws SheetError for a sheet that could not be judged; such a sheet is not saved */
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

  /** @throws SheetError when there is none, or it has been closed */
  get(id: string): SavedSheet {
    const found = this.list().find((one) => one.id === id)
    if (!found) throw new SheetError('that sheet is closed: somebody sealed it or set it aside')
    return found
  }

  /** Opens a sheet, or returns the open one of that stage on any of the sections. */
  open({ stage, sections, by }: v.InferOutput<typeof sheetOrder>): SavedSheet {
    const open = this.list().find(
      ({ sheet }) => sheet.stage === stage && sheet.sections.some((id) => sections.includes(id)),
    )
    if (open) return open
    const journal = [{ at: new Date().toISOString(), by, did: 'opened the sheet' }]
    const sheet = { stage, sections, began: null, done: [], omitted: [], looks: [], journal }
    return this.#keep({ id: randomUUID(), sheet })
  }

  /** One entry by one person, stamped with the time now. @throws SheetError */
  change(id: string, entry: v.InferOutput<typeof sheetEntry>): SavedSheet {
    const { sheet } = this.get(id)
    const at = new Date().toISOString()
    const { did, ...changed } = changeOf(sheet, entry, at)
    const journal = [...sheet.journal, { at, by: entry.by, did }]
    return this.#keep({ id, sheet: { ...sheet, ...changed, journal } })
  }

  /** Closes a sheet; its file is renamed after the outcome. */
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

/** The change of a sheet by an entry, and its text in the journal. */
function changeOf(
  { looks, done, omitted, began }: SavedSheet['sheet'],
  entry: v.InferOutput<typeof sheetEntry>,
  at: string,
): Partial<SavedSheet['sheet']> & { readonly did: string } {
  switch (entry.kind) {
    case 'set': {
      const { by: _, kind, ...set } = entry
      return { ...set, did: 'entered the conditions' }
    }
    case 'begin':
      if (looks.length > 0) throw new SheetError('entry: begin comes before the first look: open a new sheet')
      return { began: at, did: 'began the soak' }
    case 'step': {
      const { step, done: isDone } = entry
      const others = done.filter((one) => one !== step)
      return {
        done: isDone ? [...others, step].sort((a, b) => a - b) : others,
        omitted: isDone ? omitted.filter((one) => one.step !== step) : omitted,
        did: `${isDone ? 'did' : 'took back'} step ${step}`,
      }
    }
    case 'omit': {
      const { step, stage, fitting, why } = entry
      const what = step === undefined ? (stage ?? fitting) : `step ${step}`
      if (what === undefined) throw new SheetError('entry: step or stage or fitting: name exactly one')
      const rest = omitted.filter(
        (one) => one.step !== step || one.stage !== stage || one.fitting !== fitting,
      )
      return why === undefined
        ? { omitted: rest, did: `took back the omission of ${what}` }
        : { omitted: [...rest, { step, stage, fitting, why }], did: `omitted ${what}: ${why}` }
    }
    case 'look': {
      if (began === null) throw new SheetError('entry: look comes after begin')
      const { kind: _, ...look } = entry
      return {
        looks: [...looks, { ...look, at, stamped: true }],
        did: `found ${look.fitting} ${look.finding}`,
      }
    }
    case 'withdraw': {
      const look = looks[entry.look - 1]
      if (!look) throw new SheetError(`entry: look is a number from 1 to ${looks.length}`)
      return {
        looks: looks.with(entry.look - 1, { ...look, withdrawn: entry.why }),
        did: `withdrew ${look.fitting} ${look.finding}: ${entry.why}`,
      }
    }
    case 'take-over':
      return { did: 'took over' }
  }
}
