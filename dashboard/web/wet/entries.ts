import { signal } from '@preact/signals'
import type { LookMethod, SeepScheme } from '#analysis/fuel-work/looks.ts'
import type { SheetForms } from '#analysis/fuel-work/sheet-fields.ts'
import type { WetStage } from '#analysis/fuel-work/wet-stages.ts'
import type { System } from '#analysis/model/system.ts'
import type { SavedSheet } from '#dashboard/api.ts'

/** Who makes the entries on this device, as long as the page is open. */
export const person = signal('')

/** Day and minute in the bench's own zone. */
export const shortTime = (iso: string): string =>
  new Date(iso).toLocaleString(undefined, { dateStyle: 'short', timeStyle: 'short' })

/** What `/api/wet` tells of the fuel work. */
export interface Known {
  readonly stages: readonly WetStage[]
  readonly scheme: SeepScheme
  readonly methods: readonly { readonly name: LookMethod; readonly sees: string }[]
  /** Published torque range of each fitting, in words. */
  readonly ranges: readonly { readonly id: string; readonly words: string | null }[]
  readonly forms: SheetForms
}

/** Every part of the fuel work is shown with the aircraft and what the server tells. */
export interface PartProps {
  readonly system: System
  readonly known: Known
}

/** What makes entries on one saved sheet. */
export interface OnSheet {
  readonly sheet: SavedSheet['sheet']
  /** Nothing may be entered: by nobody, or not from here. */
  readonly off: boolean
  readonly enter: (entry: object) => void
}
