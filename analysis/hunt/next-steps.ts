import type { System } from '#analysis/model/system.ts'
import type { FigureWords } from '#analysis/reasons/figures.ts'
import { weepAdvice } from './fitting-kinds.ts'
import { expectedInformation, holdOutlook, jointChances, type OutcomeChances } from './hold-outlook.ts'
import { type Isolation, possibleIsolations } from './isolations.ts'
import type { Present } from './leak-problem.ts'
import { lookDetection, lookFalseAlarm } from './look-likelihood.ts'
import type { Posterior } from './posterior.ts'
import { type EvidenceProblem, type PathName, sectionOf } from './problem-of-evidence.ts'
import {
  lookMin,
  pumpUpMin,
  type Stop,
  searchTour,
  stopsBeforeAgain,
  stopsWithin,
  type Tour,
  unfoundMin,
} from './search-tour.ts'

/** Most dry looks at an untouched joint: a third misses the same leaks as the first two. */
const mostDryLooks = 2
/** Number of consecutive looks with bubbles that leads to work. */
const mostBubbles = 2
/** Most holds with a computed search time after them. */
const holdsWeighed = 12
/** Least information of a step that is worth its effort, [bit]. */
const leastBits = 0.01
/** Expected leaks at places with looks left, below which last resorts come first. */
const leastHope = 0.15
/** Probability from which a suspect is worked on. */
export const sure = 0.9

export interface Search {
  readonly system: System
  readonly built: EvidenceProblem
  readonly posterior: Posterior
  readonly presents: readonly Present[]
  /** Consecutive dry looks at each place under pressure since the last work on it. */
  readonly dryLooks: ReadonlyMap<string, number>
  /** True while there is a leak to find; else the steps are for parts never held. */
  readonly isLeakSought: boolean
  /** Consecutive looks that found a leak at each place while a hold failed. */
  readonly seenLeaking: ReadonlyMap<string, number>
  /** Rig in use if not proven alone; null otherwise. */
  readonly unprovenRig: string | null
  readonly figures: FigureWords
}

/** Next steps, the one that finds the leak soonest first; never empty while a leak is sought. */
export function nextSteps(search: Search, most = 5): NextStep[] {
  const isolations = possibleIsolations(search.system)
  const holds = holdSteps(search, isolations)
  const looks = lookSteps(search, isolations)
  const best = [...holds, ...looks].sort(
    (a, b) =>
      (search.isLeakSought ? a.minutes_to_find - b.minutes_to_find : b.bits_per_minute - a.bits_per_minute) ||
      a.fittings.length - b.fittings.length,
  )
  const resorts = search.isLeakSought ? lastResorts(search) : []
  const certain = likeliest(search, 'fitting').filter(({ leaking }) => leaking >= sure)
  const found = [
    ...firstTheSeen(search, looks),
    ...certain.map(({ id, leaking }) => workStep(search.system, id, leaking)),
  ]
  const first = search.seenLeaking.size > 0 ? found : [...rigFirst(search, holds), ...found]
  // Without places left to look at, holds that repeat what is known would go on for ever.
  const early = isLookedOut(search) ? resorts.slice(0, 1) : []
  const steps = unique([...first, ...early, ...best]).slice(0, most)
  // Offer at least one hold and one look: soap or time for a hold may be missing.
  for (const kind of [holds, looks]) {
    const [one] = kind.filter((s) => best.includes(s)).sort((a, b) => best.indexOf(a) - best.indexOf(b))
    if (one && !steps.includes(one)) steps.splice(Math.min(most - 1, steps.length), 1, one)
  }
  return unique([...steps, ...resorts]).slice(0, most)
}

/** True when most of the suspicion is on places that were looked at twice. */
function isLookedOut({ built, posterior, dryLooks, isLeakSought }: Search): boolean {
  const hope = built.names.reduce(
    (sum, { what, id }, p) =>
      what === 'valve' || (dryLooks.get(id) ?? 0) >= mostDryLooks ? sum : sum + posterior.paths[p].leaking,
    0,
  )
  return isLeakSought && hope < leastHope
}

function unique(steps: readonly NextStep[]): NextStep[] {
  return steps.filter((s, i) => steps.findIndex((other) => other.title === s.title) === i)
}

