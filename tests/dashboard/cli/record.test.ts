import { type ChildProcess, spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { InfluxDB, Point } from '@influxdata/influxdb-client'
import { Command } from 'commander'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { describeCommand } from '#dashboard/cli/command.ts'
import { command } from '#dashboard/cli/record.ts'
import { builtProgram } from '#tests/built-program.ts'
import { ask } from '#tests/dashboard/server/ask.ts'
import { hasSocat, PseudoTerminal, until } from '#tests/ingest/sources/pseudo-terminal.ts'

const program = await builtProgram()
const startNs = 1767225600000000000n
const line = (seconds: number) =>
  `logger p1=${10 - seconds / 1000} ${startNs + BigInt(seconds) * 1_000_000_000n}`

let folder: string
let out: string
const running: Recorder[] = []
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'record-'))
  out = join(folder, 'bench.lp')
})
afterEach(() => {
  for (const each of running.splice(0)) each.process.kill('SIGKILL')
  rmSync(folder, { recursive: true, force: true })
})

/** The real command as a process of its own. */
class Recorder {
  readonly process: ChildProcess
  said = ''
  result = ''
  readonly ended: Promise<number | null>

  constructor(...words: string[]) {
    this.process = spawn(process.execPath, [program, 'record', ...words])
    this.process.stderr?.on('data', (chunk) => {
      this.said += chunk
    })
    this.process.stdout?.on('data', (chunk) => {
      this.result += chunk
    })
    this.ended = new Promise((resolve) => this.process.once('close', (code) => resolve(code)))
    running.push(this)
  }

  type(text: string): void {
    this.process.stdin?.write(text)
  }

  async ready(): Promise<void> {
    await until(() => this.said.includes('Recording into'))
  }
}

const recorded = () => readFileSync(out, 'utf8').trimEnd().split('\n')
const has = (text: string) => existsSync(out) && readFileSync(out, 'utf8').includes(text)

/** What the program says of the readings of a stream, at the time of the first. */
const fromStandardInput = (n: number) =>
  `mark,kind=origin source="import",name="standard input" ${line(n).split(' ').at(-1)}`

describe('record --stdin', () => {
  test('writes a stream into a recording, ends with it and reports what came', async () => {
    const recorder = new Recorder('--stdin', '--out', out, '--json')
    recorder.process.stdin?.end(`${line(0)}\n${line(1)}\nlogger p1=101.325000.2\n${line(2)}\nlogger p1=9`)
    expect(await recorder.ended).toBe(0)
    expect(recorded()).toEqual([
      '# stillhold recording 1',
      line(0),
      fromStandardInput(0),
      line(1),
      '#! expected the number to end here, column 21: logger p1=101.325000.2',
      line(2),
      '#! half line at the end of the connection: logger p1=9',
    ])
    expect(JSON.parse(recorder.result)).toMatchObject({ recording: out, points: 3, rejected: 2, marks: 0 })
  })
  test('a recording that is there is never written over, and goes on only when asked', async () => {
    writeFileSync(out, `# stillhold recording 1\n${line(0)}\n`)
    const refused = new Recorder('--stdin', '--out', out)
    expect(await refused.ended).toBe(2)
    expect(refused.said).toMatch(/^stillhold record: .*bench\.lp: already exists; .*--append/)
    const goesOn = new Recorder('--stdin', '--out', out, '--append')
    goesOn.process.stdin?.end(`${line(1)}\n`)
    expect(await goesOn.ended).toBe(0)
    expect(recorded()).toEqual(['# stillhold recording 1', line(0), line(1), fromStandardInput(1)])
  })
})

