import { describe, expect, test } from 'vitest'
import { layOutSystem } from '#dashboard/web/system/lay-out-system.ts'
import { standInSystem } from '#tests/browser/stand-in-system.ts'

describe('layOutSystem', () => {
  test('places every section and valve once, tanks before engine, and no two sections overlap', () => {
    for (const direction of ['LR', 'TB'] as const) {
      const { sections, valves, pipes } = layOutSystem(standInSystem, 16, direction)
      expect(sections.map((one) => one.id)).toEqual(standInSystem.sections.map((one) => one.id))
      expect(valves).toHaveLength(standInSystem.valves.length)
      expect(pipes).toHaveLength(standInSystem.valves.flatMap((one) => one.between).length)
      const along = (id: string): number => {
        const place = sections.find((one) => one.id === id)!
        return direction === 'LR' ? place.x : place.y
      }
      expect(along('left-tank')).toBeLessThan(along('left-feed'))
      expect(along('left-feed')).toBeLessThan(along('sump-line'))
      expect(along('sump-line')).toBeLessThan(along('firewall-forward'))
      for (const a of sections) {
        for (const b of sections) {
          if (a.id >= b.id) continue
          const apart =
            a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y
          expect(apart, `${a.id} and ${b.id}`).toBe(true)
        }
      }
    }
  })

  test('gives long ids the room they need, in fewer columns', () => {
    const long = standInSystem.fittings.map((one) => ({ ...one, id: `FIT-${one.id}-LONG` }))
    for (const direction of ['LR', 'TB'] as const) {
      const places = layOutSystem({ ...standInSystem, fittings: long }, 16, direction).sections
      for (const { id, width, across } of places) {
        const own = long.filter((one) => one.section === id)
        if (own.length === 0) continue
        // A letter of the small step of the type scale is some 0.5 rem wide.
        const widest = 0.5 * 16 * Math.max(...own.map((one) => one.id.length))
        expect((width - 16) / across, `${direction} ${id}`).toBeGreaterThan(widest)
      }
    }
  })

  test('draws a valve whose section the file does not name, rather than failing', () => {
    const broken = {
      ...standInSystem,
      valves: [{ id: 'V9', between: ['nowhere', 'left-feed'], name: 'lost', kind: null }],
    }
    expect(layOutSystem(broken, 16, 'LR').valves).toMatchObject([{ id: 'V9' }])
  })

  test('stands a section that no valve joins below the rest, no wider than it', () => {
    const rig = { ...standInSystem.sections[0], id: 'rig' }
    const withRig = { ...standInSystem, sections: [rig, ...standInSystem.sections] }
    for (const direction of ['LR', 'TB'] as const) {
      const before = layOutSystem(standInSystem, 16, direction)
      const { sections, width, height } = layOutSystem(withRig, 16, direction)
      const [place, ...others] = sections
      expect(place.id).toBe('rig')
      for (const other of others) expect(place.y).toBeGreaterThanOrEqual(other.y + other.height)
      expect(width).toBe(before.width)
      expect(height).toBeGreaterThanOrEqual(place.y + place.height)
    }
    const alone = layOutSystem({ ...standInSystem, sections: [rig], valves: [] }, 16, 'LR')
    expect(alone.width).toBeGreaterThanOrEqual(alone.sections[0].x + alone.sections[0].width)
    expect(alone.height).toBeGreaterThanOrEqual(alone.sections[0].y + alone.sections[0].height)
  })
})
