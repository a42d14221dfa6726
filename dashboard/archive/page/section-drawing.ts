import type { Fitting, Section, System, Valve } from '#analysis/model/system.ts'
import { ink, page, type Sheet } from './sheet.ts'

export interface SectionDrawing {
  readonly system: System
  readonly sections: readonly string[]
  /** Valves shut for the hold. */
  readonly shut: readonly string[]
  /** Probability that a fitting leaks; those above one half are filled. */
  readonly suspects: ReadonlyMap<string, number>
  readonly accent: string
}

/** A section above this volume in litres is drawn as a vessel unless the file says it is a line. */
const vesselM3 = 0.005
const perRow = 14
const endWidth = 96
const rowHeight = 44

/** Draws each section under test with its fittings and boundary valves, at the cursor. */
export function drawSections(sheet: Sheet, drawing: SectionDrawing): void {
  for (const id of drawing.sections) {
    const section = drawing.system.sections.find((each) => each.id === id)
    if (section) drawSection(sheet, drawing, section)
  }
}

function drawSection(sheet: Sheet, drawing: SectionDrawing, section: Section): void {
  const fittings = drawing.system.fittings.filter((fitting) => fitting.section === section.id)
  const valves = drawing.system.valves.filter((valve) => valve.between.includes(section.id))
  const [before, after] = splitEnds(valves)
  const rows: Fitting[][] = []
  for (let i = 0; i < fittings.length; i += perRow) rows.push(fittings.slice(i, i + perRow))
  if (rows.length === 0) rows.push([])
  const isVessel = section.kind === 'tank' || (section.kind === null && section.volumeM3 > vesselM3)
  const bodyHeight = isVessel ? 34 : 11
  sheet.need(rows.length * rowHeight + bodyHeight + 22)

  const left = page.left + endWidth
  const right = page.right - endWidth
  const top = sheet.y + 14
  sheet.line(section.id, (left + right) / 2, sheet.y, { size: 8, face: 'medium', align: 'center' })
  for (const [r, own] of rows.entries()) {
    const y = top + r * (rowHeight + (r === 0 ? bodyHeight - 11 : 0))
    const height = r === 0 ? bodyHeight : 11
    sheet.doc
      .lineWidth(0.9)
      .roundedRect(left, y, right - left, height, isVessel && r === 0 ? 9 : 5.5)
      .fillAndStroke(ink.wash, ink.text)
    drawFittings(sheet, own, left, right, y + height, drawing)
    if (r > 0) {
      const from = y - rowHeight + (r === 1 ? bodyHeight : 11)
      sheet.stroke(0.9, ink.text, right - 4, from, right - 4, y)
    }
  }
  drawEnd(sheet, before, left, top, bodyHeight, 'left', section.id, drawing)
  drawEnd(sheet, after, right, top, bodyHeight, 'right', section.id, drawing)
  const ends = Math.max(before.length, after.length) * 24
  sheet.y = top + Math.max(bodyHeight - 11 + rows.length * rowHeight, ends) + 2
}

function splitEnds(valves: readonly Valve[]): [Valve[], Valve[]] {
  const half = Math.floor(valves.length / 2)
  return [valves.slice(0, half), valves.slice(half)]
}

function drawFittings(
  sheet: Sheet,
  fittings: readonly Fitting[],
  left: number,
  right: number,
  y: number,
  drawing: SectionDrawing,
): void {
  fittings.forEach((fitting, i) => {
    const x = left + ((i + 0.5) / fittings.length) * (right - left)
    const suspect = (drawing.suspects.get(fitting.id) ?? 0) > 0.5
    const color = suspect ? drawing.accent : ink.text
    sheet.stroke(0.9, color, x, y, x, y + 7)
    sheet.doc.circle(x, y + 10, 3).fillAndStroke(suspect ? drawing.accent : '#ffffff', color)
    const face = suspect ? 'medium' : 'regular'
    sheet.line(fitting.id, x, y + 15, { size: 6.8, face, align: 'center', color })
  })
}

/** Valves at one end: two triangles point to point, filled when shut, labelled with the section beyond. */
function drawEnd(
  sheet: Sheet,
  valves: readonly Valve[],
  edge: number,
  top: number,
  bodyHeight: number,
  side: 'left' | 'right',
  section: string,
  drawing: SectionDrawing,
): void {
  const way = side === 'left' ? -1 : 1
  valves.forEach((valve, i) => {
    const y = top + bodyHeight / 2 + i * 24
    const shut = drawing.shut.includes(valve.id)
    const x = edge + way * 14
    const { doc } = sheet
    doc.lineWidth(0.9).strokeColor(ink.text)
    if (i === 0) sheet.stroke(0.9, ink.text, edge, y, x - way * 6, y)
    else
      doc
        .moveTo(edge + way * 4, top + bodyHeight / 2)
        .lineTo(edge + way * 4, y)
        .lineTo(x - way * 6, y)
        .stroke()
    doc
      .polygon([x - 6, y - 4], [x - 6, y + 4], [x + 6, y - 4], [x + 6, y + 4])
      .fillAndStroke(shut ? ink.text : '#ffffff', ink.text)
    const beyond = valve.between.filter((each) => each !== section)
    const lines = [
      `${valve.id} ${shut ? 'shut' : 'open'}`,
      beyond.length > 0 ? beyond.join(', ') : valve.name,
    ]
    const textX = x + way * 11
    lines.forEach((text, row) => {
      sheet.line(shorten(sheet, text, endWidth - 27), textX, y - 8 + row * 8.5, {
        size: 6.8,
        color: row === 0 ? ink.text : ink.soft,
        align: side === 'left' ? 'right' : 'left',
      })
    })
  })
}

/** Shortens a name that is too long for its space. */
function shorten(sheet: Sheet, text: string, width: number): string {
  let short = text
  while (short.length > 3 && sheet.widthOf(short, { size: 6.8 }) > width) short = `${short.slice(0, -2)}…`
  return short
}
