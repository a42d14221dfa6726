import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseArgs } from 'node:util'
import { openArchive } from '#dashboard/archive/archive.ts'
import { verify } from '#dashboard/archive/verify.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { BenchProcess } from './bench-process.ts'
import { NumberedLogger } from './numbered-logger.ts'

/** What was seen of a row of kills; every list of faults must stay empty. */
export interface KillReport {
  readonly kills: number
  /** Stage in which each kill fell. */
  readonly during: Readonly<Record<string, number>>
  readonly holdsStarted: number
  readonly holdsSealed: number
  readonly holdsWentOn: number
  readonly linesWritten: number
  /** Age at the kill of the newest line that was not kept, [ms]. */
  readonly lossMs: { readonly median: number; readonly most: number }
  readonly faults: readonly string[]
}

const hold = 'rig-10psi'
/** A line younger than this at the kill may be missing, [ms]. */
const mayMissMs = 1000
/** Longer than this no step may take, [ms]. */
const patienceMs = 60_000

/**
 * Kills `serve` at random moments of a hold while a logger writes through a pseudo-terminal, starts it again each
 * time, and looks whether anything that was promised is gone.
 */
export async function killAgain(
  kills: number,
  seed: number,
  note: (line: string) => void,
): Promise<KillReport> {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-kill-'))
  const data = join(folder, 'data')
  const system = join(folder, 'aircraft.yaml')
  writeFileSync(
    system,
    shortHolds(readFileSync(new URL('../../recordings/floatplane.yaml', import.meta.url), 'utf8')),
  )
  mkdirSync(data)
  const logger = new NumberedLogger()
  const random = seededRandom(seed)
  const faults: string[] = []
  const during: Record<string, number> = {}
  const lossesMs: number[] = []
  const started = new Set<string>()
  const acknowledged: { recording: string; stage: string }[] = []
  let wentOn = 0
  try {
    await logger.plug()
    const args = ['--port', logger.line.path, '--system', system, '--data', data]
    for (let kill = 0; kill < kills; kill++) {
      const bench = await BenchProcess.start(args)
      const heardMs = await untilHeard(bench)
      let stage = 'before'
      let at = 'start'
      let isRunning = true
      const operate = async () => {
        const first = (await bench.state()).hold
        if (first) wentOn++
        while (isRunning) {
          const { hold: runs, recording, sealing } = await bench.state()
          stage = runs?.stage ?? (sealing ? 'sealing' : 'idle')
          const next = runs ? following[runs.stage] : sealing ? null : 'pump-up'
          // Most of the time is the hold's, so that most kills fall into it.
          if (next && (next !== 'vent' || random.chance(0.15))) {
            at = next
            // Pressure goes on after the start: a section that is already under it is refused.
            if (next === 'vent' || next === 'end') logger.pressurePsi = 0
            const answer = next === 'pump-up' ? await bench.startHold(hold) : await bench.enterStage(next)
            if (next === 'pump-up' && answer.status === 200) logger.pressurePsi = 10
            if (answer.status === 200 && recording) acknowledged.push({ recording, stage: next })
            if (answer.status === 200 && next === 'pump-up' && recording) started.add(recording)
          }
          await pause(random.uniform(100, 500))
        }
      }
      const operator = operate().catch(() => {})
      // A third of the kills fall right behind the end of a hold, where the record is sealed.
      await pause(random.uniform(150, 4500))
      if (random.chance(1 / 3)) await soon(() => at === 'end', 6000).then(() => pause(random.uniform(0, 600)))
      isRunning = false
      during[stage] = (during[stage] ?? 0) + 1
      const killedMs = performance.now()
      await bench.kill()
      await operator
      const kept = keptNumbers(join(data, 'session'))
      const first = [...kept].reduce(
        (least, n) => (logger.writtenMs[n] >= heardMs && n < least ? n : least),
        Infinity,
      )
      const must = logger.lastAt(killedMs - mayMissMs)
      for (let n = first; n <= must; n++) {
        if (!kept.has(n))
          faults.push(
            `kill ${kill + 1}: line ${n}, ${Math.round(killedMs - logger.writtenMs[n])} ms old, is gone`,
          )
      }
      if (must > 0 && killedMs - heardMs > 2 * mayMissMs && !(first <= must))
        faults.push(`kill ${kill + 1}: no line was kept`)
      for (let n = logger.lastAt(killedMs); n >= 0; n--) {
        if (kept.has(n) || logger.writtenMs[n] < heardMs) {
          const missed = n + 1 < logger.writtenMs.length ? logger.writtenMs[n + 1] : killedMs
          lossesMs.push(Math.max(0, killedMs - missed))
          break
        }
      }
      faults.push(...archiveFaults(data).map((fault) => `kill ${kill + 1}: ${fault}`))
      if ((kill + 1) % 10 === 0) note(`${kill + 1} kills, ${faults.length} faults`)
    }
    const sealed = await endAndCount(args, logger, data, started, faults)
    faults.push(...missingMarks(join(data, 'session'), acknowledged))
    const report = await verify(data, { programVersion: '0' })
    for (const finding of [...report.findings, ...report.records.flatMap((record) => record.findings)])
      if (finding.state === 'broken') faults.push(`verify: ${finding.text}`)
    lossesMs.sort((a, b) => a - b)
    return {
      kills,
      during,
      holdsStarted: started.size,
      holdsSealed: sealed,
      holdsWentOn: wentOn,
      linesWritten: logger.writtenMs.length,
      lossMs: {
        median: Math.round(lossesMs[lossesMs.length >> 1] ?? 0),
        most: Math.round(lossesMs.at(-1) ?? 0),
      },
      faults,
    }
  } finally {
    await logger.remove()
    rmSync(folder, { recursive: true, force: true })
  }
}

