import { describe, expect, it } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { playBench } from '#tests/validation/worlds/play-bench.ts'

const played = playBench({ fault: 'none', seed: 2, leak: 0, sort: 'line' })
const system = systemFromFile(played.system, 'world.yaml')
const pumpUpNs = BigInt(/name="pump-up" (\d+)/.exec(played.recording)![1])

/** The world's rest before the pump-up, 25 s long, three times over: long enough for a look. */
const rested = (() => {
  const [head, ...lines] = played.recording.split('\n')
  const timeOf = (line: string): bigint => BigInt(line.slice(line.lastIndexOf(' ') + 1) || 0)
  const rest = lines.filter((line) => line.startsWith('logger') && timeOf(line) < pumpUpNs)
  const earlier = [48, 24].flatMap((seconds) =>
    rest
      .slice(-Math.round((24 * rest.length) / 25))
      .map((line) => line.replace(/\d+$/, String(timeOf(line) - BigInt(seconds) * 1_000_000_000n))),
  )
  return [head, ...earlier, ...lines]
})()

/** The hold with a mark so many seconds before the pump-up, and the gauge that rises so fast until then, [kPa/s]. */
function evidence(mark: string, beforeS: number, risesKPaPerS = 0) {
  const markNs = pumpUpNs - BigInt(Math.round(beforeS * 1e9))
  const [head, ...rest] = rested.map((line) => {
    const [, p1, ns] = /p1=(-?[\d.]+).* (\d+)$/.exec(line) ?? []
    if (p1 === undefined || BigInt(ns) < markNs || BigInt(ns) >= pumpUpNs) return line
    const risen = Number(p1) + (risesKPaPerS * Number(BigInt(ns) - markNs)) / 1e9
    return line.replace(`p1=${p1}`, `p1=${risen.toFixed(5)}`)
  })
  const marked = [head, `mark,kind=supply name="${mark}" ${markNs}`, ...rest].join('\n')
  return analyzeRecording(readRecording(marked, system, 'world.lp'), system)[0].result.supply
}

describe('analyzeRecording(a hold before which the supply was looked at).supply', () => {
  it('is `looked-at` after a minute in which nothing came in', () => {
    expect(evidence('look', 55)).toBe('looked-at')
  })

  it('is null when the gauge rose meanwhile: the cock lets gas in', () => {
    expect(evidence('look', 55, 0.005)).toBeNull()
  })

  it('is null for a look that was too short, and for a hose taken off before the pump-up', () => {
    expect(evidence('look', 20)).toBeNull()
    expect(evidence('off', 55)).toBeNull()
  })
})
