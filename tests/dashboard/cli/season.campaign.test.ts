import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import type { HuntResult } from '#analysis/hunt/hunt.ts'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import type { Campaign } from '#analysis/model/campaign.ts'
import { command as archive } from '#dashboard/cli/archive.ts'
import { command as campaign } from '#dashboard/cli/campaign.ts'
import { describeCommand } from '#dashboard/cli/command.ts'
import { newProgram } from '#dashboard/cli/commands.ts'
import { command as hunt } from '#dashboard/cli/hunt.ts'
import { command as ledger } from '#dashboard/cli/ledger.ts'
import { command as seal } from '#dashboard/cli/seal.ts'
import { seededRandom } from '#ingest/simulator/random.ts'
import { plainHold } from '#tests/analysis/fit/plain-bench.ts'

const sections = ['left', 'right', 'centre', 'feed', 'strainer', 'forward', 'return', 'primer']
const joints = sections.flatMap((section) => [1, 2, 3, 4].map((n) => ({ id: `${section}-${n}`, section })))
const sectionOf = (joint: string): string => joint.slice(0, joint.lastIndexOf('-'))

const list = <T>(of: readonly T[], line: (one: T, n: number) => string): string =>
  of.map((one, n) => `  - { ${line(one, n)} }\n`).join('')
const systemText = `stillhold: 1
name: high-wing floatplane
channels:
${list(sections, (s, n) => `id: p-${s}, measures: gauge-pressure, section: ${s}, from: { measurement: logger, field: p${n} }, unit: psi, range: -3 psi to 30 psi`)}${list(sections, (s, n) => `id: t-${s}, measures: temperature, section: ${s}, from: { measurement: logger, field: t${n} }, unit: degC`)}  - { id: baro, measures: barometric-pressure, from: { measurement: logger, field: baro }, unit: hPa }
sections:
${list(sections, (s) => `id: ${s}, medium: air, volume: 0.35 L ± 10 %, max-pressure: 15 psi, stretch: 0 % per bar`)}fittings:
${list(joints, ({ id, section }) => `id: ${id}, section: ${section}, kind: flare`)}valves:
${list(sections.slice(1), (s, n) => `id: V${n + 1}, between: [${sections[n]}, ${s}], kind: shut-off`)}holds:
${list(sections, (s, n) => `id: ${s}-10psi, sections: [${s}], shut: [${[n, n + 1].filter((v) => v > 0 && v < sections.length).map((v) => `V${v}`)}], pressure: 10 psi, settle: 3 min, hold: 10 min, allow: { drop: 0.1 psi }`)}`

/** Jobs of the season, and those after which a joint leaks three times what is allowed. */
const jobs = 30
const leakyJobs = [3, 9, 14, 21, 27]

/** The objects that a command prints, one a line: the program in this process, for 700 of its own would take minutes. */
async function stillhold<T>(...args: string[]): Promise<T[]> {
  const program = newProgram('0.0.0-season')
  for (const [name, described] of Object.entries({ archive, campaign, hunt, ledger, seal }))
    describeCommand(program.command(name), described)
  const { write } = process.stdout
  let printed = ''
  process.stdout.write = (text: string | Uint8Array) => {
    printed += text
    return true
  }
  try {
    await program.parseAsync(['node', 'stillhold', ...args])
  } finally {
    process.stdout.write = write
  }
  return printed
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as T)
}

