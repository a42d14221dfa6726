import { X509Certificate } from 'node:crypto'
import { existsSync, readFileSync } from 'node:fs'
import { worstVerdict } from '#analysis/model/hold-result.ts'
import { ArchiveError } from '#dashboard/archive/archive-error.ts'
import { type Finding, type VerifyReport, worstExitCode } from '#dashboard/archive/finding.ts'
import { publicKeyFromBase64, publicKeyFromPem } from '#dashboard/archive/signing-key.ts'
import { compareFiles, verify } from '#dashboard/archive/verify.ts'
import { defineCommand, jsonOption, many, printResult, programVersion } from './command.ts'
import { resultInk as colors, ProgressBar, printable } from './terminal.ts'

export const command = defineCommand({
  arguments: [['<file...>', 'test report or dossier (PDF), record (JSON) or archive folder']],
  options: [
    [
      '--key <key>',
      'the key it must be signed with: fingerprint, public key in base64, or a PEM file; may be given again',
      many,
    ],
    ['--tsa <file>', 'certificate (PEM) of a time-stamp authority to rely on; may be given again', many],
    jsonOption,
  ],
  help: `Several files are also compared with each other: an archive must have every record that a report carries.

Exit code: 0 pass, 10 fail, 11 undecided, 12 void or nothing to judge, 13 the evidence is broken
(a seal, chain, key or page that does not fit; it outranks every verdict), 2 not readable.`,
  examples: ['verify left-feed.pdf --key "9f2c 01d4 77ab 30e5"'],
  run: async (options, files: readonly string[]) => {
    const expectedKeys = options.key?.map(fingerprintOf)
    const authorities = options.tsa?.map(certificateOf)
    const reports: VerifyReport[] = []
    for (const file of files) {
      const bar = new ProgressBar()
      const progress = (share: number) => bar.at(`checking ${printable(file)}`, share)
      const asked = verify(file, { programVersion, expectedKeys, authorities, progress })
      reports.push(await asked.finally(() => bar.end()))
    }
    const compared = compareFiles(reports)
    for (const report of compared) printResult(options, report, () => reportLines(report))
    process.exitCode = worstExitCode(compared.map(({ exit_code }) => exit_code))
  },
})

function certificateOf(path: string): X509Certificate {
  try {
    return new X509Certificate(readFileSync(path))
  } catch {
    throw new ArchiveError('not-found', path, `--tsa ${path}: give a certificate in PEM that exists`)
  }
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
      : report.records.length === 0
        ? 'nothing to judge'
        : `everything checked holds${worst === null ? '' : `, verdict ${worst}`}`
  lines.push(`${colors.bold(printable(report.file))}: ${brokenCount > 0 ? colors.red(what) : what}`)
  for (const finding of report.findings) lines.push(findingLine(finding))
  for (const record of report.records) {
    const isPlain = report.kind === 'archive' && record.findings.every((finding) => finding.state === 'holds')
    lines.push(`  ${colors.bold(printable(record.id))} ${recordWords(record)}`)
    // In a long archive, valid records are summarized; faults are listed in full.
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
  return `  ${marks[finding.state]}${' '.repeat(8 - (finding.state === 'broken' ? 6 : finding.state.length))}${printable(finding.text)}`
}
