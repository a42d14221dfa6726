import { InvalidArgumentError } from 'commander'
import { standardAtmospherePa } from '#analysis/physics/ideal-gas.ts'
import { capillaryMolPerS, displacedMolPerS } from '#analysis/physics/leak-flow.ts'
import { parseQuantity, type Quantity } from '#analysis/physics/quantity.ts'
import { defaultSccReferenceK, molPerSPerScc } from '#analysis/physics/standard-flow.ts'
import { type Dimension, toUnit } from '#analysis/physics/units.ts'
import { threeDigits } from '#analysis/reasons/figures.ts'
import { analyzeRecording } from '#analysis/verdict/analyze-recording.ts'
import { readRecordingFile } from '#ingest/recording/read-recording.ts'
import { UnreadableFile } from '#ingest/recording/unreadable-file.ts'
import { defineCommand, type OptionsOf } from './command.ts'
import { openSystem, systemOption } from './options.ts'

const quantityOf = (dimension: Dimension) => ({
  parse(text: string): Quantity {
    const read = parseQuantity(text, dimension)
    if ('fault' in read) throw new InvalidArgumentError(read.fault)
    return read
  },
})

/** Relative reading uncertainty of a displacement without a stated one. Own figure. */
const scaleShare = 0.01
const roomK = 293.15

const options = [
  systemOption,
  ['--bore <size>', 'bore of a capillary, such as 50um', quantityOf('length')],
  ['--length <size>', 'its length, such as 20cm', quantityOf('length')],
  ['--displaced <volume>', 'gas that it pushed out under water: "10 mL ± 0.1 mL"', quantityOf('volume')],
  ['--over <time>', 'in this time, such as "12 min"', quantityOf('time')],
  ['--at <pressure>', 'pressure in front of it, gauge', quantityOf('pressure')],
  ['--temperature <t>', 'of air or water (default: 20 degC)', quantityOf('temperature')],
  ['--atmosphere <p>', 'absolute (default: 101.325 kPa)', quantityOf('pressure')],
] as const
type CalibrateOptions = OptionsOf<typeof options>

export const command = defineCommand({
  arguments: [['[rec]', 'a hold of a section whose volume is known, with the check opened at its end']],
  options,
  examples: [
    'calibrate-check --bore 50um --length 20cm --at 10psi',
    'calibrate-check --displaced "10 mL ± 0.1 mL" --over "12 min" --at 10psi',
    'calibrate-check hold.lp --system aircraft.yaml',
  ],
  run: (given, recording: string | undefined) => {
    process.stdout.write(`${recording === undefined ? ofBleed(given) : ofHold(recording, given)}\n`)
  },
})

/** The rate of a bleed from its size or its displacement, as the system file takes it. */
function ofBleed({ bore, length, displaced, over, at, temperature, atmosphere }: CalibrateOptions): string {
  if (at === undefined) throw new UnreadableFile('--at', null, 'a rate needs the pressure in front of it')
  const temperatureK = temperature?.value ?? roomK
  const atmospherePa = atmosphere?.value ?? standardAtmospherePa
  if (displaced !== undefined && over !== undefined) {
    const { value, std } = displacedMolPerS({
      volumeM3: displaced.value,
      stdM3: (displaced.tolerance ?? scaleShare * displaced.value) / 2,
      seconds: over.value,
      temperatureK,
      atmospherePa,
    })
    // The laminar path law converts the rate from this atmosphere to a standard one.
    const standard = (2 * standardAtmospherePa + at.value) / (2 * atmospherePa + at.value)
    return rateLine(value * standard, (2 * std) / value, at.value)
  }
  if (bore !== undefined && length !== undefined) {
    const molPerS = capillaryMolPerS(
      bore.value,
      length.value,
      at.value + atmospherePa,
      atmospherePa,
      temperatureK,
    )
    return `${rateLine(molPerS, null, at.value)}\nThe rate goes with the fourth power of the bore: calibrate it before you rely on it.`
  }
  throw new UnreadableFile(
    'calibrate-check',
    null,
    'needs a recording, or --bore and --length, or --displaced and --over',
  )
}

/** The measured rate in a hold of a known volume. */
function ofHold(file: string, options: CalibrateOptions): string {
  const { system } = openSystem(options)
  const found = analyzeRecording(readRecordingFile(file, system), system).flatMap(({ result }) => {
    const proof = result.proof
    const check = system.checks?.find(({ id }) => id === proof?.check)
    const section = system.sections.find(({ id }) => id === proof?.section)
    if (proof == null || proof.found === null || check?.kind !== 'known-leak' || section === undefined)
      return []
    const { value, high } = proof.found
    const volume = section.volumeToleranceM3 / section.volumeM3
    // The interval includes the check's own stated uncertainty, which must not count towards its replacement.
    const noise = Math.sqrt(Math.max(0, ((high - value) / value) ** 2 - check.tolerance ** 2))
    return [`${check.id}: ${rateLine(value, Math.hypot(noise, volume), check.atPa)}`]
  })
  if (found.length === 0) throw new UnreadableFile(file, null, 'has no hold in which a known leak was opened')
  return found.join('\n')
}

function rateLine(molPerS: number, share: number | null, atPa: number): string {
  const scc = molPerS / molPerSPerScc(defaultSccReferenceK)
  return `rate: ${threeDigits(scc)} scc/min${share === null ? '' : ` ± ${Math.max(1, Math.ceil(100 * share))} %`} at ${threeDigits(toUnit(atPa, 'psi', 'pressure'))} psi`
}
