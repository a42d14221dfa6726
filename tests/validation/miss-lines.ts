import type { Trial } from './score.ts'

/** One line for each hold whose interval misses the truth or whose verdict is wrong or void. */
export function missLines(trials: readonly Trial[]): string[] {
  return trials.flatMap((trial) => {
    const { drop, mol, verdict, leakOverAllowance: leak, truthDropPa, truthMolPerS } = trial
    const wrong = (verdict === 'pass' && leak >= 1) || (verdict === 'fail' && leak < 1) || verdict === 'void'
    const dropOutside = !drop || truthDropPa < drop.low || truthDropPa > drop.high
    const molOutside = !mol || truthMolPerS < mol.low || truthMolPerS > mol.high
    if (!wrong && !dropOutside && !molOutside) return []
    const said = drop
      ? `${drop.value.toFixed(1)} (${drop.low.toFixed(1)} to ${drop.high.toFixed(1)})`
      : 'nothing'
    return [
      `${trial.situation} ${trial.kind} seed ${trial.seed} leak ${leak} ×: ${verdict}, drop ${said} Pa, ` +
        `truth ${truthDropPa.toFixed(1)} Pa${molOutside ? ', mol/s outside' : ''}; ${trial.reasons.join(', ')}`,
    ]
  })
}
