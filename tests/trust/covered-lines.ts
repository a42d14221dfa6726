import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, relative } from 'node:path'

/** What one test file reaches, and how long it takes. */
export interface TestCoverage {
  readonly test: string
  readonly ms: number
  /** Lines that were run, of each source. */
  readonly lines: Readonly<Record<string, readonly number[]>>
}

interface FileCoverage {
  readonly path: string
  readonly statementMap: Readonly<Record<string, { start: { line: number }; end: { line: number } }>>
  readonly s: Readonly<Record<string, number>>
}

/** Runs one test file and sees which lines of the sources it reaches. @throws Error when it does not pass */
export function coveredLines(root: string, test: string, sources: readonly string[]): TestCoverage {
  const reports = mkdtempSync(join(tmpdir(), 'stillhold-coverage-'))
  try {
    const coverage = ['enabled', 'provider=v8', 'reporter=json', `reportsDirectory=${reports}`]
    const args = [...coverage, ...sources.map((source) => `include=${source}`)].map(
      (each) => `--coverage.${each}`,
    )
    const beganMs = performance.now()
    const run = spawnSync('npx', ['vitest', 'run', test, ...args], { cwd: root, encoding: 'utf8' })
    const ms = Math.round(performance.now() - beganMs)
    if (run.status !== 0) throw new Error(`${test} does not pass unchanged: ${run.stdout}${run.stderr}`)
    const found = JSON.parse(readFileSync(join(reports, 'coverage-final.json'), 'utf8'))
    const lines: Record<string, number[]> = {}
    for (const { path, statementMap, s } of Object.values(found) as FileCoverage[]) {
      const reached = new Set<number>()
      for (const [key, { start, end }] of Object.entries(statementMap))
        if (s[key] > 0) for (let line = start.line; line <= end.line; line++) reached.add(line)
      lines[relative(root, path).replaceAll('\\', '/')] = [...reached].sort((a, b) => a - b)
    }
    return { test, ms, lines }
  } finally {
    rmSync(reports, { recursive: true, force: true })
  }
}
