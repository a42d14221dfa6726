import { spawnSync } from 'node:child_process'
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import { percentOf } from '#analysis/reasons/figures.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { systemFromFile } from '#ingest/system-file/read-system-file.ts'
import { builtProgram } from '#tests/built-program.ts'
import { demoRecording, demoSystem, inWorkshop } from '#tests/trust/attacks/workshop.ts'
import { BenchProcess } from '#tests/trust/bench-process.ts'
import { browserPath, launch, open, withoutBrowser } from './browser.ts'
import { routePage } from './route-page.ts'

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

const hasReader = spawnSync('pdftotext', ['-v']).error === undefined

for (const after of ['a fail', 'a passing retest'] as const)
  test.skipIf(browserPath === null)(
    `after ${after} record, System page, hunt and dossier show one posterior of each fitting and when it was taken${withoutBrowser}`,
    () =>
      inWorkshop(async (workshop) => {
        let { id } = workshop.hold('lines-leak')
        if (after === 'a passing retest') id = workshop.hold('lines-retest').id
        workshop.archive.close()
        const program = await builtProgram()
        const stillhold = (...args: readonly string[]): string =>
          spawnSync(process.execPath, [program, ...args, '--data', workshop.folder], { encoding: 'utf8' })
            .stdout

        const found = JSON.parse(stillhold('hunt', '--json')) as HuntResult
        const held = found.fittings.filter((one) => one.held)
        expect(held).toHaveLength(7)
        const posterior = new Map(held.map((one) => [one.id, percentOf(one.leaking)]))
        const hunted = stillhold('hunt')
        expect(hunted.replaceAll(/\s+/g, ' ')).toMatch(
          /From all the evidence in the archive, taken \d{4}-\d\d-\d\d \d\d:\d\d UTC/,
        )
        for (const [, fitting, percent] of hunted.matchAll(/^ {2}(F\d\d) +[█·]+ +([<>\d ]+%)/gm))
          expect([fitting, percent]).toEqual([fitting, posterior.get(fitting)])
        const likely = held.filter(({ leaking }) => leaking >= 0.05).map((one) => one.id)
        expect(likely.includes('F12')).toBe(after === 'a fail')

        if (hasReader) {
          const pdf = workshop.path('dossier.pdf')
          stillhold('report', '--dossier', '--out', pdf)
          const told = spawnSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' }).stdout
          const rows = [...told.matchAll(/^(F\d\d) .* 000\d-\S+ +([<>]?\s?\d+\s?%)/gm)]
          const shown = rows.map(([, fitting, percent]) => [fitting, percent.replaceAll(/\s/g, '')])
          const due = [...posterior]
            .map(([fitting, percent]) => [fitting, percent.replaceAll(' ', '')])
            .sort()
          expect(shown).toEqual(due)
          expect(told).toContain(`evidence in the archive, taken 2026-04-11 09:0`)
        }

        const bench = await BenchProcess.start(['--system', demoSystem, '--data', workshop.folder])
        const browser = await launch()
        try {
          const { page } = await open(browser, 'about:blank')
          await routePage(page)
          await page.goto(`http://127.0.0.1:${bench.port}/#/records/${id}`)
          const list = async (panel: string): Promise<Map<string, string>> => {
            const box = page.getByRole('region', { name: panel, exact: true })
            await box
              .getByText(/From all the evidence in the archive, taken \d{4}-\d\d-\d\d \d\d:\d\d/)
              .waitFor()
            const lines = await box.locator('.likely li').allInnerTexts()
            return new Map(lines.map((one) => [one.slice(0, 3), /[<>]? ?\d+ %/.exec(one)![0]]))
          }
          const due = new Map(likely.map((fitting) => [fitting, posterior.get(fitting)!]))
          expect(await list('Fittings')).toEqual(due)
          await page.goto(`http://127.0.0.1:${bench.port}/#/system/F12`)
          expect([...(await list('Hunt'))].filter(([fitting]) => posterior.has(fitting))).toEqual(
            [...due].slice(0, 4),
          )
          const panel = page.getByRole('region', { name: 'Fitting F12' })
          expect(await panel.locator('dt:has-text("leaks now") + dd').textContent()).toBe(
            posterior.get('F12'),
          )
        } finally {
          await browser.close()
          await bench.kill()
        }
      }),
  )