describe.skipIf(!hasSocat)(
  `record --port on a pseudo-terminal${hasSocat ? '' : ' (skipped: socat is not installed)'}`,
  () => {
    test('takes typed marks, survives an unplug and closes cleanly on SIGINT', async () => {
      const terminal = new PseudoTerminal()
      await terminal.plug()
      try {
        const recorder = new Recorder(
          '--port',
          terminal.path,
          '--baud',
          '115200',
          '--out',
          out,
          '--hold',
          'left-feed',
        )
        await recorder.ready()
        terminal.write('logger seq=1i,p1=1\nlogger seq=2i,p1=2\n')
        await until(() => has('p1=2'))
        recorder.type('h\n')
        await until(() => has('name="hold"'))
        recorder.type(
          'work F07 retighten 14.1\nlook F07 bubbles\nvalve V2 shut\nnote door opened, sun on the wing\nnonsense\n',
        )
        await until(() => has('sun on the wing') && recorder.said.includes('"nonsense" is no mark'))
        await terminal.unplug()
        await until(() => has('code="unplugged"'))
        await terminal.plug()
        await until(() => has('kind=gap'))
        terminal.write('logger seq=3i,p1=3\nlogger seq=4i,p1=4\n')
        await until(() => has('p1=4'))
        recorder.process.kill('SIGINT')
        expect(await recorder.ended).toBe(0)
        const marks = recorded().filter((each) => each.startsWith('mark'))
        expect(
          marks.map((each) =>
            each
              .replace(/ \d{19}$/, '')
              .replace(/(port|seconds|text)=("[^"]*"|[\d.]+),?/g, '')
              .trim(),
          ),
        ).toEqual([
          expect.stringMatching(/^mark,kind=origin source="serial",name="/),
          'mark,kind=stage,from=operator,hold=left-feed name="hold"',
          'mark,kind=work,from=operator,id=F07 action="retighten",torque_Nm=14.1',
          'mark,kind=look,from=operator,id=F07 finding="bubbles"',
          'mark,kind=valve,from=operator,id=V2 open=false',
          'mark,kind=note,from=operator',
          'mark,kind=fault code="unplugged",',
          'mark,kind=gap',
        ])
        expect(recorded().filter((each) => each.startsWith('logger'))).toHaveLength(4)
        expect(recorder.result).toMatch(/: 4 points, 7 marks, 0 rejected, 0 missing, 0 resets\n$/)
      } finally {
        await terminal.remove()
      }
    })
  },
)

describe('record --http', () => {
  test('an unmodified client’s points are in the recording when it is answered', async () => {
    const recorder = new Recorder('--http', '0', '--out', out)
    await recorder.ready()
    const [, url, token] = /(http:\/\/[\d.:]+)\S* with the token ([0-9a-f]{32})/.exec(recorder.said) ?? []
    const api = new InfluxDB({ url, token }).getWriteApi('o', 'b', 'ms')
    api.writePoint(new Point('logger').floatField('p1', 10.5).timestamp(1767225600123))
    await api.close()
    expect(recorded()).toEqual([
      '# stillhold recording 1',
      'logger p1=10.5 1767225600123000000',
      'mark,kind=origin source="http" 1767225600123000000',
    ])
    recorder.process.kill('SIGTERM')
    expect(await recorder.ended).toBe(0)
  })
  test('refuses a web page of another site, a foreign Host and a client without the token: nothing is recorded', async () => {
    const recorder = new Recorder('--http', '0', '--out', out)
    await recorder.ready()
    const [, port, token] = /:(\d+)\S* with the token (\w+)/.exec(recorder.said) ?? []
    const write = (headers: Record<string, string>) =>
      ask(Number(port), {
        method: 'POST',
        path: '/api/v2/write',
        body: 'mark,kind=stage name="hold" 1767225600000000000\n',
        headers,
      })
    const authorization = `Token ${token}`
    expect((await write({})).status).toBe(401)
    expect((await write({ authorization: 'Token any' })).status).toBe(401)
    expect((await write({ authorization, origin: 'http://page.example' })).status).toBe(403)
    expect((await write({ authorization, host: `page.example:${port}` })).status).toBe(421)
    expect(recorded()).toEqual(['# stillhold recording 1'])
    expect((await write({ authorization })).status).toBe(204)
    recorder.process.kill('SIGTERM')
    expect(await recorder.ended).toBe(0)
  })
})

describe('record says in one line what is wrong and leaves no file', () => {
  test.each([
    [[], /nothing to read: add --port/],
    [['--port', '/dev/no-such-logger'], /no such port/],
    [['--port', 'x', '--baud', 'fast'], /--baud fast: must be a number/],
    [['--stdin', '--dialect', 'morse'], /--dialect morse: must be one of line-protocol/],
    [['--stdin', '--system', 'none.yaml'], /none\.yaml: no such file/],
    [['--http', 'x'], /--http x: not a port/],
    [['--stdin', '--forward', 'http://host:8086'], /names no database/],
  ])('record %j', async (words, message) => {
    let said = ''
    const program = new Command().exitOverride().configureOutput({
      writeErr: (text) => {
        said += text
      },
    })
    describeCommand(program.command('record'), command)
    const asked = program.parseAsync(['record', ...words, '--out', out], { from: 'user' })
    await expect(asked).rejects.toMatchObject({ exitCode: 2 })
    expect(said.trim().split('\n')).toHaveLength(1)
    expect(said).toMatch(message)
    expect(existsSync(out)).toBe(false)
  })
})
