import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { readdirSync, readFileSync } from 'node:fs'
import { connect, type Socket } from 'node:net'
import { availableParallelism, loadavg } from 'node:os'
import { join } from 'node:path'
import type { Ledger } from '#analysis/hunt/ledger.ts'
import { ask } from '#tests/dashboard/server/ask.ts'
import { until } from '#tests/dashboard/server/until.ts'
import { BenchProcess } from '../bench-process.ts'
import { runProgram } from '../run-program.ts'
import { type Attack, Tally } from './attack.ts'
import { demoRecording, demoSystem, inWorkshop } from './workshop.ts'

/** What the ledger of the built program counts, and what it says it does not. */
async function ledgerOf(folder: string): Promise<{ proven: number; cautions: string }> {
  const { out, said } = await runProgram('ledger', '--json', '--system', demoSystem, '--data', folder)
  if (out === '') throw new Error(said)
  const { counts, cautions } = JSON.parse(out) as Ledger
  return { proven: counts.proven, cautions: cautions.join('\n') }
}

const sealed = (bench: BenchProcess) =>
  until(async () => {
    const { hold, sealing, last } = await bench.state()
    return hold === null && !sealing && last !== null
  })

const replayed: Attack = {
  name: '`serve --replay` of a shipped recording, passed off as a hold at the bench',
  run: () =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const path = demoRecording('lines-retest')
      const folder = workshop.path('replayed')
      const asked = ['--replay', path, '--speed', '200', '--system', demoSystem, '--data', folder]
      const bench = await BenchProcess.start(asked)
      try {
        await sealed(bench)
      } finally {
        await bench.kill('SIGTERM')
      }
      const hash = createHash('sha256').update(readFileSync(path)).digest('hex').slice(0, 8)
      const origin = new RegExp(`REPLAYED[^\\n]*lines-retest\\.lp[^\\n]*${hash}`)
      const { out, code } = await runProgram('verify', folder)
      tally.take('it passes by its readings', code === 0 ? null : out)
      tally.take('verify names its origin', origin.test(out) ? null : out)
      const { proven, cautions } = await ledgerOf(folder)
      const isNotCounted = proven === 0 && /does not count: its readings are/.test(cautions)
      tally.take('proves nothing', isNotCounted ? null : `${proven} proven\n${cautions}`)
      const page = workshop.path('report.pdf')
      await runProgram('report', '1', '--out', page, '--data', folder)
      const shown = spawnSync('pdftotext', ['-layout', '-l', '1', page, '-'], { encoding: 'utf8' })
      // Without the reader of PDFs the page is left to the tests of the report.
      if (shown.error === undefined)
        tally.take('page 1 of the report', /REPLAYED/.test(shown.stdout) ? null : shown.stdout)
      return tally
    }),
}

const loggersMarks: Attack = {
  name: 'a logger with the write token that marks stages, looks, work and corrections as if the operator did',
  run: () =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const folder = workshop.path('logger')
      const bench = await BenchProcess.start(['--system', demoSystem, '--data', folder])
      try {
        const [, token] = await until(() => /with the token (\w+)/.exec(bench.said()))
        const write = (body: string, headers: Record<string, string>) =>
          ask(bench.port, { method: 'POST', path: '/api/v2/write?bucket=b', body, headers })
        const text = readFileSync(demoRecording('lines-retest'), 'utf8')
          .replaceAll('mark,', 'mark,from=operator,')
          .replaceAll('from=operator,kind=origin', 'kind=origin')
        const refused = await write(text, {})
        tally.take('without the token', refused.status === 401 ? null : `answered ${refused.status}`)
        const [, lastNs] = / (\d{19})\s*$/.exec(text)!
        const later = (seconds: number) => String(BigInt(lastNs) + BigInt(seconds) * 1_000_000_000n)
        const forged = `mark,kind=look,from=operator,id=F12 finding="dry" ${later(1)}
mark,kind=correction,from=operator of="1775896209000000000" ${later(2)}
logger p3=0.01,t3=18.8,baro=1018.8 ${later(3)}
`
        for (const body of [text, forged]) {
          const { status } = await write(body, { authorization: `Token ${token}` })
          if (status !== 204) tally.take('with the token', `answered ${status}`)
        }
        await sealed(bench)
      } finally {
        await bench.kill('SIGTERM')
      }
      const marks = linesIn(folder).filter(
        (line) => line.startsWith('mark,') && /kind=(?:stage|look|work|correction|valve)/.test(line),
      )
      const asOperator = marks.filter((line) => !line.includes('from=logger'))
      tally.take(
        'every mark names the logger',
        marks.length > 9 && asOperator.length === 0
          ? null
          : `${marks.length} marks, ${asOperator.join('; ')}`,
      )
      const { proven, cautions } = await ledgerOf(folder)
      const isNotCounted = proven === 0 && /does not count/.test(cautions)
      tally.take('proves nothing', isNotCounted ? null : `${proven} proven\n${cautions}`)
      return tally
    }),
}

