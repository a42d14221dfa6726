import { signal } from '@preact/signals'
import type { LookMethod, SeepScheme } from '#analysis/fuel-work/looks.ts'
import type { SheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import type { SavedSheet } from '#dashboard/api.ts'

/** Author of the entries on this device; kept while the page is open. */
export const person = signal('')

/** Answer of `/api/wet`. */
export interface Known {
  readonly stages: readonly WetStage[]
  readonly scheme: SeepScheme
  readonly methods: readonly { readonly name: LookMethod; readonly sees: string }[]
  /** Published torque range of each fitting, in words. */
  readonly ranges: readonly { readonly id: string; readonly words: string | null }[]
  readonly forms: SheetForms
}

/** Common props of the parts of the fuel work. */
export interface PartProps {
  readonly system: System
  readonly known: Known
}

/** Access to one saved sheet. */
export interface OnSheet {
  readonly sheet: SavedSheet['sheet']
  /** Entries are disabled, for everyone or on this device. */
  readonly off: boolean
  readonly enter: (entry: object) => void
}
