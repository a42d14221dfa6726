import type { Mark, Recording } from '#analysis/model/samples.ts'
import type { Channel, Section } from '#analysis/model/system.ts'
import { type Random, seededRandom } from '#ingest/simulator/random.ts'

/** A played session at the tank: what the fuel truly does, what the jug claims, what the sender says. */
export interface PlayedCalibration {
  readonly seed: number
  readonly pours: number
  readonly jugL: number
  /** A liter by the jug is in truth so many. */
  readonly jugFactor: number
  readonly jugTolerance: string
  readonly noiseOhm: number
  /** Half of the gap between up and down, [Ω]. */
  readonly hysteresisOhm: number
  /** Fuel at which the sender meets its stop, [L]. */
  readonly stopL: number
  readonly down: boolean
  readonly total: string | null
  readonly start: 'unusable' | 'dry' | null
  /** Index of a pour after which the float hung. */
  readonly hangs: number | null
  /** What the sender says for a level, other than the truth, both ways. */
  readonly broken: (usableL: number) => number
  /** Index of a pour of twice the jug that is marked as one, and of one that is marked twice. */
  readonly doubled: number | null
  readonly markedTwice: number | null
}

const plainCalibration: PlayedCalibration = {
  seed: 1,
  pours: 15,
  jugL: 5,
  jugFactor: 1,
  jugTolerance: '0.5 %',
  noiseOhm: 0.15,
  hysteresisOhm: 0.8,
  stopL: 999,
  down: true,
  total: null,
  start: 'unusable',
  hangs: null,
  broken: (usableL) => usableL,
  doubled: null,
  markedTwice: null,
}

/** Sender of a tank in a wing with dihedral: 240 Ω empty, about 33 Ω with 75 L usable. */
export function trueOhm(usableL: number): number {
  const share = usableL / 75
  return 240 - 207 * (0.72 * share + 0.28 * share ** 2)
}

export const senderChannel: Channel = {
  id: 'sender-left',
  measures: 'level-sender',
  section: 'left-tank',
  from: { measurement: 'logger', field: 'r1', tags: {} },
  unit: 'ohm',
  scale: null,
  rangeSi: [0, 300],
  resolutionSi: 0.1,
  accuracySi: null,
  calibration: null,
}

export const senderTank: Section = {
  id: 'left-tank',
  medium: 'avgas',
  volumeM3: 0.08,
  volumeToleranceM3: 0,
  maxPressurePa: null,
  maxVacuumPa: null,
  stretchPerPa: null,
  kind: 'tank',
  capacityM3: 0.0775,
  unusableM3: 0.0025,
}

const betweenS = 75

export function playCalibration(options: Partial<PlayedCalibration> = {}): Recording {
  const played = { ...plainCalibration, ...options }
  const random = seededRandom(played.seed, 8)
  const timeS: number[] = []
  const reading: number[] = []
  const marks: Mark[] = []
  let usableL = played.start === 'dry' ? -2.5 : 0
  let atS = 5
  const mark = (fields: Mark['fields']) =>
    marks.push({
      timeNs: String(Math.round(atS * 1e9)),
      timeS: atS,
      kind: 'fill',
      id: 'left-tank',
      hold: null,
      fields,
    })
  const stand = (side: 1 | -1, hung: boolean) => {
    for (let s = 0; s < betweenS; s++) {
      timeS.push(atS + s)
      reading.push(sender(Math.max(usableL, 0), side, hung, s, random, played))
    }
    atS += betweenS
  }
  if (played.start !== null) {
    mark({ start: played.start, attitude: 'level' })
    stand(1, false)
  }
  for (let i = 0; i < played.pours; i++) {
    usableL += played.jugL * played.jugFactor * (played.doubled === i ? 2 : 1)
    const last = i === played.pours - 1
    mark({
      volume: `${played.jugL} L ± ${played.jugTolerance}`,
      attitude: 'level',
      ...(last ? { full: true } : {}),
      ...(last && played.total !== null ? { total: played.total } : {}),
    })
    stand(1, played.hangs === i)
    if (played.markedTwice === i) {
      mark({ volume: `${played.jugL} L ± ${played.jugTolerance}`, attitude: 'level' })
      stand(1, false)
    }
  }
  const drawn = played.pours + (played.doubled === null ? 0 : 1)
  for (let i = 0; played.down && i < drawn; i++) {
    usableL -= played.jugL * played.jugFactor
    mark({ volume: `${played.jugL} L ± ${played.jugTolerance}`, direction: 'down', attitude: 'level' })
    stand(-1, false)
  }
  return {
    name: 'played.lp',
    startNs: '0',
    channels: [
      { channel: 'sender-left', timeS: Float64Array.from(timeS), reading: Float64Array.from(reading) },
    ],
    marks,
    rejectedLines: 0,
    missingSequence: 0,
  }
}

function sender(
  usableL: number,
  side: 1 | -1,
  hung: boolean,
  sinceS: number,
  random: Random,
  { noiseOhm, hysteresisOhm, stopL, broken }: PlayedCalibration,
): number {
  const still = trueOhm(Math.min(broken(hung ? usableL - 14 : usableL), stopL)) + side * hysteresisOhm
  const slosh = 6 * Math.exp(-sinceS / 3) * Math.cos(sinceS * 2.1)
  return Math.round((still + slosh + noiseOhm * random.normal()) * 10) / 10
}
