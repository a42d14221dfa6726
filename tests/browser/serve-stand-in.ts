import { startStandIn } from './stand-in.ts'

/** For working on the page without a bench: `npx tsx tests/browser/serve-stand-in.ts [bench time, s] [speed]`. */
const standIn = await startStandIn({ folder: 'dist/web', port: 4900, speed: Number(process.argv[3] ?? 1) })
standIn.at(Number(process.argv[2] ?? 380))
process.stderr.write(`${standIn.url}\n`)
