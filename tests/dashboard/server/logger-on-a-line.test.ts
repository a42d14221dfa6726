import { type ChildProcess, execFileSync, spawn } from 'node:child_process'
import { createWriteStream, existsSync, readFileSync, symlinkSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import type { Port, PortListener } from '#ingest/sources/port.ts'
import { serialPort } from '#ingest/sources/serial-port.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { until } from './until.ts'

const hasSocat = (() => {
  try {
    execFileSync('socat', ['-V'], { stdio: 'ignore' })
    return process.platform !== 'win32'
  } catch {
    return false
  }
})()

const running: ChildProcess[] = []
afterEach(() => {
  for (const child of running.splice(0)) child.kill()
})

/** What the simulated logger says during one hold with its stage marks, line by line. */
async function linesOfHold(system: Parameters<typeof systemFromFile>[0]): Promise<string> {
  const demo = new DemoBench({
    system: systemFromFile(system, 'aircraft.yaml'),
    speed: 1e-9,
    seed: 9,
    leaking: { F22: 4 },
  })
  let text = ''
  const listener: PortListener = {
    opened() {},
    bytes(chunk) {
      text += Buffer.from(chunk).toString('utf8')
    },
    closed() {},
    fault() {},
  }
  await (demo as Port).open(listener)
  const stage = (name: 'pump-up' | 'settle' | 'hold' | 'vent' | 'end', seconds: number) => {
    text += `mark,kind=stage,hold=rig-10psi name="${name}" ${demo.nowNs}\n`
    demo.command(name, 'rig-10psi')
    demo.advance(seconds)
  }
  demo.advance(25)
  stage('pump-up', 48)
  stage('settle', 120)
  stage('hold', 300)
  stage('vent', 30)
  stage('end', 2)
  await demo.close()
  return text
}

describe.skipIf(!hasSocat)('a logger on a serial line (skipped without socat)', () => {
  it('gives the verdict live, on the record and by analyzing the recording: the same one', async () => {
    const at = benchFolder()
    const systemText = readFileSync(at.systemPath, 'utf8')
    const system = systemFromFile(systemText, 'aircraft.yaml')
    const ends = ['logger', 'bench'].map((name) => join(at.folder, name))
    running.push(
      spawn(
        'socat',
        ends.map((path) => `pty,raw,echo=0,link=${path}`),
        { stdio: 'ignore' },
      ),
    )
    await until(() => ends.every((path) => existsSync(path)))
    const bench = await openBench(at, {
      // The logger waits for a look, which takes long on a busy machine: that silence must not open the port anew.
      ports: [{ port: serialPort({ path: ends[1], baudRate: 115_200, name: 'bench line', silenceS: 80 }) }],
    })
    const logger = createWriteStream(ends[0])
    const lines = (await linesOfHold(systemText)).match(/.*\n/g)!
    let wroteVent = false
    for (const line of lines) {
      if (line.includes('name="vent"')) {
        // The look at the hold comes before its end is known.
        await until(() => (bench.session.state().hold?.looks.length ?? 0) > 0)
        wroteVent = true
      }
      logger.write(line)
      await new Promise((resolve) => setImmediate(resolve))
    }
    expect(wroteVent).toBe(true)
    const last = await until(() => bench.session.state().last)
    const live = last.result
    expect(live.verdict).toBe('fail')
    const path = bench.archive.recordingPath(last.record)!
    const named = join(at.folder, live.recording)
    symlinkSync(path, named)
    const analyzed = analyzeRecording(readRecordingFile(named, system), system)
    expect(JSON.parse(JSON.stringify(analyzed.map(({ result }) => result)))).toEqual([live])
    // Every line of the logger's, byte for byte, in its order; its marks say that they are the logger's.
    const recorded = readFileSync(path, 'utf8')
      .replaceAll(/^(mark.*),from=logger /gm, '$1 ')
      .split('\n')
    const sent = lines
      .slice(0, lines.findIndex((line) => line.includes('name="end"')) + 1)
      .map((line) => line.trimEnd())
    expect(recorded.filter((line) => sent.includes(line))).toEqual(sent)
    logger.destroy()
    await bench.stop()
    at.remove()
  }, 90_000)
})
