import { bench } from './bench.ts'

/** For how long a channel that once gave readings has given none, [s]; null while they come. */
export const quietFor = (channel: string): number | null => bench.value?.newest[channel]?.quietS ?? null
