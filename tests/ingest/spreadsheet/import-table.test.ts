import { gzipSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { channelOrigins } from '#analysis/model/samples.ts'
import type { System } from '#analysis/model/system.ts'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { type ImportOptions, importTable } from '#ingest/spreadsheet/import-table.ts'
import { readSystemFile } from '#ingest/system-file/read-system-file.ts'

const systemText = `stillhold: 1
name: one line
channels:
  - { id: p-line, measures: gauge-pressure, section: line, from: { measurement: logger, field: p1 }, unit: psi }
  - { id: t-line, measures: temperature, section: line, from: { measurement: logger, field: t1 }, unit: degC }
  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }
sections:
  - { id: line, medium: air, volume: 0.35 L, max-pressure: 15 psi }
holds:
  - { id: line-10psi, sections: [line], pressure: 10 psi, settle: 1 min, hold: 5 min, allow: { drop: 0.1 psi } }
`
const system = readSystemFile(systemText, 'one.yaml').system as System

const usual: ImportOptions = {
  zone: 'Europe/Berlin',
  dates: null,
  startNs: 1_767_600_000_000_000_000n,
  startFrom: 'as --start says',
  hold: null,
  columns: new Map(),
  origin: 'import',
  name: 'bench.csv',
}

function imported(text: string | Uint8Array, options: Partial<ImportOptions> = {}, of: System = system) {
  const bytes = typeof text === 'string' ? Buffer.from(text) : text
  const result = importTable(bytes, 'bench.csv', of, { ...usual, ...options })
  return { ...result, read: readRecording(result.recording, of, 'bench.lp') }
}

const readings = (read: ReturnType<typeof readRecording>, id: string) => [
  ...(read.channels.find(({ channel }) => channel === id)?.reading ?? []),
]
const seconds = (read: ReturnType<typeof readRecording>, id = 'p-line') => [
  ...(read.channels.find(({ channel }) => channel === id)?.timeS ?? []),
]

/** 10 psi and 9.5 psi in pascals, by the factor of NIST SP 811. */
const psi = (value: number) => expect.closeTo(value * 6894.757293, 1)
/** 2026-01-05 09:30:00 in Berlin is 08:30 universal time: one hour ahead in winter (IANA time zone database). */
const start = String(BigInt(Date.UTC(2026, 0, 5, 8, 30)) * 1_000_000n)

/** Two readings a minute apart, 10 psi and 9.5 psi, as twelve programs write them. */
const formats: readonly [string, string | Uint8Array, Partial<ImportOptions>?][] = [
  ['commas, ISO time with a zone', 'time,p-line\n2026-01-05T08:30:00Z,10\n2026-01-05T09:31:00+01:00,9.5\n'],
  [
    'semicolons and decimal commas, day first with dots',
    'Datum/Uhrzeit;Druck (psi)\r\n05.01.2026 09:30:00;10,00\r\n05.01.2026 09:31:00;9,50\r\n',
  ],
  [
    'tabs, date and time in two columns',
    'Date\tTime\tPressure [psi]\n2026-01-05\t09:30:00\t10\n2026-01-05\t09:31:00\t9.5\n',
  ],
  [
    'twelve-hour clock and slashes, with --dates',
    'Date Time,Pressure (psi)\n01/05/2026 09:30:00 AM,10\n01/05/2026 09:31:00 AM,9.5\n',
    { dates: 'month-first' },
  ],
  ['month by its name', 'Time,p1\n5-Jan-2026 09:30:00,10\n"Jan 5, 2026 9:31:00 AM",9.5\n'],
  [
    'byte order mark, quoted titles and cells',
    '\ufeff"Time","Pressure, psi"\n"2026-01-05 09:30:00","10,0"\n"2026-01-05 09:31:00","9,5"\n',
  ],
  [
    'text before the table, and a row of units',
    'Logger 3000\nSerial;12345\n\nTime;Pressure;Temperature\n;psi;°C\n2026-01-05 09:30:00;10;21\n2026-01-05 09:31:00;9.5;21\nEnd of data\n',
  ],
  [
    'zone in the title',
    'Date Time (GMT-05:00),Pressure psi\n2026-01-05 03:30:00,10\n2026-01-05 03:31:00,9.5\n',
  ],
  ['seconds since 1970', 'epoch,p1\n1767601800,10\n1767601860,9.5\n'],
  ['day count of a spreadsheet', 'Time;p1\n46027,3958333333;10\n46027,3965277778;9,5\n'],
  [
    'packed, another unit',
    gzipSync('time,Gauge pressure (kPa)\n2026-01-05 09:30:00,68.94757293\n2026-01-05 09:31:00,65.50019428\n'),
  ],
  ['newest first', 'time,p1\n2026-01-05 09:31:00,9.5\n2026-01-05 09:30:00,10\n'],
  [
    'UTF-16 from a spreadsheet, thousands separators',
    Buffer.from(
      '\ufeffTime\tp1\tBarometer (Pa)\r\n2026-01-05 09:30:00\t10.0\t101,325.0\r\n2026-01-05 09:31:00\t9.5\t101,325.0\r\n',
      'utf16le',
    ),
  ],
]

describe('importTable: formats that are read', () => {
  it.each(formats)('%s', (_, text, options) => {
    const { read, points } = imported(text, options)
    expect(points).toBe(2)
    expect(read.startNs).toBe(start)
    expect(seconds(read).map((time) => Math.round(time * 1000))).toEqual([0, 60_000])
    expect(readings(read, 'p-line')).toEqual([psi(10), psi(9.5)])
  })

  it.each([
    ['seconds', 'Time (s),p1\n0,10\n60,9.5\n'],
    ['minutes with a decimal comma', 'Zeit [min];p1\n0,0;10,0\n1,0;9,5\n'],
    ['hh:mm:ss', 'Elapsed,p1\n00:00:00,10\n00:01:00,9.5\n'],
    ['mm:ss, as the title says', 'Time (mm:ss),p1\n0:00,10\n1:00,9.5\n'],
  ])('time from the first row in %s: put at --start, and said', (_, text) => {
    const { read, about } = imported(text)
    expect(read.startNs).toBe(String(usual.startNs))
    expect(seconds(read)).toEqual([0, 60])
    expect(about).toContain('the file names no date')
  })

  it('a time of day without a date continues past midnight', () => {
    const { read } = imported('Time,p1\n23:59:30,10\n00:00:30,9.5\n')
    expect(seconds(read)).toEqual([0, 60])
  })

  it('bytes of an old code page: the degree sign identifies the thermometer; barometer and units by their words', () => {
    const text =
      'Time;Druck (psi);Temp (°C);Luftdruck (mbar)\n05.01.2026 09:30:00;10;20;1013,25\n05.01.2026 09:31:00;9,5;20;1013,25\n'
    const { read, columns } = imported(Buffer.from(text, 'latin1'))
    expect(readings(read, 't-line')[0]).toBeCloseTo(293.15, 6)
    expect(readings(read, 'baro')[0]).toBeCloseTo(101_325, 3)
    expect(columns.map(({ means }) => means)).toEqual([
      'time',
      'channel p-line, psi',
      'channel t-line, degC',
      'channel baro, mbar, kept as hPa',
    ])
  })

  it('stages beside the readings become marks of the hold; typed readings are marked as such; columns without a channel are kept', () => {
    const text =
      'time,p1,stage,battery\n10:00:00,0,,3.1\n10:00:10,10,pump-up,3.1\n10:01:00,10,settle,3.1\n10:02:00,10,hold,3.1\n10:03:00,9.9,,3.1\n'
    const { read, recording } = imported(text, { hold: 'line-10psi', origin: 'typed' })
    const stages = read.marks.filter(({ kind }) => kind === 'stage')
    expect(stages.map(({ fields, hold, timeS }) => [fields.name, hold, timeS])).toEqual([
      ['pump-up', 'line-10psi', 10],
      ['settle', 'line-10psi', 60],
      ['hold', 'line-10psi', 120],
    ])
    expect(channelOrigins(read.marks)).toMatchObject([
      { channel: 'p-line', kind: 'typed', name: 'bench.csv' },
    ])
    expect(recording).toContain('battery=3.1')
  })

  it('a row outside the table is kept as a comment, with its text', () => {
    const { recording, rejected } = imported(
      'time,p1\n2026-01-05 09:30:00,10\n2026-01-05 09:31:00,overload\n2026-01-05 09:32:00,9\n',
    )
    expect(rejected).toBe(1)
    expect(recording).toContain('#! p1 is not a number: 2026-01-05 09:31:00,overload\n')
  })
})

describe('importTable: refused with one line that states what to do', () => {
  it.each<readonly [string, string | Uint8Array, RegExp]>([
    [
      'all rows at one instant',
      `time,p1\n${'2026-01-05 09:30:00,10\n'.repeat(35)}`,
      /^bench.csv, line 2: all 35 rows have the same time, 2026-01-05T08:30:00Z/,
    ],
    [
      'times without seconds',
      `time,p1\n${'2026-01-05 09:30,10\n'.repeat(30)}${'2026-01-05 09:31,10\n'.repeat(30)}`,
      /60 rows share 2 times: the times are too coarse/,
    ],
    [
      'a date that may begin with day or month',
      'time,p1\n01/05/2026 09:30:00,10\n01/05/2026 09:31:00,9\n',
      /^bench.csv, line 2: the date "01\/05\/2026 09:30:00" may begin with its day or its month: add --dates/,
    ],
    ['no unit of elapsed time', 'Time,p1\n0,10\n60,9\n', /without a unit; name it "Time \(s\)"/],
    ['m:ss or h:mm', 'Time,p1\n0:00,10\n0:30,9\n', /"0:30" may be minutes and seconds or hours and minutes/],
    ['words for times', 'Time,p1\nmorning,10\nnoon,9\n', /the times cannot be read: "Time" has "morning"/],
    ['dates alone', 'Date,p1\n2026-01-05,10\n2026-01-06,9\n', /no column has the time of day/],
    [
      'decimal commas separated by commas',
      'time,p1\n2026-01-05 09:30:00,10,01\n2026-01-05 09:31:00,9,50\n',
      /names 2 columns, and line 2 has 3: a decimal comma and a separating comma/,
    ],
    [
      'both decimal signs',
      'time;p1;t1\n2026-01-05 09:30:00;10,01;21.5\n2026-01-05 09:31:00;9,5;21.5\n',
      /"10,01" has a decimal comma and "21.5" \(line 2\) a decimal point/,
    ],
    [
      'no column of a channel',
      'time,volts\n2026-01-05 09:30:00,10\n2026-01-05 09:31:00,9\n',
      /no column is a channel of the system file; columns: "time", "volts"/,
    ],
    [
      'a unit of another quantity',
      'time,p1 (degC)\n2026-01-05 09:30:00,10\n2026-01-05 09:31:00,9\n',
      /column "p1 \(degC\)" is in degC, and channel p-line in psi/,
    ],
    [
      'absolute pressure for a gauge',
      'time,p1 (psia)\n2026-01-05 09:30:00,24.7\n2026-01-05 09:31:00,24\n',
      /is in psia, and channel p-line measures gauge pressure/,
    ],
    [
      'two columns that may be the same gauge',
      'time,Pressure A,Pressure B\n2026-01-05 09:30:00,10,9\n2026-01-05 09:31:00,9,8\n',
      /"Pressure A" and "Pressure B" may both be channel p-line: add --column/,
    ],
    [
      'a workbook',
      Buffer.from('PK\x03\x04 and so on'),
      /is a workbook or a ZIP archive; save the sheet as CSV/,
    ],
    [
      'no number at all',
      'time,p1\n2026-01-05 09:30:00,high\n2026-01-05 09:31:00,low\n',
      /no number in column "p1" can be read: "high" is not a number/,
    ],
    ['nothing', '', /is empty/],
    ['prose', 'We pumped it up.\nIt held.\n', /no table found/],
  ])('%s', (_, text, message) => {
    expect(() => imported(text)).toThrow(message)
  })

  it('a column that may be two channels: the line names both, and --column selects one', () => {
    const two = readSystemFile(
      systemText.replace(
        'sections:\n',
        '  - { id: p-tank, measures: gauge-pressure, section: tank, from: { measurement: logger, field: p2 }, unit: psi }\nsections:\n  - { id: tank, medium: air, volume: 60 L }\n',
      ),
      'two.yaml',
    ).system as System
    const text = 'time,Pressure (psi)\n2026-01-05 09:30:00,10\n2026-01-05 09:31:00,9.5\n'
    expect(() => imported(text, {}, two)).toThrow(
      /column "Pressure \(psi\)" may be p-line or p-tank: add --column/,
    )
    expect(
      readings(imported(text, { columns: new Map([['Pressure (psi)', 'p-tank']]) }, two).read, 'p-tank'),
    ).toHaveLength(2)
    expect(readings(imported(text, { hold: 'line-10psi' }, two).read, 'p-line')).toHaveLength(2)
    expect(
      readings(imported(text.replace('Pressure', 'Tank pressure'), {}, two).read, 'p-tank'),
    ).toHaveLength(2)
  })
})
