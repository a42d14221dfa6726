import fs from 'node:fs'
import { syncBuiltinESMExports } from 'node:module'
import { basename, join } from 'node:path'
import { expect, it } from 'vitest'
import { verify } from '#dashboard/archive/verify.ts'
import {
  archiveIn,
  emptyFolder,
  holdDraft,
  tinyRecording,
  writeRecording,
} from '#tests/dashboard/archive/bench-archive.ts'

const operations = ['openSync', 'writeSync', 'fsyncSync', 'closeSync', 'renameSync', 'rmSync'] as const

/** Runs `act` with `between` called before and after every operation on a file; the operations themselves are real. */
function watched(act: () => void, between: () => void): void {
  const real = Object.fromEntries(operations.map((name) => [name, fs[name]]))
  let isBusy = false
  const look = () => {
    if (isBusy) return
    isBusy = true
    try {
      between()
    } finally {
      isBusy = false
    }
  }
  for (const name of operations) {
    const operation = real[name] as (...given: unknown[]) => unknown
    Object.assign(fs, {
      [name]: (...given: unknown[]) => {
        look()
        const result = operation(...given)
        look()
        return result
      },
    })
  }
  syncBuiltinESMExports()
  try {
    act()
  } finally {
    Object.assign(fs, real)
    syncBuiltinESMExports()
  }
}

it('seal(draft) cut off before or after any operation on a file leaves an archive that opens, verifies and goes on', async () => {
  const folder = emptyFolder()
  const source = writeRecording(emptyFolder(), 'left-feed.lp', tinyRecording)
  const photo = { name: 'fitting.jpg', bytes: new Uint8Array([255, 216, 255, 217]) }
  const archive = archiveIn(folder)
  const copies: { path: string; sealed: number }[] = []
  let sealed = 0
  watched(
    () => {
      for (let hold = 0; hold < 3; hold++) {
        const text = `${tinyRecording}# ${hold}\n`
        fs.writeFileSync(source, text)
        archive.seal(holdDraft(source, { photos: hold === 1 ? [photo] : [] }))
        sealed++
      }
    },
    () => {
      const path = emptyFolder()
      // The lock belongs to the running process and is dropped when any of its handles closes.
      fs.cpSync(folder, path, { recursive: true, filter: (from) => !/^lock/.test(basename(from)) })
      copies.push({ path, sealed })
    },
  )
  expect(copies.length).toBeGreaterThan(60)
  for (const copy of copies) {
    const found = archiveIn(copy.path)
    const records = found.list()
    expect(records.length).toBeGreaterThanOrEqual(copy.sealed)
    expect(records.length).toBeLessThanOrEqual(copy.sealed + 1)
    found.seal(holdDraft(source))
    found.close()
    const report = await verify(copy.path, { programVersion: '0.0.0-test' })
    expect(report.findings.filter(({ state }) => state === 'broken')).toEqual([])
    const texts = report.records.flatMap(({ findings }) => findings.map(({ text }) => text)).join('\n')
    expect(texts).not.toMatch(/was changed|photo .* missing|not available|does not hold/)
    expect(fs.readdirSync(join(copy.path, 'records')).filter((name) => name.endsWith('.tmp'))).toEqual([])
  }
})
