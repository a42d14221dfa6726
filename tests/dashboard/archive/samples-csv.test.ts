import { describe, expect, it } from 'vitest'
import { samplesCsv } from '#dashboard/archive/samples-csv.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'
import { floatplaneText } from './sealed-hold.ts'

const system = readSystemFile(floatplaneText, 'floatplane.yaml').system!

describe('samplesCsv', () => {
  it('samplesCsv(recording) puts each moment on one line, SI in the column names, marks quoted as RFC 4180 asks', () => {
    const text = [
      '# stillhold recording 1',
      'logger p3=10,t3=20 1775898000000000000',
      'logger p3=9.5 1775898001500000000',
      'mark,kind=note text="sun, on the \\"wing\\"" 1775898001500000000',
      'mark,kind=look,id=F12 finding="dry" 1775898002000000000',
      '',
    ].join('\n')
    const lines = [...samplesCsv(readRecording(text, system, 'tiny.lp'), system)].join('')
    expect(lines).toBe(
      [
        'time,seconds,p-lines_Pa,t-lines_K,mark',
        '2026-04-11T09:00:00.000000Z,0.000000,68947.5729317,293.15,',
        '2026-04-11T09:00:01.500000Z,1.500000,65500.1942851,,"note text=sun, on the ""wing"""',
        '2026-04-11T09:00:02.000000Z,2.000000,,,look F12 finding=dry',
        '',
      ].join('\r\n'),
    )
  })
})
