import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { Intake } from '#ingest/intake/intake.ts'
import type { Point } from '#ingest/line-protocol/point.ts'
import { Heard } from './heard.ts'

const hasCompiler = spawnSync('g++', ['--version']).status === 0
const host = fileURLToPath(new URL('./sketch-host', import.meta.url))
const sketch = fileURLToPath(new URL('../../../docs/loggers/bench-logger', import.meta.url))
const where = hasCompiler ? '' : ' (skipped: g++ is not installed)'

describe.skipIf(!hasCompiler)(`the example firmware, compiled for this computer${where}`, () => {
  let folder: string
  let program: string
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'sketch-'))
    program = join(folder, 'bench-logger')
    const strict = ['-std=c++11', '-Wall', '-Wextra', '-Wconversion', '-Werror', `-I${host}`, `-I${sketch}`]
    const source = join(host, 'main.cpp')
    execFileSync('g++', [...strict, '-o', program, source])
    execFileSync('g++', [...strict, '-DESP32', '-o', `${program}-wifi`, source])
  }, 120_000)
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  function run(...words: string[]) {
    const points: Point[] = []
    class Kept extends Heard {
      override point(point: unknown, line: string): void {
        super.point(point, line)
        points.push(point as Point)
      }
    }
    const heard = new Kept()
    const intake = new Intake({ port: 'sketch', sink: heard })
    const arrival = { wallNs: 1767225600000000000n, monotonicNs: 0n }
    intake.opened(arrival)
    intake.bytes(execFileSync(program, words), arrival)
    intake.closed(arrival)
    const fields = points.map((point) =>
      Object.fromEntries(point.fields.map(({ key, value }) => [key, value])),
    )
    return { heard, intake, points, fields }
  }

  test('loop prints one line per round, which the intake reads with checksum and number', () => {
    const { heard, intake, points, fields } = run('5')
    expect(heard.rejects).toEqual([])
    expect(heard.comments).toEqual(['# stillhold bench-logger boot 1'])
    expect(heard.faults).toEqual([])
    expect(intake.state(0n)).toMatchObject({ missing: 0, resets: 0, dialect: 'line-protocol' })
    expect(points.map(({ measurement, tags }) => `${measurement},port=${tags['port']}`)).toEqual(
      Array(5).fill('logger,port=a'),
    )
    expect(fields.map(({ seq }) => seq)).toEqual([0n, 1n, 2n, 3n, 4n])
  })
  test('a board with Wi-Fi sends the same lines over TCP from the connection on, and over USB throughout', () => {
    const lines = execFileSync(`${program}-wifi`, ['4']).toString().trim().split('\r\n')
    const [usb, tcp] = [false, true].map((isTcp) => lines.filter((line) => line.startsWith('tcp ') === isTcp))
    expect(usb).toEqual(execFileSync(program, ['4']).toString().trim().split('\r\n'))
    expect(tcp.map((line) => line.slice(4))).toEqual(usb.slice(-3))
  })
  test('a converter at 13333 and 26667 counts of 187.5 µV reads 2.499937 V, 5.000062 V and 9999.2 ohm (computed)', () => {
    const { fields } = run('1')
    expect(fields[0]).toMatchObject({ p1: 2.499937, rail: 5.000062, r1: 9999.2 })
  })
  test('a converter that does not answer omits its fields and prints no zero', () => {
    const { fields } = run('3')
    expect(Object.keys(fields[2])).toEqual(['seq', 'crc'])
  })
  test('the line is right at the limits of its numbers and never truncated', () => {
    const { heard, fields } = run('format')
    expect(heard.rejects).toEqual([])
    expect(fields.map(({ crc: _crc, ...rest }) => rest)).toEqual([
      { seq: 0n, p1: 0, rail: 5, r1: 10000 },
      { seq: 4294967295n, p1: -6.144, rail: 2147.483647, r1: -214748364.8 },
      { seq: 7n },
      { seq: 8n, p1: -0.000001, rail: 0.000001, r1: 0.5 },
    ])
  })
  test('its checksum of "123456789" is 0x29B1 (check value of CRC-16/CCITT-FALSE, from memory)', () => {
    expect(run('format').heard.comments).toContain(`# crc ${0x29b1}`)
  })
  test('a character lost in transit is detected at any position', () => {
    const line = execFileSync(program, ['1']).toString().split('\r\n')[1]
    for (let i = 0; i < line.indexOf(',crc='); i++) {
      const heard = new Heard()
      const intake = new Intake({ port: 'sketch', sink: heard, dialect: 'line-protocol' })
      const arrival = { wallNs: 0n, monotonicNs: 0n }
      intake.opened(arrival)
      intake.bytes(Buffer.from(`${line.slice(0, i)}${line.slice(i + 1)}\n`), arrival)
      expect(heard.points).toEqual([])
      expect(heard.rejects).toHaveLength(1)
    }
  })
})
