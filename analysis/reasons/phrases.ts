import { duration, type FigureWords, threeDigits } from './figures.ts'
import { inDigits, plural, t } from './language.ts'

const percent = (share: number): string => `${Math.round(100 * Math.max(0, share))} %`
interface OfSection {
  readonly section: string
}
interface OfGauge extends OfSection {
  readonly channel: string
}
const gaugeOf = (v: OfGauge): string => t`The gauge of ${v.section} (${v.channel})`
const named = (id: string): string => (id === '' ? t`without a name` : id)

/** A leak or change of pressure that a verdict is about, with its limit: pressures in [Pa], rates in the unit named. */
interface Judged {
  readonly section: string
  readonly of: 'drop' | 'rise' | 'leak'
  readonly unit: 'Pa' | 'scc/min' | 'mL/min'
  readonly low: number
  readonly high: number
  readonly allowed: number
}

const leakWords = { drop: t`drop`, rise: t`rise`, leak: t`leak` }

const judged = (words: FigureWords, v: Judged) => {
  const say = (value: number, beside: number): string =>
    words.bound(value, beside, v.unit === 'Pa' ? undefined : v.unit)
  const nearer = Math.abs(v.low - v.allowed) < Math.abs(v.high - v.allowed) ? v.low : v.high
  return { low: say(v.low, v.allowed), high: say(v.high, v.allowed), allowed: say(v.allowed, nearer) }
}

const gapWords = {
  'in a row': t`in a row`,
  'in total': t`in total`,
  'at the start': t`at the start`,
  'at the end': t`at the end`,
}

/** Range of a check as a gauge measured it; null if not measured. */
interface Shown {
  readonly section: string
  readonly check: string
  readonly unit: 'scc/min' | 'mL'
  readonly expected: number
  readonly low: number | null
  readonly high: number | null
}

const shown = ({ low, high, unit }: Shown): string =>
  t`${threeDigits(low ?? 0)} to ${threeDigits(high ?? 0)} ${unit}`

/**
 * Every reason that a hold's result can contain: its stable code, the values it needs (SI, named) and the sentence from them.
 * Each sentence states what happened, what it means and what to do.
 */
