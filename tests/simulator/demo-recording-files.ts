import type { System } from '#analysis/model/system.ts'
import { demoRecordings } from './demo-recordings.ts'

/** Name and text of every file that the demo recordings consist of, besides the system file. */
export function demoRecordingFiles(system: System): Map<string, string> {
  const files = new Map<string, string>()
  for (const { name, seed, play } of demoRecordings) files.set(`${name}.lp`, play(system, seed).text())
  const expected = {
    system: 'floatplane.yaml',
    command: 'npx tsx tests/simulator/write-demo-recordings.ts',
    recordings: demoRecordings.map(({ name, about, seed, hold, leakOverAllowance, verdict }) => ({
      file: `${name}.lp`,
      about,
      hold,
      verdict,
      leak_over_allowance: leakOverAllowance,
      seed,
    })),
  }
  files.set('expected.json', `${JSON.stringify(expected, null, 2)}\n`)
  const rows = demoRecordings.map(({ name, about, verdict }) => `| \`${name}.lp\` | ${verdict} | ${about} |`)
  files.set(
    'README.md',
    `# Demo recordings

Simulated sessions on an invented two-seat floatplane (\`floatplane.yaml\`), each with the verdict it must get.
\`expected.json\` states the same for programs, with the seed and the true leak. Written by

    npx tsx tests/simulator/write-demo-recordings.ts

and never edited by hand. Look at one with

    stillhold analyze recordings/lines-leak.lp --system recordings/floatplane.yaml

| recording | verdict | what happened |
| --- | --- | --- |
${rows.join('\n')}
`,
  )
  return files
}
