import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { builtProgram } from '#tests/built-program.ts'
import { root } from '#tests/house/source-files.ts'
import { hasInfluxd, TimeSeriesServer } from '#tests/ingest/forward/time-series-server.ts'

const example = (name: string) => JSON.parse(readFileSync(join(root, 'docs/examples', name), 'utf8'))
const hasPython = spawnSync('python3', ['--version']).status === 0

describe.skipIf(!hasPython)(
  `docs/examples/read-export.ipynb, its cells run in order${hasPython ? '' : ' (skipped: no python3)'}`,
  () => {
    let folder = ''
    let program = ''
    beforeAll(async () => {
      folder = mkdtempSync(join(tmpdir(), 'stillhold-notebook-'))
      program = await builtProgram()
      const cells: { cell_type: string; source: string[] }[] = example('read-export.ipynb').cells
      const code = cells.filter((cell) => cell.cell_type === 'code').map(({ source }) => source.join(''))
      expect(code.length).toBeGreaterThan(3)
      // As on a machine that has neither of the two.
      const bare = `import sys\nsys.modules['pandas'] = None\nsys.modules['IPython'] = None\n`
      writeFileSync(join(folder, 'cells.py'), `${bare}${code.join('\n')}\n`)
    })
    afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 3 }))
    const run = (...words: string[]) =>
      execFileSync(process.execPath, [program, ...words], { cwd: folder, encoding: 'utf8' })

    it.each([
      // 1,869 Pa: step 2 of the hold by hand in docs/method.md.
      ['lines-leak', 'fail', /drop by hand 18(68|69|70) Pa/],
      ['lines-retest', 'pass', /drop by hand -?\d{1,2} Pa/],
    ])(
      '%s: the interval gives the sealed verdict, %s, and the hand the size of the drop',
      (name, verdict, hand) => {
        const data = ['--data', name]
        const files = [`${root}/recordings/${name}.lp`, '--system', `${root}/recordings/floatplane.yaml`]
        run('seal', ...files, '--operator', 'ab', ...data)
        run('export', '1', '--format', 'json', '--out', 'record.json', ...data)
        run('export', '1', '--format', 'csv', '--out', 'samples.csv', ...data)
        const said = execFileSync('python3', ['cells.py'], { cwd: folder, encoding: 'utf8' })
        expect(said).toContain(`sealed as ${verdict}`)
        expect(said).toContain(`feed-lines: ${verdict} by its interval`)
        expect(said).toMatch(hand)
        expect(readFileSync(join(folder, 'verdict.svg'), 'utf8')).toContain(`feed-lines: ${verdict}</text>`)
        for (const file of ['record.json', 'samples.csv']) rmSync(join(folder, file))
      },
    )
  },
)

describe.skipIf(!hasInfluxd)(
  `docs/examples/bench-board.json asks a real server${hasInfluxd ? '' : ' (skipped: no influxd)'}`,
  () => {
    const server = new TimeSeriesServer()
    beforeAll(async () => {
      await server.start()
      await server.query('CREATE DATABASE bench')
      for (const name of ['lines-leak', 'lines-retest', 'tank-sun', 'valve-passing', 'void-clipped']) {
        const body = readFileSync(join(root, `recordings/${name}.lp`))
        const answer = await fetch(`${server.url}/write?db=bench`, { method: 'POST', body })
        expect(answer.status, await answer.text()).toBe(204)
      }
    })
    afterAll(() => server.remove())

    interface Board {
      panels: { targets: { query: string }[] }[]
      annotations: { list: { query: string; textColumn: string }[] }
    }
    const board: Board = example('bench-board.json')
    const queries = [
      ...board.panels.flatMap(({ targets }) => targets.map(({ query }) => query)),
      ...board.annotations.list.map(({ query }) => query),
    ]
    it.each(queries.filter((query) => !/"[pt]2"/.test(query)))('%s has rows', async (query) => {
      const filled = query
        .replace('$timeFilter', `time > '2026-01-01' AND time < '2027-01-01'`)
        .replace('$__interval', '1h')
        .replace('fill(null)', 'fill(none)')
      expect(filled).not.toContain('$')
      expect((await server.query(filled)).length).toBeGreaterThan(0)
    })
    it('every panel and annotation asks, and the right tank, of which no recording is shipped, is asked as the left', () => {
      expect(queries.length).toBe(13)
      const asked = queries.filter((query) => /"[pt]2"/.test(query))
      expect(asked.map((query) => query.replaceAll('2"', '1"'))).toEqual(
        queries.filter((query) => /"[pt]1"/.test(query)),
      )
    })
  },
)
