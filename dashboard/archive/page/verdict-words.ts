import type { HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import { duration } from '#analysis/reasons/figures.ts'

export const verdictTitles: Readonly<Record<Verdict, string>> = {
  pass: 'Pass',
  fail: 'Fail',
  undecided: 'Undecided',
  void: 'Void',
}

/** The verdict as a sentence that a person can act on. */
export function verdictSentence(result: HoldResult): string {
  const what = `${result.sections.length > 1 ? 'sections' : 'section'} ${listWords(result.sections)}`
  const begin = what.charAt(0).toUpperCase() + what.slice(1)
  const leaks = result.sections.length > 1 ? 'leak' : 'leaks'
  switch (result.verdict) {
    case 'pass':
      return `${begin} ${leaks} less than the allowance.`
    case 'fail':
      return `${begin} ${leaks} more than the allowance.`
    case 'undecided':
      return result.needs_seconds_more === null
        ? `These data cannot tell whether ${what} ${leaks} more than the allowance.`
        : `These data cannot tell yet; about ${duration(result.needs_seconds_more)} more of the same hold would.`
    case 'void':
      return `This hold proves nothing about ${what}.`
  }
}

function listWords(words: readonly string[]): string {
  return words.length < 2 ? words.join() : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`
}
