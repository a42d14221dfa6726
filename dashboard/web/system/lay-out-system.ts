import dagre from '@dagrejs/dagre'
import type { System } from '#analysis/model/system.ts'

interface Point {
  readonly x: number
  readonly y: number
}

interface Size {
  readonly width: number
  readonly height: number
}

export interface SectionBox extends Point, Size {
  readonly id: string
  /** Fittings per row. */
  readonly across: number
}

interface Pipe {
  readonly from: string
  readonly to: string
  readonly points: readonly Point[]
}

interface SystemLayout extends Size {
  readonly sections: readonly SectionBox[]
  readonly valves: readonly (Point & { readonly id: string })[]
  readonly pipes: readonly Pipe[]
}

/** Height of a row of fittings: mark, id and leak probability. */
export const ROW_REM = 3.6
const CELL_REM = 3.5

/** Drawn letters of an id; its label and the ledger have the whole id. */
const LONGEST_ID = 16
export const shortId = (id: string): string =>
  id.length > LONGEST_ID ? `${id.slice(0, LONGEST_ID - 1)}…` : id

/**
 * Places sections and valves in layers from the tanks to the engine; all lengths in units of `rem`.
 *
 * @param most fittings per row of a section
 */
export function layOutSystem(
  system: System,
  rem: number,
  direction: 'LR' | 'TB',
  most = direction === 'LR' ? 3 : 5,
): SystemLayout {
  const graph = new dagre.graphlib.Graph()
  graph.setGraph({
    rankdir: direction,
    nodesep: rem * 1.4,
    ranksep: rem * (direction === 'LR' ? 1.9 : 0.4),
    marginx: rem * 0.5,
    marginy: rem * 0.5,
  })
  graph.setDefaultEdgeLabel(() => ({}))
  const across = new Map<string, number>()
  // Sections without a valve to the rest, such as the rig, are below it, which keeps the drawing narrow.
  const joined = new Set(system.valves.flatMap((one) => one.between))
  const apart: (Size & { id: string })[] = []
  for (const section of system.sections) {
    const own = system.fittings.filter((one) => one.section === section.id)
    const count = own.length
    // Long ids need wider cells, and so fewer a row, to stay apart.
    const cell =
      rem * Math.max(CELL_REM, ...own.map((one) => 0.7 + 0.52 * Math.min(one.id.length, LONGEST_ID)))
    const columns = Math.max(1, Math.min(count, Math.floor((most * CELL_REM * rem) / cell)))
    across.set(section.id, columns)
    const rows = Math.ceil(count / columns)
    const titleWidth = rem * (1.6 + 0.62 * Math.max(section.id.length, 12))
    const size = {
      width: Math.max(titleWidth, columns * cell + rem * 1.4),
      height: rem * 3 + rows * rem * ROW_REM,
    }
    if (joined.has(section.id)) graph.setNode(`s:${section.id}`, size)
    else apart.push({ id: section.id, ...size })
  }
  for (const valve of system.valves) {
    graph.setNode(`v:${valve.id}`, { width: rem * 4.6, height: rem * (direction === 'LR' ? 3.6 : 2.6) })
    const [from, to] = valve.between
    if (graph.hasNode(`s:${from}`)) graph.setEdge(`s:${from}`, `v:${valve.id}`)
    if (to !== undefined && graph.hasNode(`s:${to}`)) graph.setEdge(`v:${valve.id}`, `s:${to}`)
  }
  dagre.layout(graph)
  const { width, height } = graph.graph() as Size
  // Without a joined section dagre reports no finite size.
  const below = placeBelow(apart, Number.isFinite(width) ? { width, height } : { width: 0, height: 0 }, rem)
  /** Pipes reach the center of a valve, under its disc. */
  const center = (name: string): Point[] => (name.startsWith('v:') ? [graph.node(name) as Point] : [])
  return {
    width: below.width,
    height: below.height,
    sections: system.sections.map(({ id }) => {
      const node = graph.node(`s:${id}`) as (Point & Size) | undefined
      const place = node && { ...sizeOf(node), x: node.x - node.width / 2, y: node.y - node.height / 2 }
      return { id, across: across.get(id)!, ...(place ?? below.places.get(id)!) }
    }),
    valves: system.valves.map(({ id }) => ({ id, ...pointOf(graph.node(`v:${id}`) as Point) })),
    pipes: graph.edges().map((edge) => {
      const { points } = graph.edge(edge) as { points: Point[] }
      return { from: edge.v, to: edge.w, points: [...center(edge.v), ...points, ...center(edge.w)] }
    }),
  }
}

const pointOf = ({ x, y }: Point): Point => ({ x, y })
const sizeOf = ({ width, height }: Size): Size => ({ width, height })

/** Rows under a drawing, no wider than it if they fit. */
function placeBelow(
  sections: readonly (Size & { readonly id: string })[],
  drawing: Size,
  rem: number,
): Size & { readonly places: ReadonlyMap<string, Point & Size> } {
  const places = new Map<string, Point & Size>()
  let { width } = drawing
  let top = drawing.height + (drawing.height > 0 ? rem : rem * 0.5)
  let x = rem * 0.5
  let rowHeight = 0
  for (const section of sections) {
    if (x > rem && x + section.width + rem * 0.5 > width) {
      top += rowHeight + rem
      x = rem * 0.5
      rowHeight = 0
    }
    places.set(section.id, { x, y: top, ...sizeOf(section) })
    rowHeight = Math.max(rowHeight, section.height)
    x += section.width + rem
    width = Math.max(width, x - rem * 0.5)
  }
  const height = sections.length === 0 ? drawing.height : top + rowHeight + rem * 0.5
  return { width, height, places }
}
