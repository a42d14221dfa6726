import { connect } from 'node:net'
import type { Random } from '#ingest/simulator/random.ts'
import { benchFolder, openBench } from '#tests/dashboard/server/open-bench.ts'
import { mutateBytes } from './mutate-bytes.ts'
import { read, type Target } from './targets.ts'

const token = 'fuzz-token'
const json = 'content-type: application/json'
const write = `authorization: Token ${token}`

const order = { hold: 'rig-10psi', operator: 'O. P.', witness: null, stateSheet: ['plug in'], retests: null }
const asked: readonly (readonly [line: string, header: string, body: string])[] = [
  ['POST /api/hold/start', json, JSON.stringify(order)],
  ['POST /api/hold/stage', json, '{"stage":"settle"}'],
  ['POST /api/mark', json, '{"kind":"work","id":"F07","fields":{"action":"retighten","torque_Nm":14.5}}'],
  ['POST /api/mark', json, '{"kind":"note","fields":{"text":"a \\u00e9 \\"b\\"","n":1e-3,"on":true}}'],
  ['POST /api/ports/confirm', json, '{"name":"serial"}'],
  ['POST /api/plan', json, '{"hold":"rig-10psi"}'],
  ['PUT /api/system', json, JSON.stringify({ text: read('floatplane.yaml').toString('utf8') })],
  [
    'POST /api/wet',
    json,
    '{"sheet":{"stage":"first-fill","checks":[{"id":"a","state":"dry"}]},"seal":false}',
  ],
  ['POST /api/flow', json, '{"sheet":{"run":{"litres":2.5,"seconds":60}},"seal":true,"operator":"O. P."}'],
  ['POST /api/torque', json, '{"sheet":[{"fitting":"F07","torque":"14 N·m"}],"photos":[]}'],
  ['POST /api/level', json, '{"sheet":{"channel":"q-left","steps":[],"name":"a.lp","recording":"x"}}'],
  ['POST /api/v2/write', write, 'logger p3=10.02,t3=18.4,baro=1013.2,n=7i 1767225600000000000\n'.repeat(5)],
  ['POST /write?precision=ms', write, 'logger,port=a p3=10,s="a \\"b\\"" 1767225600000\n'],
  ['GET /api/records?verdict=pass&text=a', json, ''],
  ['GET /api/live?from=0&points=100', json, ''],
]
const seeds = asked.map(([line, header, body]) => Buffer.from(`${line}\n${header}\n${body}`))

/** Answers that say that the disk or the program cannot now: no fault of the request, nor of ours. */
const refusals = [503, 507]

/**
 * A real bench on the loopback. Bodies are mutated in every request, its head too in some of them; a fault is an answer of
 * 500, none at all where the head is whole, or a server that does not answer plainly afterwards.
 */
export async function httpTarget(): Promise<Target> {
  const at = benchFolder()
  const bench = await openBench(at, { writeToken: token })
  const { port } = bench.server
  return {
    name: 'HTTP requests',
    seeds,
    mostMs: 10_000,
    async run(_, random) {
      const [line, header, body] = random.pick(asked)
      const changed = Buffer.from(mutateBytes(Buffer.from(body), random))
      const framed = framing[random.pick(['length', 'length', 'length', 'chunks', 'none'])](changed)
      const head = Buffer.from(
        `${line} HTTP/1.1\r\nhost: 127.0.0.1:${port}\r\nconnection: close\r\n${header}\r\n${framed.header}\r\n`,
      )
      const isWhole = random.chance(0.8)
      const sent = Buffer.concat([isWhole ? head : changedHead(head, random), framed.body])
      const status = await answer(port, sent)
      if (status !== null && status >= 500 && !refusals.includes(status))
        throw new Error(`${line}: ${status}`)
      if (isWhole && status === null) throw new Error(`${line}: no answer`)
      if ((await answer(port, Buffer.from(plain(port)))) !== 200)
        throw new Error(`${line}: it answers no more`)
    },
    async close() {
      await bench.stop()
      at.remove()
    },
  }
}

/** The ways a body is told from what follows. */
const framing: Readonly<Record<string, (body: Buffer) => { header: string; body: Buffer }>> = {
  length: (body) => ({ header: `content-length: ${body.length}\r\n`, body }),
  chunks(body) {
    const chunk = Buffer.concat([Buffer.from(`${body.length.toString(16)}\r\n`), body, Buffer.from('\r\n')])
    const end = Buffer.from('0\r\n\r\n')
    return {
      header: 'transfer-encoding: chunked\r\n',
      body: Buffer.concat(body.length > 0 ? [chunk, end] : [end]),
    }
  },
  none: () => ({ header: '', body: Buffer.alloc(0) }),
}

const plain = (port: number) =>
  `GET /api/ports HTTP/1.1\r\nhost: 127.0.0.1:${port}\r\nconnection: close\r\n\r\n`

function changedHead(head: Buffer, random: Random): Buffer {
  return Buffer.from(mutateBytes(head, random))
}

/** Status of the answer to these bytes; null when the connection is closed without one. */
function answer(port: number, request: Buffer): Promise<number | null> {
  return new Promise((resolve) => {
    let text = ''
    const socket = connect(port, '127.0.0.1', () => socket.end(request))
    socket.setEncoding('latin1')
    socket.on('data', (chunk) => {
      if (text.length < 100) text += chunk
      // A live stream that was asked for by chance would go on for ever.
      if (text.includes('event-stream')) socket.destroy()
    })
    socket.on('error', () => {})
    socket.on('close', () => {
      const status = /^HTTP\/1\.1 (\d{3})/.exec(text)?.[1]
      resolve(status === undefined ? null : Number(status))
    })
  })
}