function holdSteps(search: Search, isolations: readonly Isolation[]): NextStep[] {
  const { built, presents } = search
  const outlook = holdOutlook(built)
  const alike = alikeToHolds(search)
  return isolations
    .filter((isolation) => !isolation.measured.every(outlook.isKnown))
    .map((isolation) => {
      const observed = outlook.observations(isolation.measured, alike)
      const leaks = 1 - alike.reduce((sum, p, i) => sum + p.weight * jointChances(observed[i])[0], 0)
      return { isolation, leaks, bits: expectedInformation(alike, observed) }
    })
    .filter(({ bits }) => bits >= leastBits)
    .sort((a, b) => b.bits / b.isolation.seconds - a.bits / a.isolation.seconds)
    .slice(0, holdsWeighed)
    .map(({ isolation, leaks, bits }) => {
      const minutes = isolation.seconds / 60
      const observed = outlook.observations(isolation.measured, presents)
      return step('hold', holdTitle(isolation, search.figures), isolation, {
        fittings: isolation.covered,
        bits,
        minutes,
        minutesToFind: minutes + minutesAfter(search, observed),
        why: holdReason(search, isolation, leaks),
      })
    })
}

interface StepDetails {
  readonly fittings: readonly string[]
  readonly places?: readonly string[]
  readonly bits?: number
  readonly minutes: number
  readonly minutesToFind?: number
  readonly why: string
}

/** @param kind `work` includes blanking off and cleaning */
function step(
  kind: 'hold' | 'look' | 'work',
  title: string,
  { hold, sections, shut }: Pick<Isolation, 'hold' | 'sections' | 'shut'>,
  { fittings, places = [], bits = 0, minutes, minutesToFind = minutes, why }: StepDetails,
) {
  return {
    kind,
    /** One line in the imperative: what to do. */
    title,
    /** Hold of the system file for this step or look; null for an isolation the file does not name. */
    hold,
    /** Pressurised sections, and valves to shut. */
    sections,
    shut,
    /** Fittings that the step tests; for a look in the order that finds the leak soonest. */
    fittings,
    /** Places to look at in that order: fittings, and sections for their hoses, seams and walls. Empty for other steps. */
    places,
    /** Expected information about which fittings leak, [bit]. */
    bits,
    /** Full duration, if nothing is found sooner. */
    minutes,
    /** Expected time until a leak is found, if the search begins with this step. */
    minutes_to_find: minutesToFind,
    bits_per_minute: bits / minutes,
    /** One sentence. */
    why,
  }
}

export type NextStep = Readonly<ReturnType<typeof step>>

/** Presents merged by section: no hold distinguishes the joints of a section. */
function alikeToHolds({ system, built, presents }: Search): Present[] {
  const placeOf = built.names.map((name) => sectionOf(system, name) ?? `valve ${name.id}`)
  const alike = new Map<string, Present>()
  for (const { weight, leaks } of presents) {
    const key = leaks
      .map(({ path, molPerS }) => `${placeOf[path]} ${molPerS.toPrecision(6)}`)
      .sort()
      .join()
    alike.set(key, { leaks, weight: weight + (alike.get(key)?.weight ?? 0) })
  }
  return [...alike.values()]
}

/** Expected minutes of looks after a hold, over its possible outcomes. */
function minutesAfter(search: Search, observed: readonly (readonly OutcomeChances[])[]): number {
  const { system, built, presents } = search
  const stops = stopsWithin(system, built.names)
  const joint = observed.map(jointChances)
  let minutes = 0
  for (let o = 0; o < (joint[0]?.length ?? 0); o++) {
    const chance = presents.reduce((sum, p, i) => sum + p.weight * joint[i][o], 0)
    if (chance < 1e-3) continue
    const then = presents.flatMap((p, i) =>
      joint[i][o] > 1e-4 ? [{ leaks: p.leaks, weight: (p.weight * joint[i][o]) / chance }] : [],
    )
    minutes += chance * tourOf(search, stops, then).expectedMin
  }
  return minutes
}

function tourOf(search: Search, stops: readonly Stop[], presents: readonly Present[]): Tour {
  const suspicion = { presents, paths: search.built.names.length, looksDone: looksOf(search) }
  return searchTour(stopsBeforeAgain(stops, suspicion), suspicion)
}

function looksOf({ built, dryLooks }: Search): (path: number) => number {
  return (path) => dryLooks.get(built.names[path].id) ?? 0
}

/** The best two tours, one for each set-up that puts suspects under pressure. */
function lookSteps(search: Search, isolations: readonly Isolation[]): NextStep[] {
  const { system, built, presents } = search
  const looks = looksOf(search)
  const wholes = isolations.filter(
    (i, _, all) =>
      i.hold !== null ||
      !all.some((o) => o !== i && i.sections.every((s) => o.sections.includes(s)) && o.hold !== null),
  )
  return wholes
    .flatMap((isolation) => {
      const within = stopsWithin(system, built.names, isolation.sections)
      const stops = within.filter(({ path }) => looks(path) < mostDryLooks)
      const tour = tourOf(search, stops, presents)
      return tour.stops.length === 0 ? [] : [lookStep(search, isolation, tour)]
    })
    .filter((s) => s.bits >= leastBits)
    .sort((a, b) => a.minutes_to_find - b.minutes_to_find || a.minutes - b.minutes)
    .filter((s, i, all) => all.findIndex((o) => o.fittings.join() === s.fittings.join()) === i)
    .slice(0, 2)
}