export const phrases = {
  'leak-below-allowance': (v: Judged, words) => {
    const { high, allowed } = judged(words, v)
    return t`${v.section}: with 95 % confidence the ${leakWords[v.of]} is below ${high}; ${allowed} is allowed.`
  },
  'leak-above-allowance': (v: Judged, words) => {
    const { low, allowed } = judged(words, v)
    return t`${v.section}: with 95 % confidence the ${leakWords[v.of]} is above ${low}; only ${allowed} is allowed.`
  },
  'interval-spans-allowance': (v: Judged, words) => {
    const { low, high, allowed } = judged(words, v)
    return t`${v.section}: the ${leakWords[v.of]} is between ${low} and ${high}. The interval includes the allowance of ${allowed}: undecided.`
  },
  'hold-too-short': (v: { section: string; seconds: number; stated_s: number; least_s: number }) =>
    t`${v.section}: the hold lasted ${duration(v.seconds)} of its stated ${duration(v.stated_s)}. A hold passes only after a quarter of its stated time and at least ${duration(v.least_s)}.`,
  'longer-will-not-help': (v: { section: string; nearAllowance: boolean; help: readonly string[] }) =>
    t`${v.section}: a longer hold alone is unlikely to decide it. ${
      v.nearAllowance
        ? t`The leak is within a tenth of the allowance.`
        : t`The uncertainty does not shrink enough with time, or the leak is close to the allowance.`
    } What would help: ${v.help.map((one) => helps[one as Help] ?? one).join('; ')}${
      v.nearAllowance ? t`; or find and repair the leak, then hold again` : ''
    }.`,
  'slope-changed': (v: { section: string; at_s: number; part: 'before' | 'after' }) =>
    t`The pressure of ${v.section} changed its slope ${duration(v.at_s)} into the hold, and the leak ${v.part === 'before' ? t`before` : t`after`} that may exceed the allowance. A gauge that is shut off looks the same. Look for the cause, and hold again with a known leak at the end.`,
  'leak-below-zero': (v: OfSection) =>
    t`The leak of ${v.section} is well below zero. The supply feeds the section, fuel in it gives off vapor, or a sensor drifts; each hides a leak. Take the hose off, vent, and hold again.`,
  'interval-too-wide': (v: { section: string; sort: 'line' | 'tank' }) =>
    t`The interval of ${v.section} is below the allowance, but wider than that of a ${v.sort === 'line' ? t`line` : t`tank`} on a sound bench. A gauge that is shut off and a supply that is on look the same. Check both, let it settle, and hold again.`,
  'drop-unexplained': (v: OfSection) =>
    t`Late in the hold the pressure of ${v.section} still fell faster than is allowed, and neither the measured temperature nor the atmosphere explains it. Let it settle for longer, and hold again.`,
  'zero-drifted': (v: { channel: string; drift_Pa: number }, words) =>
    t`The zero of ${v.channel} moved by ${words.pressure(v.drift_Pa)} between pump-up and vent. The interval allows for it. Let the gauge warm up first.`,
  'vapor-or-leak': (v: { section: string; slows: boolean }) =>
    t`${v.slows ? t`The rise of ${v.section} slows more than that of a leak` : t`${v.section} was marked as not dry and purged`}. Fuel left in it gives off vapor, which raises the pressure as a leak does. Drain and purge it, and hold again; a leak comes back, vapor does not.`,
  'not-dry': (v: OfSection) =>
    t`${v.section} was marked as not dry and purged. Fuel left in it gives off vapor that hides a leak. Purge it; or vent, and hold again at once: a second hold that leaks more was wet.`,
  'proof-missing': (v: OfSection) =>
    t`The leak of ${v.section} is below the allowance, but this hold needs a proof of the bench, and no check was made. Open the known leak before the vent, or push in the known volume.`,
  'proof-unclear': (v: Shown) =>
    v.low === null || v.high === null
      ? t`The check ${v.check} of ${v.section} has too few readings. Keep it open for a minute or two before the vent.`
      : t`The gauge of ${v.section} showed ${shown(v)} of the check ${v.check}, which is ${threeDigits(v.expected)} ${v.unit}. A proof needs it within a quarter. Keep the check open for longer, or use a larger one.`,
  'proof-contradicted': (v: Shown) =>
    t`The gauge of ${v.section} showed ${shown(v)} of the check ${v.check}, which is ${threeDigits(v.expected)} ${v.unit}. ${
      (v.high ?? 0) < v.expected
        ? t`A cock is shut, a hose is clogged, the supply feeds the section, or the volume is larger than stated.`
        : t`The gauge sees only a part of the section, or the volume is smaller than stated.`
    } Find the cause, and hold again.`,

  'no-hold-found': (v: { hold: string }) =>
    t`This recording contains no hold ${v.hold}: it has no stage marks for it, and the pressure never stayed near its test pressure.`,
  'hold-unknown': (v: { hold: string; known: readonly string[] }) =>
    t`The stage marks name the hold ${v.hold}, which is not in the system file (its holds: ${v.known.join(', ') || t`none`}). Add the hold to the file under this id.`,

  'hold-not-started': (v: { hold: string }) =>
    t`The hold ${v.hold} never started. Mark its start, or let the section settle for the stated time before you vent it.`,
  'section-not-measured': (v: OfSection) =>
    t`The recording contains no pressure readings of ${v.section}. Connect its transducer, or open the valve to a section that has one.`,
  'hold-guessed': (v: { hold: string; others: readonly string[] }) =>
    t`No mark names the hold. The pressure fits ${v.hold}, and also ${v.others.join(', ')}. Name the hold that was made.`,
  'settle-shortened': (v: { seconds: number; stated_s: number }) =>
    t`The section settled for ${duration(v.seconds)} of the stated ${duration(v.stated_s)}. More pumping heat remains in the hold, so the interval is wider.`,
  'not-closed': (v: { detail: string }) => v.detail,
  'open-to-outside': (v: { detail: string }) => v.detail,

  'no-samples': (v: OfGauge) =>
    t`${gaugeOf(v)} gave no readings between pump-up and vent. Check the plug and the logger.`,
  'too-few-samples': (v: OfGauge & { readings: number; least: number }) =>
    t`The hold has ${plural(v.readings, { one: t`${v.readings} reading`, other: t`${v.readings} readings` })} from the gauge of ${v.section} (${v.channel}) and needs at least ${v.least}. Hold longer, or read more often. For a dial gauge with its smallest division stated as resolution, 10 are enough.`,
  'pressure-implausible': (v: OfSection) =>
    t`${v.section}: the readings between pump-up and vent include pressures that no gas can have, or too few usable ones. Check the unit and the span of the gauge.`,
  'readings-not-explained': (v: OfSection) =>
    t`No closed section has the readings of ${v.section}. It was pumped or let off in between, or its gauge failed. Hold again.`,
  'vacuum-too-deep': (v: { section: string; absolute_Pa: number; least_Pa: number }, words) =>
    t`${v.section} was held at ${words.pressure(v.absolute_Pa)} absolute. Below ${words.pressure(v.least_Pa)} absolute, surfaces give off gas that looks like a leak. Hold at a smaller vacuum.`,
  'samples-missing': (
    v: OfGauge & {
      seconds: number
      hold_s: number
      where: 'in a row' | 'in total' | 'at the start' | 'at the end'
    },
  ) =>
    t`${gaugeOf(v)} gave no readings for ${duration(v.seconds)} ${gapWords[v.where]} of a hold of ${duration(v.hold_s)}. The logger was silent, or its clock was set forward.`,
  'clock-jumped': (v: {
    how: 'forward' | 'fast' | 'set'
    section?: string
    seconds?: number
    share?: number
  }) =>
    v.how === 'fast'
      ? t`The clock of the readings ran ${percent(v.share ?? 0)} fast during this hold, so the hold was shorter than its readings say. Correct the logger's clock and hold again.`
      : v.how === 'forward'
        ? t`After ${duration(v.seconds ?? 0)} without readings, the pressure of ${v.section} continued as if no time had passed. The clock was set forward, so the length of the hold is unknown: hold again.`
        : t`The clock of the readings was set${v.seconds === undefined ? '' : t` by ${inDigits(v.seconds, 1)} s`} during this hold, so the length of the hold is unknown: hold again.`,
  'recording-damaged': (v: { line: number; lines: number }) =>
    t`${plural(v.lines, { one: t`Line ${v.line} of the recording cannot be read`, other: t`${v.lines} lines of the recording, from line ${v.line} on, cannot be read` })}. A valve, work on a joint or a change of the clock may be lost there. Use an undamaged copy, or hold again.`,

  'gauge-stuck': (v: OfGauge & { seconds: number; still: 'livelier' | 'vent' | 'pump-up' }) =>
    t`${gaugeOf(v)} repeated one reading for ${duration(v.seconds)}${
      v.still === 'livelier'
        ? t` although its readings vary at other times: it was stuck or unplugged.`
        : t` and did not move at ${v.still === 'vent' ? t`the vent` : t`pump-up`} either: it is stuck.`
    }`,
  'readings-mixed': (v: OfGauge & { share: number }) =>
    t`The readings of ${v.channel} jump back and forth by ${percent(v.share)} of the test pressure. More than one series matches this channel (name its tags in the system file), or the plug of ${v.section} is loose.`,
  clipped: (v: OfGauge & { end: 'upper' | 'lower' | 'plug' }) =>
    v.end === 'upper'
      ? t`${gaugeOf(v)} read the upper end of its span: use a gauge with a larger span.`
      : v.end === 'lower'
        ? t`${gaugeOf(v)} read the lower end of its span: it is unplugged or broken, or the pressure is gone.`
        : t`${gaugeOf(v)} went to the lower end of its span at the vent, below its reading before pump-up. Its plug came out, so nothing shows that ${v.section} was vented.`,
  'wrong-channel': (v: OfGauge & { otherSection: string; otherChannel: string }) =>
    t`${gaugeOf(v)} did not rise at pump-up, but the gauge of ${v.otherSection} (${v.otherChannel}) did. The hose or the channel is on the wrong section.`,
  'no-pump-up-response': (v: OfGauge) =>
    t`${gaugeOf(v)} did not rise at pump-up: it is stuck, unplugged or shut off, or nothing was pumped up.`,
  'pressure-not-reached': (v: { section: string; share: number }) =>
    t`${v.section} reached only ${percent(v.share)} of the test pressure. Pump it up to the full test pressure.`,
  'pressure-lost-before-hold': (v: { section: string; share: number }) =>
    t`${v.section} had only ${percent(v.share)} of the test pressure left when the hold began. Find the large leak first, or pump up again.`,
  'vent-not-recorded': (v: OfGauge & { cause: 'ended' | 'dead' }) =>
    v.cause === 'ended'
      ? t`The recording ends before the vent of ${v.section} shows, so nothing proves that the gauge was still connected to it. Record until the pressure is off.`
      : t`${gaugeOf(v)} fell at once and then repeated one reading, although its readings vary before pump-up. Its plug came out, so nothing shows that ${v.section} was vented.`,
  'no-vent-response': (v: OfGauge) =>
    t`${gaugeOf(v)} did not fall when ${v.section} was vented. It was shut off from the section, so its readings prove nothing.`,
  'gauge-not-used': (v: OfGauge) =>
    t`The second gauge of ${v.section} (${v.channel}) did not rise with the first. It is unplugged, shut off or on another section, and is not used.`,
  'gauges-disagree': (v: OfGauge & { other: string; share: number }) =>
    t`The gauges of ${v.section} (${v.channel}, ${v.other}) diverged during the hold by ${percent(v.share)} of the allowance. One of them is shut off, drifts, or leaks at its own joint. Find out which, and hold again.`,
  'gauge-span-large': (v: { channel: string; times: number }) =>
    t`The span of ${v.channel} is ${inDigits(v.times, 1)} times the test pressure; at most 3 times is recommended (33 CFR 183.542, laboratory procedure).`,
  'gauge-coarse': (v: { channel: string; share: number }) =>
    t`One step of ${v.channel} is ${percent(v.share)} of the allowance; at most a tenth is recommended (ASTM E2930).`,
  'gauge-inaccurate': (v: { channel: string; share: number }) =>
    t`The stated accuracy of ${v.channel} is ${threeDigits(v.share)} times the allowance; at most a quarter is recommended (ASTM E2930). A gauge resolves a change better than its absolute accuracy.`,
  'calibration-overdue': (v: { channel: string; due: string; date: string }) =>
    t`The calibration of ${v.channel} was due on ${v.due}, before this hold of ${v.date}. Have it calibrated.`,
  'over-max-pressure': (
    v: { section: string; pressure_Pa: number; limit_Pa: number; vacuum: boolean },
    words,
  ) =>
    v.vacuum
      ? t`${v.section} was drawn down to ${words.bound(v.pressure_Pa, v.limit_Pa)} below the atmosphere; its limit is ${words.bound(v.limit_Pa, v.pressure_Pa)}. Inspect it for damage, and set the vacuum breaker to open earlier.`
      : t`${v.section} reached ${words.bound(v.pressure_Pa, v.limit_Pa)}; its limit is ${words.bound(v.limit_Pa, v.pressure_Pa)}. Inspect it for damage, and set the relief valve lower.`,
  'barometer-implausible': () =>
    t`The barometer reads a pressure that no atmosphere has, and is not used. Check its plug and its unit. The interval allows for the weather instead.`,
  'barometer-silent': (v: { channel: string; seconds: number }) =>
    t`The barometer (${v.channel}) gave no readings for ${duration(v.seconds)} in a row: check its plug. It is not used; the interval allows for the weather instead.`,
  'barometer-still': (v: { channel: string }) =>
    t`The barometer (${v.channel}) repeated one reading, as a dead one does: check that it works. It is not used; the interval allows for the weather instead.`,

  'no-temperature': (
    v: { section: string; silent_s: number | null; unseen_K: number; share: number },
    words,
  ) =>
    v.silent_s === null
      ? t`No thermometer of ${v.section} gave usable readings. An unmeasured change of ${words.kelvins(v.unseen_K)} would be worth ${percent(v.share)} of the allowance. Put a thermometer on the section and hold again.`
      : t`The thermometer of ${v.section} gave no usable readings for ${duration(v.silent_s)} in a row. An unmeasured change of ${words.kelvins(v.unseen_K)} would be worth ${percent(v.share)} of the allowance. Check its plug and hold again.`,
  'temperature-not-measured': (v: { section: string; silent_s: number | null; unseen_K: number }, words) =>
    v.silent_s === null
      ? t`${v.section} has no thermometer. The interval allows for a change of ${words.kelvins(v.unseen_K)}.`
      : t`The thermometer of ${v.section} gave no usable readings for ${duration(v.silent_s)} in a row: check its plug.`,
  'thermometer-still': (
    v: { section: string; channel: string; coarse: boolean; unseen_K: number; share: number | null },
    words,
  ) => {
    const still = t`The thermometer of ${v.section} (${v.channel}) repeated one reading`
    if (v.coarse) return t`${still}. Its stated resolution is coarse enough for that: check that it works.`
    if (v.share === null) return t`${still}: check that it works.`
    return t`${still}, as a dead one does. An unmeasured change of ${words.kelvins(v.unseen_K)} would be worth ${percent(v.share)} of the allowance. Check that it works and hold again.`
  },

  'thermometer-in-air': (
    v: { section: string; channel: string; unseen_K: number; share: number | null },
    words,
  ) =>
    v.share === null
      ? t`The thermometer of ${v.section} (${v.channel}) measures the air, not the wall. The air changed little during this hold. Fix the thermometer to the wall.`
      : t`The thermometer of ${v.section} (${v.channel}) measures the air, which changed during this hold. The wall may differ from it by ${words.kelvins(v.unseen_K)}, worth ${percent(v.share)} of the allowance. Fix the thermometer to the wall and hold again.`,

  'pressure-rose': (v: { section: string; vacuum: boolean }) =>
    v.vacuum
      ? t`The vacuum of ${v.section} deepened although nothing measured explains it. A valve or the pump still draws on it and hides what leaks in.`
      : t`The pressure of ${v.section} rose although nothing measured explains it. Gas or liquid enters past a valve or from the supply and hides what leaks out.`,
  'pressure-held-up': (v: { section: string; how: 'still' | 'no-fall' }) =>
    v.how === 'still'
      ? t`The pressure of ${v.section} stayed constant while temperature or atmosphere changed, which a closed section cannot do. The supply is still connected, or the gauge is shut off from the section.`
      : t`The pressure of ${v.section} did not fall at all after a quick pump-up, although gas falls as it cools. The supply is still connected, or the gauge is shut off from the section. Disconnect the supply and hold again.`,
  'supply-not-excluded': (v: OfSection) =>
    t`The pressure of ${v.section} did not fall at all after pump-up. A thin line cools within a second and looks like this; a supply that is still connected and a gauge that is shut off look the same. Check both.`,
  'pumped-during-hold': (v: { section: string; seconds: number }) =>
    t`The pressure of ${v.section} rose ${duration(v.seconds)} into the hold, faster than warming can lift it: it was pumped up again, or fed. Do not touch it from settle to vent, and hold again.`,
  'pressure-stepped': (v: { section: string; seconds: number }) =>
    t`The pressure of ${v.section} stepped down ${duration(v.seconds)} into the hold and stayed there: a valve or the gauge's cock was moved. The readings before it may be those of another section: hold again.`,
  'let-off-during-hold': (v: { section: string; share: number; seconds: number }) =>
    t`The pressure of ${v.section} fell suddenly by ${percent(v.share)} of the test pressure, ${duration(v.seconds)} before the vent was marked. It was vented, or a joint let go. Look for that joint, and hold again.`,
  'pressure-lost': (v: { why: string }) =>
    t`The pressure was lost under test${v.why === '' ? '' : `: ${v.why}`}. Look for a joint that let go, and hold again.`,
  'ended-early': (v: { seconds: number; stated_s: number; why: string }) =>
    t`It was held for ${duration(v.seconds)} of the prescribed ${duration(v.stated_s)}. ${v.why === '' ? t`No reason is given.` : t`Reason given: ${v.why}.`}`,
  interrupted: (v: { why: string }) =>
    t`The hold was interrupted${v.why === '' ? '' : `: ${v.why}`}. Remove the cause, and hold again.`,
  'leak-changed': (v: { section: string; side: 'before' | 'after'; seconds: number }) =>
    v.side === 'before'
      ? t`${v.section} leaked more than is allowed until ${duration(v.seconds)} into the hold, and less afterwards. The gauge may have been shut off, or something closed. The mean over the hold hides this: find the cause, and hold again.`
      : t`${v.section} leaked more than is allowed from ${duration(v.seconds)} into the hold on: something opened. The mean over the hold hides this: find the cause, and hold again.`,

  'work-during-hold': (v: { fitting: string; action: string }) =>
    t`Fitting ${named(v.fitting)} was worked on (${v.action}) during the hold, so the hold proves no single condition. Vent first, then work, then hold again. Never tighten under pressure.`,
  'work-under-pressure': (v: { fitting: string; action: string }) =>
    t`Fitting ${named(v.fitting)} was worked on (${v.action}) under pressure, before the hold. Never tighten under pressure. This hold does not prove that fitting: vent, and hold again.`,
  'sealant-curing': (v: { fitting: string; seconds: number | null }) =>
    v.seconds === null
      ? t`The mark of the work on ${v.fitting} states a cure time that cannot be read. Write it as "24 h", and hold again when the sealant has cured.`
      : t`The sealant of ${v.fitting} still cured for another ${duration(v.seconds)} when the hold began. What it seals now need not stay sealed: wait, and hold again.`,
  'leak-seen': (v: { fittings: readonly string[] }) =>
    t`Bubbles, a seep or a drip were seen under pressure at ${v.fittings.map(named).join(', ')}. It leaks there, however small the measured leak. Vent, repair it, and hold again.`,
  'plug-moved': (v: { plug: string }) =>
    t`A plug or cap (${named(v.plug)}) was moved during the hold: hold again.`,
  'valve-moved': (v: { valve: string; how: 'opened' | 'shut' | 'shut-late'; known: boolean }) =>
    !v.known
      ? t`A valve that is not in the system file (${named(v.valve)}) was ${v.how === 'opened' ? t`opened` : t`shut`} during the hold and may belong to the section. Name it as the file does, and hold again.`
      : v.how === 'shut-late'
        ? t`Valve ${v.valve} was marked shut only during the hold, and may have been open before. Hold again without moving the valves.`
        : t`Valve ${v.valve} was ${v.how === 'opened' ? t`opened` : t`shut`} during the hold. Hold again without moving the valves.`,
  'gauge-cock-shut': (v: { valve: string }) =>
    t`The gauge cock ${v.valve} was marked shut, so the gauge did not see the section. Open it, and hold again.`,
  'valve-open': (v: { valve: string; name: string }) =>
    t`Valve ${v.valve}${v.name ? ` (${v.name})` : ''} must be shut for this hold but was marked open. Shut it and hold again.`,
  'valve-passing': (v: {
    valve: string
    name: string
    from: string
    to: string
    back: boolean
    probability: number
  }) => {
    const valve = `${v.valve}${v.name ? ` (${v.name})` : ''}`
    const does = v.back ? t`leaks back` : t`passes`
    if (v.probability >= 0.9) return t`Valve ${valve} ${does}: ${v.to} gains what ${v.from} loses.`
    if (v.probability >= 0.5) return t`Valve ${valve} probably ${does} from ${v.from} to ${v.to}.`
    return t`It is not yet clear whether valve ${valve} ${does} from ${v.from} to ${v.to}.`
  },

  'rig-leaks': (v: { rig: string; where: string }) =>
    t`The rig (${v.rig}) failed its own hold in ${v.where}. Its leak is included in this hold: repair the rig first.`,
  'rig-unproven': (v: { rig: string }) =>
    t`Nothing proves that the rig (${v.rig}) is tight: it was not held alone within the day before this hold. A leak may be its own, so test the rig first.`,
  'rig-leak-subtracted': () =>
    t`The leak of the rig alone, measured before, is subtracted together with its uncertainty.`,

  'reference-vessel-used': (v: { channel: string }) =>
    t`${v.channel}: the closed reference vessel shows the gas temperature better than the thermometer it was compared with. The estimate uses it and allows for a leak of the vessel.`,
  'reference-vessel-pressure': (v: { channel: string; share: number }) =>
    t`${v.channel}: ${percent(v.share)} of the unmeasured weather does not cancel between section and reference vessel. Pump the vessel to the test pressure, or connect a barometer.`,
  'reference-vessel-fell': (v: { channel: string; fall_Pa: number }, words) =>
    t`${v.channel}: the reference vessel fell ${words.pressure(v.fall_Pa)} more than thermometer and weather explain. It leaks, is open to the section or is at another temperature, and is not used.`,
  'reference-vessel-rose': (v: { channel: string; rise_Pa: number }, words) =>
    t`${v.channel}: the reference vessel rose ${words.pressure(v.rise_Pa)} more than thermometer and weather explain. It was pumped, leaks in or is at another temperature, and is not used.`,
  'reference-vessel-alone': (v: { channel: string }) =>
    t`${v.channel}: without a thermometer nothing shows that the reference vessel is tight, and a leaking one would hide a leak. It is not used.`,
  'reference-vessel-unread': (v: { channel: string }) =>
    t`${v.channel}: the reference vessel gave too few readings within its span. It is not used.`,

  'liquid-full-overpressure': (
    v: { section: string; medium: string; rise_Pa_per_K: number; room_K: number | null; sunlit: boolean },
    words,
  ) =>
    t`Danger of bursting: ${v.section} is closed and full of ${v.medium}. Each ${words.kelvins(1)} of warming can raise its pressure by up to ${words.pressure(v.rise_Pa_per_K)}; ${
      v.room_K === null
        ? t`its max-pressure is not stated`
        : t`${words.kelvins(v.room_K)} of warming ${v.sunlit ? t`is enough to exceed` : t`would exceed`} its max-pressure`
    }. Fit a relief valve or leave an outlet open, keep it out of the sun, and open it as soon as the hold ends.`,
  'liquid-temperature-moved': (v: OfSection) =>
    t`${v.section}: temperature changed the pressure by more than half the allowance, and in a full line the correction is not exact. Hold again when the temperature is steadier.`,
  'liquid-suction': (v: OfSection) =>
    t`${v.section}: fuel under suction releases dissolved air, and boils when the vacuum is deep or the day is warm. Both raise the pressure as a leak does. If it does not pass, drain and purge it, and hold it again with dry gas.`,
  'liquid-stiffness-unknown': (v: OfSection) =>
    t`${v.section}: the pressure change per millilitre is not known well enough. Inject a known volume with a syringe while it settles, and mark it: mark,kind=stroke volume_mL=0.5`,

  'over-pressure': (v: { section: string; of: 'pressure' | 'vacuum'; limit_Pa: number }, words) =>
    t`${v.section} is over its limit of ${words.pressure(v.limit_Pa)}${v.of === 'vacuum' ? t` below the atmosphere` : ''}: stop pumping and vent now.`,
  'ramp-too-fast': (v: { section: string; isBelow: boolean; per_min_Pa: number; most_Pa: number }, words) =>
    t`${v.section} ${v.isBelow ? t`is drawn down` : t`rises`} by ${words.pressure(v.per_min_Pa)} a minute; a tank takes ${words.pressure(v.most_Pa)} a minute at most. Pump more slowly.`,
  'pressure-fell': (v: { section: string; from_Pa: number; to_Pa: number }, words) =>
    t`${v.section} went from ${words.pressure(v.from_Pa)} to ${words.pressure(v.to_Pa)} at once: look at the bench and say why.`,
} satisfies Record<string, (values: never, words: FigureWords) => string>

/** Recommendations when more time does not help. */
const helps = {
  thermometer: t`a thermometer on the section`,
  'steady-gas': t`a steadier temperature (shade, closed doors, a longer settle), a second thermometer, or a closed vessel of the same kind beside it`,
  'steady-liquid': t`a steadier temperature (shade, closed doors, a longer settle), or a second thermometer`,
  barometer: t`a barometer`,
  volume: t`a measured volume (a known injection)`,
  stretch: t`a known stretch of the section`,
  stroke: t`a known volume injected and marked while it settles`,
  'fine-gauge': t`a gauge with finer steps`,
} as const
export type Help = keyof typeof helps

export type ReasonCode = keyof typeof phrases
/** The values that a reason of this code needs: SI, named. */
export type ValuesOf<C extends ReasonCode> =
  Parameters<(typeof phrases)[C]> extends [] ? Record<string, never> : Parameters<(typeof phrases)[C]>[0]
