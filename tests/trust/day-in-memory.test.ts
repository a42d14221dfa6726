import { join } from 'node:path'
import { expect, it } from 'vitest'
import { RecordSession } from '#dashboard/cli/record-session.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { emptyFolder } from '#tests/dashboard/archive/bench-archive.ts'
import { collectedHeap } from './collected-heap.ts'
import { fedBench } from './fed-bench.ts'
import { FedLogger, fedSystemText } from './fed-logger.ts'
import { FedPort } from './fed-port.ts'

const hours = 12
const rateHz = 4
/** A line that stays in memory in any form costs 100 bytes at least: those of nine hours would be more than this, [MB]. */
const growsAtMostMb = 4

/** Heap after the third and after the last hour, [MB], while an hour passes at each call. */
async function grown(passHour: () => Promise<void>): Promise<{ early: number; late: number }> {
  let early = 0
  for (let hour = 1; hour <= hours; hour++) {
    await passHour()
    if (hour === 3) early = collectedHeap().heapMb
  }
  return { early, late: collectedHeap().heapMb }
}

it('serve keeps as much after twelve hours as after three: extremes of the past, no line of it', async () => {
  const folder = emptyFolder()
  const port = new FedPort()
  const logger = new FedLogger(port, rateHz)
  const bench = await fedBench(folder, port)
  try {
    const { early, late } = await grown(async () => {
      for (let part = 0; part < 60; part++) {
        logger.say(60)
        // Its ticks, which take what arrived, come by the clock.
        await new Promise((resolve) => setTimeout(resolve, 5))
      }
      await new Promise((resolve) => setTimeout(resolve, 250))
    })
    expect(bench.session.ports.list()[0].lines).toBe(hours * 3600 * rateHz)
    expect(late - early).toBeLessThan(growsAtMostMb)
    // Six megabytes a channel in columns at the most, whatever the day was like.
    expect(collectedHeap().buffersMb).toBeLessThan(60)
  } finally {
    await bench.stop()
  }
})

it('record keeps as much after twelve hours as after three', async () => {
  const port = new FedPort()
  const logger = new FedLogger(port, rateHz)
  const session = new RecordSession({
    out: join(emptyFolder(), 'day.lp'),
    system: systemFromFile(fedSystemText, 'aircraft.yaml'),
    say: () => {},
    stop: () => {},
    clock: () => port.arrival(),
  })
  await port.open(session.listen({ port }))
  const { early, late } = await grown(async () => {
    logger.say(3600)
    await new Promise((resolve) => setTimeout(resolve, 120))
  })
  await port.close()
  session.recording.close()
  expect(session.recording.points).toBe(hours * 3600 * rateHz)
  expect(late - early).toBeLessThan(growsAtMostMb)
})