/** Limits on presents and looks in computing the information of a tour. */
const presentsOfTour = 200
const looksOfTour = 6

function lookStep(search: Search, isolation: Isolation, { stops, minutes, expectedMin }: Tour): NextStep {
  const { built, presents, posterior } = search
  const { names } = built
  const words = stops.map(({ path }) => placeWords(names[path]))
  const chances = stops.map(({ path }, i) => `${words[i]} ${percent(posterior.paths[path].leaking)}`)
  const ids = stops.map((s) => names[s.path]).flatMap((n) => (n.what === 'fitting' ? [n.id] : []))
  const weighed = presents.slice(0, presentsOfTour)
  const observed = weighed.map(({ leaks }) =>
    stops.slice(0, looksOfTour).map(({ path }): OutcomeChances => {
      const rate = leaks.find((l) => l.path === path)?.molPerS ?? 0
      const fresh = search.dryLooks.has(names[path].id) ? 0.5 : 1
      const shows = rate > 0 ? fresh * lookDetection(rate, true) : 0
      const found = shows + (1 - shows) * lookFalseAlarm
      return [1 - found, found]
    }),
  )
  const total = weighed.reduce((sum, p) => sum + p.weight, 0)
  const shares = weighed.map(({ weight }) => ({ weight: weight / total }))
  const bits = expectedInformation(shares, observed)
  const where = isolation.hold ?? isolation.sections.join(' + ')
  const title = `Look at ${fewListed(words)} with soap solution while ${where} is under pressure`
  return step('look', title, isolation, {
    fittings: ids,
    places: stops.map((s) => names[s.path].id),
    bits,
    minutes: pumpUpMin + minutes,
    minutesToFind: pumpUpMin + expectedMin,
    why: `In this order, and stop at the first that bubbles: ${chances.slice(0, 8).join(', ')}${stops.length > 8 ? ', …' : ''}.`,
  })
}

function fewListed(words: readonly string[]): string {
  if (words.length <= 4) return listed(words)
  return `${words.slice(0, 3).join(', ')} and ${words.length - 3} more`
}

function placeWords({ what, id }: PathName): string {
  return what === 'section' ? `hose, seams and walls of ${id}` : id
}

function rigFirst({ unprovenRig, isLeakSought }: Search, holds: readonly NextStep[]): NextStep[] {
  if (unprovenRig === null || !isLeakSought) return []
  return holds
    .filter((s) => s.sections.length === 1 && s.sections[0] === unprovenRig)
    .map((s) => ({
      ...s,
      why: 'The rig was not proven alone: the leak may be its own hose, caps or gauge. Nothing else is as quick to rule out.',
    }))
}

/**
 * A place that bubbled in a failed hold comes before all inference: work on it if it is sure, else a second look, because
 * three looks in a hundred find bubbles at a tight joint.
 */
function firstTheSeen(search: Search, looks: readonly NextStep[]): NextStep[] {
  const { system, seenLeaking } = search
  return likeliest(search, 'fitting')
    .filter(({ id }) => seenLeaking.has(id))
    .map(({ id, leaking }) => {
      const look = looks.find((s) => s.fittings.includes(id))
      if (look === undefined || leaking >= sure || seenLeaking.get(id)! >= mostBubbles)
        return workStep(system, id, leaking, 'A leak was seen at it while the hold failed.')
      const where = look.hold ?? look.sections.join(' + ')
      const title = `Wipe ${id} and look at it again with soap solution while ${where} is under pressure`
      return step('look', title, look, {
        fittings: [id],
        places: [id],
        bits: look.bits,
        minutes: pumpUpMin + lookMin,
        why: `A leak was seen at it while the hold failed (${percent(leaking)} likely). If it bubbles again, work on it.`,
      })
    })
}

function likeliest(
  { built, posterior }: Search,
  what: PathName['what'],
): { readonly id: string; readonly leaking: number }[] {
  return built.names
    .flatMap((name, p) => (name.what === what ? [{ id: name.id, leaking: posterior.paths[p].leaking }] : []))
    .sort((a, b) => b.leaking - a.leaking)
}

