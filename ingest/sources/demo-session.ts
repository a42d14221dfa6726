/** One step of the demo's automatic operator, with its caption. */
export type DemoStep =
  | {
      readonly kind: 'hold'
      readonly hold: string
      /** Fittings checked with soap water after the hold and before the vent; `DemoBench.look` returns the finding. */
      readonly looks: readonly string[]
      readonly says: string
    }
  | {
      readonly kind: 'work'
      readonly fitting: string
      readonly action: 'retighten' | 'reseal'
      readonly torqueNm: number | null
      readonly says: string
    }

/** A morning on the demo floatplane: rig, lines, a leaking flare, its retest, tanks, and a sender gasket. */
export const demoSession: readonly DemoStep[] = [
  { kind: 'hold', hold: 'rig-10psi', looks: [], says: 'The rig alone first: hose, cap and gauge.' },
  {
    kind: 'hold',
    hold: 'feed-lines-10psi',
    looks: ['F11', 'F12', 'F13'],
    says: 'The feed lines, both tank shut-offs and the firewall shut-off closed.',
  },
  {
    kind: 'work',
    fitting: 'F12',
    action: 'retighten',
    torqueNm: 13.6,
    says: 'Soap bubbles at the right selector inlet: vented, then retightened to the table.',
  },
  { kind: 'hold', hold: 'feed-lines-10psi', looks: [], says: 'The feed lines again, as the retest.' },
  { kind: 'hold', hold: 'firewall-forward-10psi', looks: [], says: 'From the firewall to the engine pump.' },
  {
    kind: 'hold',
    hold: 'right-tank-1psi',
    looks: ['F06', 'F07', 'F08'],
    says: 'The right tank, slowly, to 1 psi.',
  },
  {
    kind: 'work',
    fitting: 'F07',
    action: 'reseal',
    torqueNm: null,
    says: 'The gasket of the right quantity sender bubbles: vented, removed and resealed.',
  },
  { kind: 'hold', hold: 'right-tank-1psi', looks: [], says: 'The right tank again.' },
  { kind: 'hold', hold: 'left-tank-1psi', looks: [], says: 'The left tank.' },
]
