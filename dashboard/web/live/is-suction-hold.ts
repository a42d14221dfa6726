import { isSuction } from '../suction.ts'
import { system } from './bench.ts'

/** Whether a hold of the system file, by its id, is one under suction; false where the file no longer has it. */
export const isSuctionHold = (id: string): boolean =>
  isSuction(system.value?.holds.find((one) => one.id === id))