const following: Readonly<Record<string, string | null>> = {
  'pump-up': 'settle',
  settle: 'hold',
  hold: 'vent',
  vent: 'end',
}

/** The demo aircraft with a hold that is over in seconds: its verdicts do not matter here. */
function shortHolds(text: string): string {
  return text
    .replaceAll(/settle: [\d.]+ \w+/g, 'settle: 0.5 s')
    .replaceAll(/hold: [\d.]+ (s|min|h)\b/g, 'hold: 2 s')
}

async function untilHeard(bench: BenchProcess): Promise<number> {
  for (const untilMs = performance.now() + patienceMs; performance.now() < untilMs; ) {
    const [port] = (await bench.state()).ports
    if (port && port.lines > 0) return performance.now()
    await pause(20)
  }
  throw new Error(`no line was heard after a start: ${bench.said()}`)
}

/** Ends what still runs and waits for its record; every started hold must then have exactly one. */
async function endAndCount(
  args: readonly string[],
  logger: NumberedLogger,
  data: string,
  started: ReadonlySet<string>,
  faults: string[],
): Promise<number> {
  const bench = await BenchProcess.start(args)
  await untilHeard(bench)
  logger.pressurePsi = 0
  const untilMs = performance.now() + patienceMs
  for (let state = await bench.state(); state.hold || state.sealing; state = await bench.state()) {
    if (performance.now() > untilMs) {
      faults.push(`the last hold is not sealed: ${JSON.stringify(state.alarms)}`)
      break
    }
    if (state.hold) await bench.enterStage('end')
    await pause(100)
  }
  const gone = bench.kill('SIGTERM')
  await gone
  const archive = openArchive(data, { programVersion: '0', readOnly: true })
  const records = archive.list().map(({ id }) => archive.get(id))
  archive.close()
  for (const name of started) {
    const of = records.filter(({ recording }) => recording?.name === name)
    if (of.length !== 1) faults.push(`the hold of ${name} has ${of.length} records`)
    for (const { id, result } of of) {
      const { verdict, reasons } = result as { verdict: string; reasons: readonly unknown[] }
      if (verdict === 'pass') faults.push(`${id} passed, which no hold of two seconds can`)
      if (verdict === 'void' && reasons.length === 0) faults.push(`${id} is void without a reason`)
    }
  }
  return records.length
}

/** Numbers of all lines in the session's recordings. */
function keptNumbers(session: string): Set<number> {
  const kept = new Set<number>()
  for (const name of readdirSync(session).filter((each) => each.endsWith('.lp'))) {
    for (const [, n] of readFileSync(join(session, name), 'utf8').matchAll(
      /^logger.* n=(\d+)i,.* \d{19}$/gm,
    )) {
      kept.add(Number(n))
    }
  }
  return kept
}

/** A mark that was answered with 200 is in the recording for good. */
function missingMarks(session: string, marks: readonly { recording: string; stage: string }[]): string[] {
  return marks.flatMap(({ recording, stage }) => {
    const text = readFileSync(join(session, recording), 'utf8')
    return text.includes(`name="${stage}"`) ? [] : [`${recording}: the mark ${stage} is gone`]
  })
}

/** Opens a copy of the archive as it stands after the kill. */
function archiveFaults(data: string): string[] {
  const copy = mkdtempSync(join(tmpdir(), 'stillhold-copy-'))
  try {
    copyTree(data, copy)
    const archive = openArchive(copy, { programVersion: '0' })
    const faults = archive.notices.filter((notice) => !notice.includes('chmod'))
    archive.close()
    return faults
  } catch (error) {
    return [`the archive does not open: ${(error as Error).message}`]
  } finally {
    rmSync(copy, { recursive: true, force: true })
  }
}

function copyTree(from: string, to: string): void {
  mkdirSync(to, { recursive: true })
  for (const entry of readdirSync(from, { withFileTypes: true })) {
    if (entry.isDirectory()) copyTree(join(from, entry.name), join(to, entry.name))
    else if (entry.isFile()) copyFileSync(join(from, entry.name), join(to, entry.name))
  }
}

const pause = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms))

async function soon(condition: () => boolean, withinMs: number): Promise<void> {
  const untilMs = performance.now() + withinMs
  while (!condition() && performance.now() < untilMs) await pause(10)
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  const { values } = parseArgs({
    options: { kills: { type: 'string', default: '20' }, seed: { type: 'string', default: '1' } },
  })
  const report = await killAgain(Number(values.kills), Number(values.seed), (line) => {
    process.stderr.write(`${line}\n`)
  })
  process.stdout.write(`${JSON.stringify(report)}\n`)
  process.exitCode = report.faults.length === 0 ? 0 : 1
}