it('200 holds of 30 jobs through seal, archive accept, hunt, ledger and campaign end with a true ledger and every one of 5 leaks found (simulated)', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'stillhold-season-'))
  const [system, recording, data] = ['plane.yaml', 'hold.lp', 'archive'].map((name) => join(folder, name))
  writeFileSync(system, systemText)
  const random = seededRandom(20261130)
  const leaking = new Set<string>()
  const found: string[] = []
  let holds = 0
  let hour = 0
  /** Work since the last recording: it is marked at the head of the next. */
  let worked: string[] = []
  const leaksOf = (section: string): string[] => [...leaking].filter((joint) => sectionOf(joint) === section)

  /** Writes the holds of one session as a logger and a person would; looks come just before the vent. */
  function write(held: readonly string[], looks: readonly string[]): void {
    const lines = held.flatMap((section, k) => {
      const n = sections.indexOf(section)
      const leak = leaksOf(section).length * 3
      const { rows, marks, times } = plainHold('line', { leak, hz: 0.2, seed: holds + k + 1 })
      const seen = looks.filter((id) => sectionOf(id) === section)
      return [
        ...rows.map(({ timeS, psi, degC, hPa }) => ({
          timeS,
          text: `logger p${n}=${psi},t${n}=${degC},baro=${hPa}`,
        })),
        ...marks.map(({ timeS, text }) => ({
          timeS,
          text: `mark,${text.replace(/hold=\S+/, `hold=${section}-10psi`)}`,
        })),
        ...seen.map((id, i) => ({
          timeS: times.ventS - 60 + 10 * i,
          text: `mark,kind=look,id=${id} finding="${leaking.has(id) ? 'bubbles' : 'dry'}"`,
        })),
      ].map(({ timeS, text }) => ({ timeS: 1200 * k + timeS, text }))
    })
    lines.push(
      ...worked.map((id, i) => ({
        timeS: 1 + i / 10,
        text: `mark,kind=work,id=${id} action="remake",by="A"`,
      })),
    )
    lines.sort((a, b) => a.timeS - b.timeS)
    const stamped = lines.map(({ timeS, text }) => {
      const ns = 1_767_225_600_000_000_000n + BigInt(Math.round((3600 * hour + timeS) * 1000)) * 1_000_000n
      return `${text} ${ns}\n`
    })
    writeFileSync(recording, `# stillhold recording 1\n${stamped.join('')}`)
  }

  /** Holds of one session, sealed and accepted; after a fail the joint that the hunt names is remade. */
  async function session(held: readonly string[]): Promise<void> {
    const bad = held.flatMap(leaksOf)
    const hunted = () => stillhold<HuntResult>('hunt', recording, '--system', system, '--json')
    write(held, [])
    // Still under pressure each joint of what fails is looked at in the order of the hunt.
    if (bad.length > 0) {
      const [{ fittings }] = await hunted()
      const failing = fittings.filter(({ section }) => leaksOf(section).length > 0)
      write(
        held,
        failing.map(({ id }) => id),
      )
    }
    holds += held.length
    hour += 24
    worked = []
    const sealed = await stillhold<{ record: string; verdict: string }>(
      ...['seal', recording, '--system', system, '--operator', 'A', '--data', data, '--json'],
    )
    expect(sealed).toHaveLength(held.length)
    const because = ['--operator', 'A', '--because', 'made at the bench, logger file kept']
    for (const [n, { record, verdict }] of sealed.entries()) {
      await stillhold('archive', 'accept', record, ...because, '--data', data, '--json')
      if (leaksOf(held[n]).length > 0) expect(verdict, `${held[n]} leaks`).toBe('fail')
    }
    if (bad.length === 0) return
    const [{ next }] = await hunted()
    const [joint] = next[0].fittings
    expect(bad).toContain(joint)
    leaking.delete(joint)
    found.push(joint)
    worked.push(joint)
  }

  const stands = async (): Promise<Ledger> =>
    (await stillhold<Ledger>('ledger', '--system', system, '--data', data, '--json'))[0]

  let ideal = 0
  try {
    for (let job = 0; job <= jobs; job++) {
      // The season begins with every section; a job then opens one joint of six or seven of them.
      const touched = [...sections]
      while (job > 0 && touched.length > (job % 4 === 0 ? 7 : 6))
        touched.splice(Math.floor(random.uniform(0, touched.length)), 1)
      if (job > 0) worked.push(...touched.map((section) => `${section}-${random.pick([1, 2, 3, 4])}`))
      if (leakyJobs.includes(job)) leaking.add(random.pick(worked))
      ideal += touched.length + (leakyJobs.includes(job) ? 1 : 0)
      await session(touched)
      let state = await stands()
      for (let turn = 0; turn < 3 && !(state.complete && worked.length === 0); turn++) {
        for (const { id, proof } of state.fittings)
          if (leaking.has(id)) expect(proof.state).not.toBe('proven')
        const open = state.holds_to_do.map(({ hold: id }) => id!.replace('-10psi', ''))
        await session([...new Set([...worked.map(sectionOf), ...open])])
        state = await stands()
      }
      expect({ job, complete: state.complete, leaking: [...leaking] }).toEqual({
        job,
        complete: true,
        leaking: [],
      })
    }
    const [plan] = await stillhold<Campaign>('campaign', '--system', system, '--data', data, '--json')
    expect(plan).toMatchObject({ complete: true, steps: [], proven: joints.length })
    const [now] = await stillhold<HuntResult>('hunt', '--system', system, '--data', data, '--json')
    expect(now.fittings).toHaveLength(joints.length)
    for (const { id, leaking } of now.fittings) expect(leaking, id).toBeLessThan(0.1)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
  process.stdout.write(`season: ${holds} holds, an ideal searcher ${ideal}, leaks found ${found.length}\n`)
  expect(found).toHaveLength(leakyJobs.length)
  expect(holds).toBeGreaterThanOrEqual(200)
  // An ideal searcher holds each section that was opened once, and once more after each leak.
  expect(holds / ideal).toBeLessThanOrEqual(1.05)
})
