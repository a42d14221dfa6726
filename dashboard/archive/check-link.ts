import { availableParallelism } from 'node:os'
import { type Verdict, worstVerdict } from '#analysis/model/hold-result.ts'
import { archiveFolder } from './archive-folder.ts'
import { checkRecord } from './check-record.ts'
import { broken, type CheckedRecord } from './finding.ts'
import { type ChainLink, checkSeal, filesOf } from './read-chain.ts'
import type { TakenBack } from './recompute-hold.ts'
import type { SealedRecord } from './record.ts'
import { startThread } from './start-thread.ts'

/** A record of an archive with all inputs of its check: plain data, so that another thread can check it. */
export interface LinkToCheck extends Omit<ChainLink, 'text' | 'path'> {
  readonly folder: string
  readonly programVersion: string
  readonly before: SealedRecord | null
  readonly takenBack: TakenBack
  /** Sealed verdicts of the records that it may rely on. */
  readonly verdicts: ReadonlyMap<string, Verdict | null>
}

/** A checked record of a chain. */
export interface CheckedLink {
  readonly record: CheckedRecord
  /** Whether it stands where it was sealed, with every byte as sealed. */
  readonly isAsSealed: boolean
}

/** Fewer records are checked before threads have started. */
const threadsFrom = 30

/** Checks records, on all cores when there are many, and returns the findings in their order. */
export async function checkLinks(
  links: readonly LinkToCheck[],
  progress: (share: number) => void = () => {},
): Promise<CheckedLink[]> {
  const checked: CheckedLink[] = []
  let done = 0
  let next = 0
  const took = (at: number, link: CheckedLink) => {
    checked[at] = link
    progress(++done / links.length)
  }
  if (links.length < threadsFrom) {
    for (const [at, link] of links.entries()) took(at, checkLink(link))
    return checked
  }
  const onThread = () =>
    new Promise<void>((resolve, reject) => {
      const thread = startThread(import.meta.url, 'check-thread')
      let at = -1
      const give = () => {
        at = next++
        if (at < links.length) thread.postMessage(links[at])
        else resolve(void thread.terminate())
      }
      thread.on('message', (link: CheckedLink) => {
        took(at, link)
        give()
      })
      thread.on('error', reject)
      thread.on('exit', () => reject(new Error('a thread of the check ended before its work was done')))
      give()
    })
  await Promise.all(Array.from({ length: availableParallelism() }, onThread))
  return checked
}

/** Checks one record, its place in the chain and the files it names. */
export function checkLink({ record, id, placeFaults, error, ...around }: LinkToCheck): CheckedLink {
  const place = placeFaults.map(broken)
  if (record === null) {
    const findings = [...place, broken(error ?? '')]
    const unknown = {
      id,
      kind: 'unknown',
      sealed: null,
      recomputed: null,
      verdict: 'void' as const,
      findings,
    }
    return { record: unknown, isAsSealed: false }
  }
  const verdictOf = (other: string) => around.verdicts.get(other)
  const files = filesOf(archiveFolder(around.folder))
  const seal = checkSeal(record, files, true)
  const checked = checkRecord(record, files, { ...around, isWhole: true, verdictOf, seal })
  const verdict = worstVerdict([checked.verdict, place.length > 0 ? 'void' : null])
  const isAsSealed = [...place, ...seal.findings].every(({ state }) => state !== 'broken')
  return { record: { ...checked, id, verdict, findings: [...place, ...checked.findings] }, isAsSealed }
}
