import { appendFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import type { RunningBench } from '#dashboard/server/start-bench.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { DemoBench } from '#ingest/sources/demo-bench.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { benchFolder, openBench } from './open-bench.ts'
import { until } from './until.ts'

const folders: ReturnType<typeof benchFolder>[] = []
afterEach(() => {
  for (const folder of folders.splice(0)) folder.remove()
})

/** A bench in the middle of a hold on a tight section, 200 s in, stopped with the hold unfinished. */
async function stoppedInHold(zeroPa: number | null = null) {
  const at = benchFolder()
  folders.push(at)
  const system = systemFromFile(readFileSync(at.systemPath, 'utf8'), 'aircraft.yaml')
  const demo = new DemoBench({ system, speed: 1e-9, seed: 3, leaking: {} })
  const open = (): Promise<RunningBench & { said: string[] }> =>
    openBench(at, { ports: [{ port: demo }], demo, demoOperator: false })
  const bench = await open()
  demo.advance(15)
  if (zeroPa !== null) bench.session.mark({ kind: 'zero', id: 'p-rig', fields: { reading: zeroPa, true: 0 } })
  demo.advance(10)
  bench.session.startHold({
    hold: 'rig-10psi',
    operator: 'O. P.',
    witness: null,
    stateSheet: [],
    retests: null,
  })
  demo.advance(48)
  bench.session.enterStage('settle')
  // The rig runs evenly enough to hold 170 s after the pump-up.
  demo.advance(180)
  expect(bench.session.state().hold?.stage).toBe('hold')
  demo.advance(150)
  const { recording, newest } = bench.session.state()
  await bench.stop()
  const session = join(at.folder, 'data', 'session')
  const shownPa = newest['p-rig'].reading
  return { at, demo, open, recording: recording!, shownPa, session, note: join(session, 'running-hold.json') }
}

const sealedOf = async (bench: RunningBench) => {
  const [{ id }] = await until(() => {
    const list = bench.archive.list()
    return list.length > 0 && !bench.session.controller.sealing ? list : null
  })
  return bench.archive.get(id)
}

describe('a hold that runs when the program ends', { timeout: 90_000 }, () => {
  it('goes on after a restart: same recording, the gap marked, sealed when it ends', async () => {
    const { demo, open, recording, session, note } = await stoppedInHold()
    demo.advance(4)
    const bench = await open()
    const taken = bench.session.state()
    expect([taken.hold?.hold, taken.hold?.stage, taken.recording]).toEqual(['rig-10psi', 'hold', recording])
    demo.advance(160)
    expect(bench.session.state().marks.map(({ kind }) => kind)).toContain('gap')
    bench.session.enterStage('vent')
    demo.advance(60)
    const record = await sealedOf(bench)
    expect(record.recording?.name).toBe(recording)
    expect(record.operator).toBe('O. P.')
    const text = readFileSync(join(session, recording), 'utf8')
    expect(text).toMatch(/mark,kind=gap .*the program was restarted; nothing was recorded for 4\.5 s/)
    expect(text.match(/mark,kind=stage/g)).toHaveLength(5)
    await until(() => !existsSync(note))
    await bench.stop()
  })

  it('is sealed without a pass when the readings come back too late', async () => {
    const { demo, open, recording, session } = await stoppedInHold()
    demo.advance(500)
    const bench = await open()
    demo.advance(5)
    expect(bench.session.state().hold).toBeNull()
    const record = await sealedOf(bench)
    expect(record.note).toMatch(/nothing was recorded for 500\.5 s/)
    const text = readFileSync(join(session, recording), 'utf8')
    const why = 'the program was restarted; nothing was recorded for 500.5 s'
    expect(text).toContain(`mark,kind=fault code="interrupted",text="${why}" `)
    expect(text.match(/mark,kind=stage,hold=rig-10psi name="[\w-]+"/g)?.at(-1)).toContain('name="end"')
    expect((record.result as { verdict: string }).verdict).toBe('void')
    await bench.stop()
  })

  it('is sealed without a pass when the system file was changed meanwhile, by the file it began with', async () => {
    const { at, demo, open } = await stoppedInHold()
    const before = readFileSync(at.systemPath, 'utf8')
    writeFileSync(at.systemPath, before.replaceAll('drop: 0.1 psi', 'drop: 5 psi'))
    const bench = await open()
    demo.advance(5)
    const record = await sealedOf(bench)
    expect(record.system.text).toBe(before)
    expect(record.note).toContain('the system file has been changed since')
    expect((record.result as { verdict: string }).verdict).toBe('void')
    await bench.stop()
  })

  it('has a zero that was taken before it applied once after a restart: to what was read, to what comes, to the look', async () => {
    const zeroPa = -2000
    const { demo, open, shownPa, recording, session } = await stoppedInHold(zeroPa)
    const bench = await open()
    // On a tight section, which cools by less than that: a zero left out or taken twice moves what it falls on by 2 kPa.
    const near = (pa: number | undefined) => Math.abs((pa ?? Number.NaN) - shownPa) < 1000
    expect(near(bench.session.state().newest['p-rig'].reading)).toBe(true)
    demo.advance(30)
    expect(near(bench.session.state().newest['p-rig'].reading)).toBe(true)
    const curve = await until(() =>
      bench.session.controller.curves().find(({ section }) => section === 'rig'),
    )
    expect(near(curve.compensatedPa.at(-1))).toBe(true)
    demo.advance(130)
    bench.session.enterStage('vent')
    demo.advance(60)
    const record = await sealedOf(bench)
    const { system } = bench.session.systemFile
    const [analyzed] = analyzeRecording(readRecordingFile(join(session, recording), system!), system!)
    expect(record.result).toEqual(JSON.parse(JSON.stringify(analyzed.result)))
    expect(analyzed.result.verdict).toBe('pass')
    await bench.stop()
  })

  it('is resumed from a recording that a kill cut in the middle of a line', async () => {
    const { demo, open, recording, session } = await stoppedInHold()
    appendFileSync(join(session, recording), 'logger p1=0.00238,p2=0.00')
    demo.advance(2)
    const bench = await open()
    demo.advance(5)
    const text = readFileSync(join(session, recording), 'utf8')
    expect(text).toMatch(/^#! .*logger p1=0\.00238,p2=0\.00/m)
    expect(bench.session.state().hold?.stage).toBe('hold')
    await bench.stop()
  })

  it('is sealed once when the program ended between the seal and the removal of its note', async () => {
    const { demo, open, note } = await stoppedInHold()
    demo.advance(2)
    const bench = await open()
    demo.advance(160)
    bench.session.enterStage('vent')
    const left = readFileSync(note, 'utf8')
    demo.advance(60)
    await sealedOf(bench)
    await until(() => !existsSync(note))
    await bench.stop()
    writeFileSync(note, left)
    const again = await open()
    demo.advance(5)
    expect(again.archive.list()).toHaveLength(1)
    expect([again.session.state().hold, existsSync(note)]).toEqual([null, false])
    await again.stop()
  })

  it('is told when its note cannot be read, and nothing is thrown away', async () => {
    const { open, note, session, recording } = await stoppedInHold()
    writeFileSync(note, '{"stillhold_running":1')
    await expect(open()).rejects.toThrow('is the note of a running hold but cannot be read')
    expect(existsSync(join(session, recording))).toBe(true)
  })
})
