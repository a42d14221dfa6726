import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { openArchive } from '#dashboard/archive/archive.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'
import type { BenchPlan, Race } from './bench-plan.ts'
import { runProcess } from './run-process.ts'

const program = await builtProgram()
/** That of the built program: it reads the index of another version anew. */
const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
const folder = mkdtempSync(join(tmpdir(), 'bench-commands-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

const system = join(root, 'recordings', 'floatplane.yaml')
const recording = join(root, 'recordings', 'lines-leak.lp')
const report = join(folder, 'report.pdf')

const start = (words: readonly string[], data = folder): number => runProcess(words, data).processorMs

/** An archive of so many holds, an hour apart by their stages, all with the readings of one recording. */
function archiveOf(holds: number): string {
  const data = join(folder, `holds-${holds}`)
  const systemText = readFileSync(system, 'utf8')
  const read = systemFromFile(systemText, system)
  const [{ result }] = analyzeRecording(readRecordingFile(recording, read), read)
  const archive = openArchive(data, { programVersion: version })
  for (let k = 0; k < holds; k++) {
    const later = ([name, at]: [string, string | null]) => [
      name,
      /^\d+$/.test(at ?? '') ? String(BigInt(at!) + BigInt(k) * 3_600_000_000_000n) : at,
    ]
    const stages = Object.fromEntries(Object.entries(result.stages).map(later))
    archive.seal({
      kind: 'hold',
      recordingPath: recording,
      systemText,
      systemName: read.name,
      result: { ...result, stages },
      operator: 'A. B.',
      origins: [{ channel: 'p-lines', kind: 'serial', name: '/dev/ttyUSB0', sha256: null }],
    })
  }
  archive.close()
  return data
}

const beside = (goal: number, ...words: readonly string[]): BenchPlan => {
  return (): Race => ({
    kind: 'race',
    isProcess: true,
    name: `stillhold ${words.map((word) => word.replace(/^.*\//, '')).join(' ')}`,
    run: () => start([program, ...words]),
    rivals: [{ name: 'node -e 0', run: () => start(['-e', '0']), goal: 1 / goal }],
  })
}

const atSize = (...words: readonly string[]): BenchPlan => {
  return (quick): Race => {
    const [few, many] = [10, quick ? 100 : 1000].map(archiveOf)
    return {
      kind: 'race',
      isProcess: true,
      name: `stillhold ${words.join(' ')} of ${quick ? 100 : '1,000'} holds`,
      run: () => start([program, ...words], many),
      rivals: [{ name: 'of 10', run: () => start([program, ...words], few), goal: 1 / 1.3 }],
    }
  }
}

export const plans: readonly BenchPlan[] = [
  beside(1.7, '--help'),
  beside(4, 'analyze', recording, '--system', system),
  beside(6, 'plan', '--system', system, '--hold', 'feed-lines-10psi'),
  (quick) => {
    start([program, 'seal', recording, '--system', system, '--operator', 'A. B.'])
    return beside(10, 'report', '1', '--force', '--out', report)(quick)
  },
  beside(10, 'verify', report),
  atSize('archive', 'list'),
  atSize('ledger'),
  async (quick) => {
    const records = join(archiveOf(quick ? 6 : 40), 'records')
    const files = readdirSync(records).map((name) => join(records, name))
    const check = async () => {
      for (const file of files) await verify(file, { programVersion: '0.0.0-bench' })
    }
    await check()
    const before = process.cpuUsage()
    await check()
    const { user, system: kernel } = process.cpuUsage(before)
    return {
      kind: 'figures',
      name: `verify of ${files.length} sealed holds, one after the other in one process`,
      figures: [
        { name: 'processor, a hold', value: (user + kernel) / 1000 / files.length, unit: 'ms', atMost: 40 },
      ],
    }
  },
]
