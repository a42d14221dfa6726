import { copyFileSync, existsSync, readdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { syncFolder } from '#ingest/recording/sync-folder.ts'
import { ArchiveError, diskError } from './archive-error.ts'
import {
  type ArchiveFolder,
  archiveFolder,
  isArchiveFolder,
  makeFolder,
  sequenceOf,
} from './archive-folder.ts'
import { headState, headText, readHead, writeHead } from './chain-head.ts'
import { type ChainLink, checkSeal, filesOf, readChain } from './read-chain.ts'
import type { SealedRecord } from './record.ts'
import { type PublicKeyInfo, publicKeyFile, publicKeyFromBase64, signingKeyFile } from './signing-key.ts'
import { flushFile, hashFile, keepByHash, renamePatiently, writeFileDurably } from './write-durably.ts'

/**
 * Copies an archive into a new folder and compares every copy with its original by hash. The record files are listed
 * first, the recordings and photos are copied after them, so that a record sealed meanwhile is copied whole or not
 * at all. The index is omitted: it is rebuilt from the record files when the copy is opened.
 */
export function backupArchive(paths: ArchiveFolder, target: string): { records: number; files: number } {
  if (existsSync(target)) {
    throw new ArchiveError(
      'target-exists',
      target,
      `cannot back up to ${target}: it exists; name a new folder`,
    )
  }
  const unfinished = `${target}.unfinished`
  rmSync(unfinished, { recursive: true, force: true })
  const copy = archiveFolder(unfinished)
  let files = 0
  let records = 0
  const keep = (from: string, to: string): void => {
    copyFileSync(from, to)
    flushFile(to)
    if (hashFile(from).sha256 !== hashFile(to).sha256) throw new Error('the copy differs from the original')
    files++
  }
  try {
    for (const chain of ['', ...paths.foreignChains()]) {
      makeFolder(copy.records(chain))
      // The head first, and no more records than it counts: records sealed meanwhile are not in the copy.
      const head = headText(paths, chain)
      const count = readHead(head ?? '')?.count ?? Number.POSITIVE_INFINITY
      if (head !== null) writeHead(copy, chain, head)
      for (const id of paths.recordIds(chain).filter((each) => sequenceOf(each) <= count)) {
        keep(paths.recordFile(chain, id), copy.recordFile(chain, id))
        records++
      }
      for (const name of [signingKeyFile, publicKeyFile]) {
        const from = join(paths.chainFolder(chain), name)
        if (existsSync(from)) keep(from, join(copy.chainFolder(chain), name))
      }
      syncFolder(copy.records(chain))
    }
    for (const folder of ['recordings', 'photos', 'timestamps']) {
      const [from, to] = [join(paths.folder, folder), join(unfinished, folder)]
      if (!existsSync(from)) continue
      makeFolder(to)
      for (const name of readdirSync(from)) {
        if (!name.endsWith('.tmp')) keep(join(from, name), join(to, name))
      }
      syncFolder(to)
    }
    renamePatiently(unfinished, target)
    return { records, files }
  } catch (cause) {
    rmSync(unfinished, { recursive: true, force: true })
    throw cause instanceof ArchiveError ? cause : diskError('back up to', target, cause)
  }
}

export interface ImportReport {
  readonly chains: readonly {
    readonly fingerprint: string
    /** True when the chain was sealed with this archive's own key, as in a backup. */
    readonly own: boolean
    readonly added: number
    readonly known: number
  }[]
}

/**
 * Copies the chains of another archive beside its own chain, each under its own key and byte for byte: no record is
 * renumbered or signed again. Every chain is fully checked before anything is copied. A known chain
 * is extended by its new records; a chain that diverges from the local copy is refused.
 *
 * @param progress called with the copied share of the new records
 * @throws ArchiveError `no-archive`, `bad-record` or `forked-chain`; then nothing was imported.
 */
export function importArchive(
  paths: ArchiveFolder,
  own: PublicKeyInfo,
  source: string,
  progress: (share: number) => void = () => {},
): ImportReport {
  if (!isArchiveFolder(source)) {
    throw new ArchiveError('no-archive', source, `no archive at ${source}: it has no folder of records`)
  }
  const from = archiveFolder(source)
  const plans = ['', ...from.foreignChains()]
    .map((chain) => planChain(paths, own, from, chain))
    .filter((plan) => plan !== null)
  if (plans.length === 0) {
    throw new ArchiveError('no-archive', source, `the archive at ${source} has no records yet`)
  }
  const total = plans.reduce((sum, plan) => sum + plan.fresh.length, 0)
  let copied = 0
  for (const plan of plans) copyChain(paths, from, plan, () => progress(++copied / total))
  return {
    chains: plans.map(({ key, target, fresh, known }) => ({
      fingerprint: key.fingerprint,
      own: target === '',
      added: fresh.length,
      known,
    })),
  }
}

interface ChainPlan {
  /** Name in the source. */
  readonly chain: string
  readonly key: PublicKeyInfo
  /** '' for the archive's own chain. */
  readonly target: string
  readonly fresh: readonly ChainLink[]
  readonly known: number
}

function planChain(
  paths: ArchiveFolder,
  own: PublicKeyInfo,
  from: ArchiveFolder,
  chain: string,
): ChainPlan | null {
  const links = readChain(from, chain)
  for (const link of links) {
    const fault = link.placeFaults[0] ?? link.error ?? sealFault(link.record!, from)
    if (fault === undefined) continue
    const message = `cannot import ${from.folder}: ${link.path}: ${fault}`
    throw new ArchiveError('bad-record', link.path, message)
  }
  const [first] = links
  // A record that cannot be read is a fault.
  if (first === undefined) return null
  const key = publicKeyFromBase64(first.record!.public_key)
  const state = headState(headText(from, chain), links, key.base64)
  if (typeof state === 'object')
    throw new ArchiveError('bad-record', from.folder, `cannot import ${from.folder}: ${state.broken}`)
  const target = key.base64 === own.base64 ? '' : key.fingerprint
  const known = readChain(paths, target)
  for (const [i, { sha256, path, id }] of links.entries()) {
    const here = known[i]
    if (here === undefined || here.sha256 === sha256) continue
    throw new ArchiveError(
      'forked-chain',
      path,
      `cannot import ${from.folder}: its record ${id} differs from ${here.id} of the same chain here; ` +
        'two archives continued one chain with the same key; keep both and find out which is right',
    )
  }
  return { chain, key, target, fresh: links.slice(known.length), known: Math.min(known.length, links.length) }
}

function sealFault(record: SealedRecord, from: ArchiveFolder): string | undefined {
  return checkSeal(record, filesOf(from), true).findings.find(({ state }) => state === 'broken')?.text
}

/** Recordings and photos first, then records in order: a crash leaves a shorter chain, never a broken one. */
function copyChain(paths: ArchiveFolder, from: ArchiveFolder, plan: ChainPlan, copied: () => void): void {
  makeFolder(paths.records(plan.target))
  for (const { record, text, id } of plan.fresh) {
    if (record?.recording) {
      keepByHash(from.recordingFile(record.recording.sha256), paths.recordings, '.lp')
    }
    for (const photo of record?.photos ?? []) keepByHash(from.photoFile(photo.sha256), paths.photos, '')
    writeFileDurably(paths.recordFile(plan.target, id), text)
    copied()
  }
  const head = headText(from, plan.chain)
  const known = readHead(headText(paths, plan.target) ?? '')?.count ?? 0
  if (plan.target !== '' && head !== null && (readHead(head)?.count ?? 0) >= known)
    writeHead(paths, plan.target, head)
  const keyPath = join(paths.chainFolder(plan.target), publicKeyFile)
  if (!existsSync(keyPath)) writeFileDurably(keyPath, plan.key.pem)
}
