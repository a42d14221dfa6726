import type { FedPort } from './fed-port.ts'

const channels = 8

/** A line with a gauge and a thermometer, six other gauges, all read by one logger; and one hold. */
export const fedSystemText = `stillhold: 1
name: a day
channels:
${Array.from({ length: channels - 1 }, (_, i) => `  - { id: p${i}, measures: gauge-pressure, section: ${i === 0 ? 'line' : `other-${i}`}, from: { measurement: logger, field: p${i} }, unit: kPa, range: 0 kPa to 200 kPa }`).join('\n')}
  - { id: t, measures: temperature, section: line, from: { measurement: logger, field: p7 }, unit: degC }
sections:
  - { id: line, medium: air, volume: 0.35 L ± 10 %, max-pressure: 1.5 bar }
${Array.from({ length: channels - 2 }, (_, i) => `  - { id: other-${i + 1}, medium: air, volume: 0.35 L ± 10 %, max-pressure: 1.5 bar }`).join('\n')}
fittings:
  - { id: F1, section: line, kind: flare }
holds:
  - { id: h, sections: [line], pressure: 70 kPa, settle: 2 min, hold: 10 min, allow: { drop: 0.7 kPa } }
`

/** A logger of eight readings a line on a port that is fed by hand. */
export class FedLogger {
  pressureKPa = 0
  /** When pumping ended, [s]; the warmth of it goes, and some pressure with it. */
  pumpedS = Number.POSITIVE_INFINITY
  /** Lines written. */
  lines = 0
  readonly #port: FedPort
  readonly #rateHz: number

  constructor(port: FedPort, rateHz: number) {
    this.#port = port
    this.#rateHz = rateHz
  }

  /** Says at once what it says in so many seconds. */
  say(seconds: number): void {
    let text = ''
    for (let left = Math.round(seconds * this.#rateHz); left > 0; left--) {
      const atS = this.lines / this.#rateHz
      text += this.#line(atS)
      this.lines++
      if (text.length < 16_000 && left > 1) continue
      this.#port.nowS = atS
      this.#port.say(text)
      text = ''
    }
  }

  #line(atS: number): string {
    const noise = ((this.lines * 7919) % 1000) / 1000 - 0.5
    const coolingKPa = atS > this.pumpedS ? 3 * (1 - Math.exp((this.pumpedS - atS) / 25)) : 0
    let fields = `p0=${(this.pressureKPa - coolingKPa + 0.005 * noise).toFixed(4)}`
    for (let other = 1; other < channels - 1; other++)
      fields += `,p${other}=${(5 + noise * other).toFixed(4)}`
    fields += `,p7=${(20 + 0.01 * noise + 0.1 * Math.sin(atS / 3000)).toFixed(3)}`
    return `logger ${fields} ${this.#port.timeNs(atS)}\n`
  }
}
