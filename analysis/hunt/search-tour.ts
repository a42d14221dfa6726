import { groupBy } from '#analysis/model/group-by.ts'
import type { System } from '#analysis/model/system.ts'
import type { Present } from './leak-problem.ts'
import { lookDetection } from './look-likelihood.ts'
import { type PathName, sectionOf } from './problem-of-evidence.ts'

/** Time to reach, wet and watch a joint, and the extra for a change of section, [min]. Own figures. */
export const lookMin = 1
const walkMin = 1
/** Time to pump up if nothing is under pressure, [min]. Own figure. */
export const pumpUpMin = 3
/** Cost of a search that finds nothing: work, blanking off, holding again, [min]. Own figure. */
export const unfoundMin = 30
/** Factor on the detection of a second look at an untouched joint. */
const again = 0.5

/** One stop of a tour: a joint, or the hose, seams and walls of a section. */
export interface Stop {
  readonly path: number
  readonly section: string
}

/** What the tours depend on: the possible presents, the number of paths, and the looks done at each. */
export interface Suspicion {
  readonly presents: readonly Present[]
  readonly paths: number
  readonly looksDone: (path: number) => number
}

/**
 * Order of looks that finds a leak soonest, the better of two: greedy by probability per minute including walking, or
 * section by section.
 *
 * @returns the stops, the time if nothing is found, and the expected time to the first leak found, including the cost of none
 * found, [min]
 */
export function searchTour(stops: readonly Stop[], suspicion: Suspicion) {
  const { chance } = chancesOfLooks(suspicion)
  const worthwhile = stops
    .filter((s) => chance[s.path] > leastChance)
    .sort((a, b) => chance[b.path] - chance[a.path])
  const [one, other] = [greedy(worthwhile, chance), bySection(worthwhile, chance)].map((order) =>
    walked(order, suspicion),
  )
  return one.expectedMin <= other.expectedMin ? one : other
}

/** Stops worth a first look before a second look at the best one: then the steps are computed again. */
export function stopsBeforeAgain(stops: readonly Stop[], suspicion: Suspicion): Stop[] {
  const { chance, second } = chancesOfLooks(suspicion)
  const least = stops.reduce((most, s) => Math.max(most, second[s.path]), 0)
  return stops.filter((s) => chance[s.path] > least)
}

/** For each path: probability that a look finds it leaking, and that only a second one does. */
function chancesOfLooks({ presents, paths, looksDone }: Suspicion) {
  const chance = new Float64Array(paths)
  const second = new Float64Array(paths)
  for (const { weight, leaks } of presents)
    for (const { path, molPerS } of leaks) {
      const seen = detection(molPerS, looksDone(path))
      chance[path] += weight * seen
      second[path] += weight * (1 - seen) * again * seen
    }
  return { chance, second }
}

function stopMin(stop: Stop, here: string | null): number {
  return lookMin + (here === null || stop.section === here ? 0 : walkMin)
}

function greedy(sorted: readonly Stop[], chance: Float64Array): Stop[] {
  const left = [...sorted]
  const order: Stop[] = []
  while (left.length > 0) {
    const here = order.at(-1)?.section ?? null
    // Sorted by chance, so the best is the first of this section or the first of any other.
    const first = left.findIndex((s) => s.section === here)
    const other = left.findIndex((s) => s.section !== here)
    const rate = (i: number): number => (i < 0 ? -1 : worth(left, i, chance, stopMin(left[i], here)))
    order.push(...left.splice(rate(first) >= rate(other) ? first : other, 1))
  }
  return order
}

function bySection(sorted: readonly Stop[], chance: Float64Array): Stop[] {
  const rate = (list: readonly Stop[]): number =>
    list.reduce((sum, s) => sum + chance[s.path], 0) / (walkMin + list.length * lookMin)
  return [...groupBy(sorted, (stop) => stop.section).values()].sort((a, b) => rate(b) - rate(a)).flat()
}

function walked(stops: readonly Stop[], suspicion: Suspicion) {
  const seenAt = new Float64Array(suspicion.paths)
  let minutes = 0
  stops.forEach((stop, i) => {
    minutes += stopMin(stop, i === 0 ? null : stops[i - 1].section)
    seenAt[stop.path] = minutes
  })
  return { stops, minutes, expectedMin: expectedMin(suspicion, seenAt, minutes) }
}

export type Tour = ReturnType<typeof searchTour>

const leastChance = 1e-4
/** Most joints of a section that are evaluated together for one walk. */
const weighedTogether = 5

/** Probability per minute of a stop, with the next ones of its section if they raise it: one walk serves them all. */
function worth(left: readonly Stop[], at: number, chance: Float64Array, cost: number): number {
  let sum = chance[left[at].path]
  let minutes = cost
  let best = sum / minutes
  for (let i = at + 1, n = 1; i < left.length && n < weighedTogether; i++) {
    if (left[i].section !== left[at].section) continue
    n++
    sum += chance[left[i].path]
    minutes += lookMin
    best = Math.max(best, sum / minutes)
  }
  return best
}

function detection(molPerS: number, looks: number): number {
  return again ** looks * lookDetection(molPerS, true)
}

function expectedMin({ presents, looksDone }: Suspicion, seenAt: Float64Array, whole: number): number {
  let sum = 0
  let total = 0
  for (const { weight, leaks } of presents) {
    if (leaks.length === 0) continue
    const seen = leaks
      .filter((l) => seenAt[l.path] > 0)
      .map((l) => ({ at: seenAt[l.path], chance: detection(l.molPerS, looksDone(l.path)) }))
      .sort((a, b) => a.at - b.at)
    let missed = 1
    let minutes = 0
    for (const { at, chance } of seen) {
      minutes += missed * chance * at
      missed *= 1 - chance
    }
    sum += weight * (minutes + missed * (whole + unfoundMin))
    total += weight
  }
  return total > 0 ? sum / total : 0
}

/** Possible stops of a tour under pressure, in these sections or everywhere: fittings, and the sections' hoses and walls. */
export function stopsWithin(
  system: System,
  names: readonly PathName[],
  sections: readonly string[] = system.sections.map(({ id }) => id),
): Stop[] {
  return names.flatMap((name, path): Stop[] => {
    const section = sectionOf(system, name)
    return section !== null && sections.includes(section) ? [{ path, section }] : []
  })
}
