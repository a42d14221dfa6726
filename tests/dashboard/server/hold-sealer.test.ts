import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { HoldResult, Verdict } from '#analysis/model/hold-result.ts'
import type { HoldNote } from '#dashboard/server/session/hold-note.ts'
import { HoldSealer } from '#dashboard/server/session/hold-sealer.ts'
import type { SessionCore } from '#dashboard/server/session/session-core.ts'

const note = (begun: HoldNote['begun']): HoldNote => ({
  stillhold_running: 1,
  hold: 'feed',
  stage: 'hold',
  begun,
  recording: 'session.lp',
  systemText: 'name: plane',
  operator: null,
  witness: null,
  stateSheet: [],
  retests: null,
})
const vented = note({ hold: '1', vent: '2' })

/** A session whose analysis is given; what it seals and does is kept. */
function session(
  analyze: () => Promise<{ readonly result: HoldResult }[]>,
  keep: Partial<SessionCore['note']> = {},
  text = 'name: plane',
) {
  const sealed: HoldResult[] = []
  const drafts: object[] = []
  const said: string[] = []
  const setAside: HoldNote[] = []
  const core = {
    archive: {
      seal(draft: { readonly result: HoldResult }) {
        sealed.push(draft.result)
        drafts.push(draft)
        return { id: '0001-feed' }
      },
    },
    recording: { folder: '/session', sync() {} },
    systemFile: { system: { name: 'plane' }, text },
    thread: { ask: analyze },
    note: { clear() {}, setAside: (of: HoldNote) => setAside.push(of), ...keep },
    log: (line: string) => said.push(line),
    changed() {},
  }
  return {
    sealer: new HoldSealer(core as unknown as SessionCore, () => false),
    sealed,
    drafts,
    said,
    setAside,
  }
}

const result = (verdict: Verdict) =>
  ({ hold: 'feed', verdict, reasons: [{ code: 'slow', message: 'slow' }] }) as unknown as HoldResult

describe('HoldSealer seals what the analysis says', () => {
  it.each([
    ['a pass with its vent', 'pass', vented, null, 'pass', ['slow']],
    ['a pass that was aborted after its vent', 'pass', vented, 'aborted', 'void', ['interrupted', 'slow']],
    ['a pass whose vent was not seen', 'pass', note({ hold: '1' }), null, 'void', ['interrupted', 'slow']],
    [
      'a pass aborted before its vent',
      'pass',
      note({ hold: '1' }),
      'aborted',
      'void',
      ['interrupted', 'slow'],
    ],
    ['a fail that was aborted', 'fail', note({ hold: '1' }), 'aborted', 'fail', ['slow']],
  ] as const)('%s: an aborted hold never passes', async (_, told, of, remark, verdict, codes) => {
    const { sealer, sealed } = session(async () => [{ result: result(told) }])
    sealer.add(of, remark)
    await sealer.close()
    expect(sealed.map((one) => one.verdict)).toEqual([verdict])
    expect(sealed[0].reasons.map(({ code }) => code)).toEqual(codes)
    expect(sealer.last?.result).toBe(sealed[0])
    if (verdict === 'void')
      expect(sealed[0].reasons[0].message).toBe(
        remark ?? 'the hold ended without a vent: the gauge was not seen to answer',
      )
  })
})

const refused = () => {
  throw new Error('the disk is full')
}

describe('HoldSealer', () => {
  it('sets a hold aside that its recording does not show, and tells where not even that is possible', async () => {
    const message = 'session.lp shows no hold feed: look at it with stillhold analyze'
    const other = async () => [{ result: { ...result('pass'), hold: 'other' } }]
    const one = session(other)
    one.sealer.add(vented, null)
    await one.sealer.close()
    expect([one.sealed, one.setAside, one.sealer.setAside, one.said]).toEqual([
      ...[[], [vented], message, [message]],
    ])
    const full = session(other, { setAside: refused })
    full.sealer.add(vented, null)
    await vi.waitFor(() => expect(full.said).toHaveLength(1))
    expect([full.sealer.trouble, full.sealer.setAside]).toEqual([
      ...[`${message}; nor can it be set aside: the disk is full`, null],
    ])
  })

  it('seals under the name of the system file that the hold began with, and tells of a note that stays', async () => {
    for (const [systemText, name] of [
      ['name: plane', 'plane'],
      ['stillhold: 1\nname:  older plane\n', 'older plane'],
      ['stillhold: 1\n', 'unnamed'],
    ]) {
      const { sealer, drafts, said } = session(async () => [{ result: result('fail') }], { clear: refused })
      sealer.add({ ...vented, systemText, operator: 'A. B.', witness: 'C. D.', retests: '0001-feed' }, 'rain')
      await sealer.close()
      expect(drafts).toEqual([
        {
          ...{ kind: 'hold', recordingPath: '/session/session.lp', systemText, systemName: name },
          ...{ result: result('fail'), operator: 'A. B.', witness: 'C. D.', photos: [], note: 'rain' },
          ...{ corrects: null, retests: '0001-feed', origins: null },
        },
      ])
      expect(said).toEqual([
        '0001-feed: fail',
        'the note of the sealed hold cannot be removed: the disk is full',
      ])
    }
  })
})

describe('HoldSealer tries an analysis that fails', () => {
  beforeEach(() => {
    vi.useFakeTimers()
  })
  afterEach(() => {
    vi.useRealTimers()
  })
  const failing = (times: number) => {
    let asked = 0
    return session(async () => {
      if (++asked <= times) throw new Error('out of memory')
      return [{ result: result('fail') }]
    })
  }
  /** Lets the wait before a retry pass, as often as given, and asks again each time. */
  const retry = async (sealer: HoldSealer, times: number) => {
    for (let i = 0; i < times; i++) {
      await vi.runAllTimersAsync()
      sealer.next()
    }
    await vi.runAllTimersAsync()
  }

  it('three times, then sets the hold aside (docs/reliability.md)', async () => {
    const { sealer, sealed, setAside } = failing(3)
    sealer.add(vented, null)
    await retry(sealer, 1)
    expect([setAside.length, sealer.busy, sealer.trouble]).toEqual([
      0,
      true,
      'session.lp cannot be analyzed, its hold is not sealed: out of memory',
    ])
    await retry(sealer, 1)
    expect([setAside.length, sealer.busy, sealer.trouble]).toEqual([1, false, null])
    expect(sealer.setAside).toContain('cannot be analyzed')
    expect(sealed).toEqual([])
  })

  it('and seals it where the third attempt succeeds', async () => {
    const { sealer, sealed, setAside } = failing(2)
    sealer.add(vented, null)
    await retry(sealer, 2)
    expect([sealed.length, setAside.length, sealer.setAside, sealer.trouble]).toEqual([1, 0, null, null])
  })
})
