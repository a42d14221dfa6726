import { copyFileSync, readFileSync, writeFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { demoRecording, demoSystem, inWorkshop } from '#tests/trust/attacks/workshop.ts'
import { BenchProcess } from '#tests/trust/bench-process.ts'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'

const heldNs = '1775896744000000000'

test.skipIf(browserPath === null)(
  `a record whose mark was taken back after sealing says so, with the verdict it has without it${withoutBrowser}`,
  () =>
    inWorkshop(async (workshop) => {
      const path = workshop.path('hold.lp')
      const work = `mark,kind=work,from=operator,id=F12 action="retighten" ${heldNs}\n`
      const text = readFileSync(demoRecording('lines-retest'), 'utf8')
      writeFileSync(path, text.replace(new RegExp(`^(?=logger .* ${heldNs}$)`, 'm'), work))
      const system = systemFromFile(readFileSync(demoSystem, 'utf8'), 'floatplane.yaml')
      const [{ result }] = analyzeRecording(readRecordingFile(path, system), system)
      expect(result.verdict).toBe('void')
      const { id } = workshop.seal({ kind: 'hold', recordingPath: path, result })
      const correction = { stillhold: 1, id: 'F12', of: heldNs, time_ns: heldNs }
      workshop.seal({ kind: 'correction', recordingPath: null, result: correction, corrects: id })
      workshop.archive.close()
      const systemPath = workshop.path('aircraft.yaml')
      copyFileSync(demoSystem, systemPath)
      const bench = await BenchProcess.start(['--system', systemPath, '--data', workshop.folder])
      const browser = await launch()
      try {
        const { page } = await open(browser, `http://127.0.0.1:${bench.port}/#/records/${id}`)
        const said = page.getByText('A mark was corrected after sealing')
        await said.waitFor()
        expect(await said.textContent()).toBe(
          'A mark was corrected after sealing (0002-f12). Re-analyzed without it, this hold is Pass: the ledger counts that verdict.',
        )
      } finally {
        await browser.close()
        await bench.kill()
      }
    }),
)
