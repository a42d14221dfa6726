import type { HoldAnalysis } from '#analysis/model/hold-result.ts'
import type { Recording } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'

/** The recording as it stood at a moment: later samples and marks are not there yet. */
export function recordingAt(recording: Recording, untilS: number): Recording {
  return {
    ...recording,
    channels: recording.channels.map((samples) => {
      let end = samples.timeS.length
      while (end > 0 && samples.timeS[end - 1] > untilS) end--
      return { ...samples, timeS: samples.timeS.subarray(0, end), reading: samples.reading.subarray(0, end) }
    }),
    marks: recording.marks.filter((mark) => mark.timeS <= untilS),
  }
}

/** What somebody sees who looks at a running hold every `everyS` seconds of it, and at its end. */
export function looksAt(recording: Recording, system: System, everyS: number): HoldAnalysis['result'][] {
  const holdS = recording.marks.find((mark) => mark.fields.name === 'hold')?.timeS
  const ventS = recording.marks.find((mark) => mark.fields.name === 'vent')?.timeS
  if (holdS === undefined || ventS === undefined) throw new RangeError('the looks need marked stages')
  const out: HoldAnalysis['result'][] = []
  for (let atS = holdS + everyS; atS < ventS; atS += everyS)
    for (const { result } of analyzeRecording(recordingAt(recording, atS), system, { live: true }))
      out.push(result)
  for (const { result } of analyzeRecording(recording, system)) out.push(result)
  return out
}
