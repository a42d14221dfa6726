import { Command } from 'commander'
import { register as registerArchive } from '#dashboard/cli/archive.ts'
import { register as registerCertify } from '#dashboard/cli/certify.ts'
import { register as registerExport } from '#dashboard/cli/export.ts'
import { register as registerVerify } from '#dashboard/cli/verify.ts'

/** The commands of the archive alone, as the program registers them: starts faster than the whole program. */
const program = new Command('stillhold').version('0.0.0-test')
for (const register of [registerArchive, registerCertify, registerExport, registerVerify]) register(program)
await program.parseAsync()