/** What a connection of a flood says and then leaves hanging. */
const floods: Readonly<Record<string, string>> = {
  'says nothing': '',
  'says half a head': 'GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ',
  'never sends its body':
    'POST /api/mark HTTP/1.1\r\nHost: HOST\r\nContent-Type: application/json\r\nContent-Length: 900\r\n\r\n{',
  'never reads its stream': 'GET /api/stream HTTP/1.1\r\nHost: HOST\r\n\r\n',
}
const floodConnections = 300
/** On a machine that does nothing else: a busy one takes as much longer as it has programs for each processor. */
const answerMsAtMost = 1000 * Math.max(1, loadavg()[0] / availableParallelism())

/** Keeps so many connections open, each anew a moment after it was ended. */
function flood(port: number, saying: string): () => void {
  const open = new Set<Socket>()
  let isOver = false
  const begin = () => {
    if (isOver) return
    const socket = connect(port, '127.0.0.1', () => socket.write(saying.replace('HOST', `127.0.0.1:${port}`)))
    open.add(socket)
    socket.pause()
    socket.on('error', () => {})
    socket.on('close', () => {
      open.delete(socket)
      setTimeout(begin, 50)
    })
  }
  for (let n = 0; n < floodConnections; n++) begin()
  return () => {
    isOver = true
    for (const socket of open) socket.destroy()
  }
}

const flooded: Attack = {
  name: `${floodConnections} connections that hang: the operator’s page is answered within a second, no reading is lost`,
  run: (quick) =>
    inWorkshop(async (workshop) => {
      const tally = new Tally()
      const folder = workshop.path('flooded')
      const bench = await BenchProcess.start(['--system', demoSystem, '--data', folder])
      try {
        const [, token] = await until(() => /with the token (\w+)/.exec(bench.said()))
        let written = 0
        for (const [what, saying] of Object.entries(floods)) {
          const end = flood(bench.port, saying)
          const overMs = Date.now() + (quick ? 500 : 5000)
          while (Date.now() < overMs) {
            const line = `logger p3=0.0${written % 10},t3=18,baro=1018 ${1775896200000000000n + BigInt(written) * 100_000_000n}\n`
            const headers = { authorization: `Token ${token}` }
            for (const question of [
              { path: '/' },
              { path: '/api/state' },
              { method: 'POST', path: '/api/v2/write?bucket=b', body: line, headers },
            ]) {
              const before = performance.now()
              const answer = await ask(bench.port, question).catch((error: Error) => ({
                status: 0,
                text: error.message,
              }))
              const ms = performance.now() - before
              const isLate = !quick && ms > answerMsAtMost
              const isAnswered = answer.status === 200 || answer.status === 204
              if (isAnswered && answer.status === 204) written++
              tally.take(
                `a connection that ${what}: ${question.path}`,
                !isAnswered ? `${answer.status} ${answer.text}` : isLate ? `${Math.round(ms)} ms` : null,
              )
            }
          }
          end()
        }
        await bench.kill('SIGTERM')
        const kept = linesIn(folder).filter((line) => line.startsWith('logger ')).length
        tally.take('readings', kept === written ? null : `${written} answered, ${kept} kept`)
      } finally {
        await bench.kill()
      }
      return tally
    }),
}

/** Every line of every recording in a folder. */
function linesIn(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.lp'))
    .flatMap((name) => readFileSync(join(folder, name), 'utf8').split('\n'))
}

export const benchAttacks: readonly Attack[] = [replayed, loggersMarks, flooded]
