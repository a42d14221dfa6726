import { describe, expect, it } from 'vitest'
import { readRecording } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { contractSystem } from './contract-system.ts'

const system = systemFromFile(contractSystem, 'plane.yaml')
const header = '# stillhold recording 1\n'
const line = (seconds: number, fields: string, head = 'logger,port=a') =>
  `${head} ${fields} ${1_767_225_600_000_000_000n + BigInt(Math.round(seconds * 1e9))}\n`
const read = (text: string, against = system) => readRecording(text, against, 'a.lp')
const codes = (text: string, against = system) =>
  read(text, against)
    .problems.map(({ code }) => code)
    .filter((code) => code !== 'no-samples')

describe('readRecording applies captures', () => {
  const against = systemFromFile(contractSystem.replace(/ {4}calibration:.*\n/, ''), 'plane.yaml')
  const psi = 6894.757293168361
  const reading = (text: string, to = against) =>
    Array.from(read(header + text, to).channels[0].reading, (pa) => Number((pa / psi).toFixed(6)))

  it('zero: readings from the mark on are shifted, earlier ones stay', () => {
    const text =
      line(0, 'p1=0.2') + line(1, 'reading="0.2 psi"', 'mark,kind=zero,id=p-left') + line(2, 'p1=10.2')
    expect(reading(text)).toEqual([0.2, 10])
    expect(codes(header + text, against)).toEqual(['zero-applied'])
  })

  it('zero: a number is SI', () => {
    const text = line(1, `reading=${0.2 * psi},true=0`, 'mark,kind=zero,id=p-left') + line(2, 'p1=10.2')
    expect(reading(text)).toEqual([10])
  })

  it('two points: a second capture at another pressure sets the gain too', () => {
    const text =
      line(0, 'reading="0.1 psi",true="0 psi"', 'mark,kind=zero,id=p-left') +
      line(1, 'reading="20.5 psi",true="20 psi"', 'mark,kind=zero,id=p-left') +
      line(2, 'p1=10.3')
    expect(reading(text)).toEqual([10])
  })

  it('zero: a shift of more than 5 % of the span (1.5 of 30 psi) or a gain of more than 10 % is a wrong mark', () => {
    const capture = (n: number, read: number, true_ = 0) =>
      line(n, `reading="${read} psi",true="${true_} psi"`, 'mark,kind=zero,id=p-left')
    expect(codes(header + capture(0, 1.4), against)).toEqual(['zero-applied'])
    expect(codes(header + capture(0, 1.6), against)).toEqual(['zero-ignored'])
    // 10 psi read as 10.9 is a gain of 0.917, read as 11.3 one of 0.885.
    expect(codes(header + capture(0, 0) + capture(1, 10.9, 10), against)).toEqual([
      'zero-applied',
      'zero-applied',
    ])
    expect(codes(header + capture(0, 0) + capture(1, 11.3, 10), against)).toEqual([
      'zero-applied',
      'zero-ignored',
    ])
  })
  it('zero: through the calibration of the file, the captured reading becomes the true value', () => {
    // The file says 0 psi reads 0.02 psi: a capture of 0.05 psi at zero must leave 0.02 psi to the calibration.
    const text = line(1, 'reading="0.05 psi"', 'mark,kind=zero,id=p-left') + line(2, 'p1=0.05')
    expect(reading(text, system)).toEqual([0.02])
  })

  it.each([
    // 2.5 of 30 psi is less than a tenth of the span: the newer capture shifts. 3.5 psi sets the gain too.
    [2.5, 10 - 0.2],
    [3.5, (10 - 0.1) / (1 + 0.1 / 3.5)],
  ])('captures %f psi apart give 10 psi as %f psi', (apart, psiRead) => {
    const capture = (n: number, read: number, true_: number) =>
      line(n, `reading="${read} psi",true="${true_} psi"`, 'mark,kind=zero,id=p-left')
    expect(reading(capture(0, 0.1, 0) + capture(1, apart + 0.2, apart) + line(2, 'p1=10'))).toEqual([
      Number(psiRead.toFixed(6)),
    ])
  })

  it.each([
    [[[5, 5.5]], 20, 20.5],
    [
      [
        [0, 0.02],
        [30, 29.95],
      ],
      20,
      0.02 + (20 * 29.93) / 30,
    ],
    [
      [
        [0, 0],
        [10, 10.3],
        [30, 30],
      ],
      10,
      10.3,
    ],
    [
      [
        [0, 0],
        [10, 10.3],
        [30, 30],
      ],
      20,
      10.3 + 19.7 / 2,
    ],
    [
      [
        [0, 0],
        [10, 10.3],
        [30, 30],
      ],
      5,
      5.15,
    ],
  ])('through the calibration %j a capture at %f psi leaves %f psi to it', (points, true_, left) => {
    const text = points.map(([a, b]) => `[${a} psi, ${b} psi]`).join(', ')
    const calibrated = systemFromFile(
      contractSystem.replace(/points: .*\] \}/, `points: [${text}] }`),
      'plane.yaml',
    )
    const mark = line(1, `reading="${left + 0.4} psi",true="${true_} psi"`, 'mark,kind=zero,id=p-left')
    expect(reading(mark + line(2, `p1=${left + 0.4}`), calibrated)).toEqual([Number(left.toFixed(6))])
  })

  it('a capture at the time of a stage mark is made in the hold, one at the time of the vent is not', () => {
    const at = (name: string) =>
      codes(
        header +
          line(0.5, 'name="settle"', 'mark,kind=stage') +
          line(1, `name="${name}"`, 'mark,kind=stage') +
          line(1, 'reading="0.2 psi"', 'mark,kind=zero,id=p-left') +
          line(2, 'p1=1,t1=20'),
      )
    expect(['hold', 'vent', 'end'].map(at)).toEqual([['zero-ignored'], ['zero-applied'], ['zero-applied']])
    const early =
      line(1, 'name="pump-up"', 'mark,kind=stage') + line(1, 'reading="0.2 psi"', 'mark,kind=zero,id=p-left')
    expect(codes(header + early + line(2, 'p1=1,t1=20'))).toEqual(['zero-ignored'])
  })

  it.each([
    ['without a reading', line(1, 'true=0', 'mark,kind=zero,id=p-left')],
    ['beyond 5 % of the span', line(1, 'reading="2 psi"', 'mark,kind=zero,id=p-left')],
    [
      'during a hold',
      line(1, 'name="settle"', 'mark,kind=stage') +
        line(1.5, 'reading="0.2 psi"', 'mark,kind=zero,id=p-left'),
    ],
  ])('zero %s is not applied and said', (_, mark) => {
    const text = mark + line(2, 'p1=10.2')
    expect(reading(text)).toEqual([10.2])
    expect(codes(header + text, against)).toEqual(['zero-ignored'])
  })
})
