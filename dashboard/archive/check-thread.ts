import { parentPort } from 'node:worker_threads'
import { checkLink, type LinkToCheck } from './check-link.ts'

if (!parentPort) throw new TypeError('this file runs as a thread of the check')
const port = parentPort
port.on('message', (link: LinkToCheck) => port.postMessage(checkLink(link)))
