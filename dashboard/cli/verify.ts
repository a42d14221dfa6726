import { existsSync, readFileSync } from 'node:fs'
import type { Command } from 'commander'
import { type Verdict, verdictExitCode } from '#analysis/model/hold-result.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { type Finding, type VerifyReport, worstVerdict } from '#dashboard/archive/finding.ts'
import { publicKeyFromBase64, publicKeyFromPem } from '#dashboard/archive/signing-key.ts'
import { archiveAction } from './archive-action.ts'
import { resultInk as colors } from './ink.ts'
import { ProgressBar } from './progress-bar.ts'

interface VerifyOptions {
  readonly key?: string
  readonly json?: boolean
}

export function register(program: Command): void {
  program
    .command('verify')
    .description('check a certificate, a record or a whole archive, recomputing every verdict')
    .argument('<file...>', 'certificate (PDF), record (JSON) or archive folder')
    .option('--key <key>', 'the key it must be signed with: fingerprint, public key in base64, or a PEM file')
    .option('--json', 'print one JSON object a file')
    .addHelpText(
      'after',
      '\nExit code: 0 pass, 10 fail, 11 undecided, 12 void or evidence that does not hold, 2 not readable.\n' +
        '\nExample:\n  $ stillhold verify left-feed.pdf --key "9f2c 01d4 77ab 30e5"',
    )
    .action((files: readonly string[], options: VerifyOptions) =>
      archiveAction(async () => {
        const expectedKey = options.key === undefined ? null : fingerprintOf(options.key)
        const { verify } = await import('#dashboard/archive/verify.ts')
        const programVersion = program.version() ?? ''
        const codes: number[] = []
        for (const file of files) {
          const bar = new ProgressBar()
          const progress = (share: number) => bar.at(`checking ${file}`, share)
          const report = await verify(file, { programVersion, expectedKey, progress }).finally(() =>
            bar.end(),
          )
          codes.push(report.exit_code)
          process.stdout.write(options.json ? `${JSON.stringify(report)}\n` : reportLines(report))
        }
        process.exitCode = worstCode(codes)
      }),
    )
}

function worstCode(codes: readonly number[]): number {
  const verdicts = Object.keys(verdictExitCode) as Verdict[]
  const worst = worstVerdict(
    codes.map((code) => verdicts.find((each) => verdictExitCode[each] === code) ?? null),
  )
  return worst === null ? 0 : verdictExitCode[worst]
}

function fingerprintOf(given: string): string {
  const plain = given.replaceAll(/[\s:]/g, '').toLowerCase()
  if (/^[0-9a-f]{16}$/.test(plain)) return plain
  try {
    if (existsSync(given)) return publicKeyFromPem(readFileSync(given, 'utf8')).fingerprint
    return publicKeyFromBase64(given).fingerprint
  } catch {
    const message = `--key ${given}: give 16 hex digits, 32 bytes in base64, or a PEM file that exists`
    throw new ArchiveError('not-found', given, message)
  }
}

const marks: Readonly<Record<Finding['state'], string>> = {
  holds: colors.green('holds'),
  broken: colors.red(colors.bold('BROKEN')),
  note: colors.yellow('note'),
}

function reportLines(report: VerifyReport): string {
  const lines: string[] = []
  const all = [...report.findings, ...report.records.flatMap((record) => record.findings)]
  const brokenCount = all.filter((finding) => finding.state === 'broken').length
  const verdicts = report.records.map((record) => record.verdict)
  const worst = worstVerdict([...verdicts, brokenCount > 0 ? 'void' : null])
  const what =
    brokenCount > 0
      ? `${brokenCount === 1 ? 'one thing does' : `${brokenCount} things do`} not hold`
      : `everything checked holds${worst === null ? '' : `, verdict ${worst}`}`
  lines.push(`${colors.bold(report.file)}: ${brokenCount > 0 ? colors.red(what) : what}`)
  for (const finding of report.findings) lines.push(findingLine(finding))
  for (const record of report.records) {
    const isPlain = report.kind === 'archive' && record.findings.every((finding) => finding.state === 'holds')
    lines.push(`  ${colors.bold(record.id)} ${recordWords(record)}`)
    // In a long archive what holds is said once; what does not is said in full.
    if (!isPlain) for (const finding of record.findings) lines.push(`  ${findingLine(finding)}`)
  }
  return `${lines.join('\n')}\n`
}

function recordWords(record: VerifyReport['records'][number]): string {
  if (record.verdict === null) return `${record.kind}, as sealed`
  if (record.sealed === record.verdict) return record.verdict
  return `${record.verdict} (sealed as ${record.sealed ?? 'none'})`
}

function findingLine(finding: Finding): string {
  return `  ${marks[finding.state]}${' '.repeat(8 - (finding.state === 'broken' ? 6 : finding.state.length))}${finding.text}`
}
