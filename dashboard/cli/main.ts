import { Command } from 'commander'
import { register as registerArchive } from './archive.ts'
import { register as registerCertify } from './certify.ts'
import { register as registerExport } from './export.ts'
import { register as registerRecord } from './record.ts'
import { register as registerServe } from './serve.ts'
import { register as registerVerify } from './verify.ts'

declare const __STILLHOLD_VERSION__: string | undefined

/** Version of package.json, put in by the build; `0.0.0-dev` when run from the sources. */
export const version = typeof __STILLHOLD_VERSION__ === 'string' ? __STILLHOLD_VERSION__ : '0.0.0-dev'

const program = new Command('stillhold')
  .description('Proves that a small aircraft’s fuel system does not leak.')
  .version(version)

registerRecord(program)
registerServe(program)
registerArchive(program)
registerCertify(program)
registerExport(program)
registerVerify(program)

await program.parseAsync()