/** Work on a fitting, then the same hold again. */
function workStep(
  system: System,
  id: string,
  leaking: number,
  because = `It leaks, ${percent(leaking)} likely.`,
): NextStep {
  const fitting = system.fittings.find((f) => f.id === id)!
  const again = system.holds.find((h) => h.sections.includes(fitting.section))
  const bench = { hold: again?.id ?? null, sections: [fitting.section], shut: again?.shut ?? [] }
  return step('work', `Work on ${id}, mark it, and hold ${again?.id ?? fitting.section} again`, bench, {
    fittings: [id],
    minutes: workMin + (again ? (again.settleS + again.holdS) / 60 + pumpUpMin : 0),
    why: `${because} ${weepAdvice(fitting)}`,
  })
}

/** Time to take a joint apart and remake it, [min]. Own figure. */
const workMin = 15
/** Probability from which work on the likeliest comes before cleaning and looking again. */
const leastForWork = 0.5

/** Steps when looks and holds give no more information: the walls, a blank, work on the likeliest. */
function lastResorts(search: Search): NextStep[] {
  const { system } = search
  const likely = (what: PathName['what']) => likeliest(search, what).filter((x) => x.leaking > 0.005)
  const [fitting] = likely('fitting')
  const [valve] = likely('valve')
  const section = fitting
    ? system.fittings.find((f) => f.id === fitting.id)!.section
    : likely('section')[0]?.id
  const steps: NextStep[] = []
  const add = (
    title: string,
    sections: readonly string[],
    rest: Pick<StepDetails, 'fittings' | 'places' | 'why'>,
  ): void => {
    const cost = { minutes: workMin, minutesToFind: workMin + unfoundMin }
    steps.push(step('work', title, { hold: null, sections, shut: [] }, { ...rest, ...cost }))
  }
  const work = fitting ? workStep(system, fitting.id, fitting.leaking) : null
  if (work && fitting.leaking >= leastForWork) steps.push(work)
  if (section !== undefined) {
    const fittings = system.fittings.filter((f) => f.section === section).map((f) => f.id)
    const why = 'Dirt, oil and old solution hide bubbles; a small leak needs a minute to show.'
    const again = { fittings, places: [...fittings, section], why }
    const at = 'at its hoses, seams and caps as well'
    add(`Clean and dry all of ${section}, then look again with fresh solution, ${at}`, [section], again)
    const middle = Math.floor(fittings.length / 2)
    const halves = `between ${fittings[middle - 1]} and ${fittings[middle]} and hold each part alone`
    const because = 'A blank halves the suspects where no valve does. Mark what was opened as work.'
    if (middle > 0) add(`Blank off ${section} ${halves}`, [section], { fittings, why: because })
  }
  if (valve) {
    const between = system.valves.find((v) => v.id === valve.id)?.between ?? []
    const why = `The valve may pass, ${percent(valve.leaking)}: with a blank behind it the loss stops if it does.`
    add(`Blank off behind valve ${valve.id} and hold again`, between, { fittings: [], why })
  }
  if (work && !steps.includes(work)) steps.push(work)
  return steps
}

function holdTitle(isolation: Isolation, figures: FigureWords): string {
  if (isolation.hold !== null) return `Hold ${isolation.hold}`
  const shut = isolation.shut.length > 0 ? ` with ${listed(isolation.shut)} shut` : ''
  const apart = isolation.measured.length > 1 ? ' at once, each by its own gauge' : ''
  const pressure = isolation.pressurePa === null ? '' : `, at ${figures.pressure(isolation.pressurePa)}`
  return `Hold ${isolation.sections.join(' + ')}${apart}${shut}${pressure}`
}

function holdReason({ system, built, posterior }: Search, isolation: Isolation, leaks: number): string {
  const inside = isolation.covered.length
  const suspects = (ids: readonly string[]): number =>
    built.names.filter(
      (n, p) => n.what === 'fitting' && ids.includes(n.id) && posterior.paths[p].leaking > 0.005,
    ).length
  const outside = suspects(system.fittings.map((f) => f.id)) - suspects(isolation.covered)
  const joints = `${inside} fitting${inside === 1 ? '' : 's'}`
  if (outside === 0)
    return `It covers everything still in question at once; a leak is ${percent(leaks)} likely to show.`
  return `It splits the suspects: ${percent(leaks)} likely to show a leak among its ${joints}; if it is tight the search continues among ${outside} other${outside === 1 ? '' : 's'}.`
}

function percent(p: number): string {
  return p < 0.01 ? 'under 1 %' : p > 0.99 && p < 1 ? 'over 99 %' : `${Math.round(100 * p)} %`
}

function listed(items: readonly string[]): string {
  return items.length < 2 ? items.join('') : `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`
}
