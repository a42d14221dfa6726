import { describe, expect, it } from 'vitest'
import { ProgressBar } from '#dashboard/cli/terminal.ts'

/** A terminal that keeps what is written to it, and a clock that is set by hand. */
function terminal(isTTY: boolean, columns = 80) {
  const written: string[] = []
  const clock = { ms: 0 }
  const stream = { isTTY, columns, write: (text: string) => written.push(text) }
  return { written, clock, bar: new ProgressBar(stream, () => clock.ms) }
}

describe('ProgressBar', () => {
  it('at(what, 0.25) after half a second draws a quarter of 24 columns, the share and what it is', () => {
    const { written, clock, bar } = terminal(true)
    clock.ms = 600
    bar.at('reading day.lp', 0.25)
    expect(written).toEqual([`\r\x1b[2K${'█'.repeat(6)}${'·'.repeat(18)}  25 %  reading day.lp`])
  })

  it('at() draws nothing for work that is over at once, and no oftener than ten times a second', () => {
    const { written, clock, bar } = terminal(true)
    for (clock.ms = 0; clock.ms < 500; clock.ms += 10) bar.at('short', clock.ms / 500)
    expect(written).toEqual([])
    for (; clock.ms < 1500; clock.ms += 10) bar.at('long', clock.ms / 1500)
    expect(written).toHaveLength(10)
  })

  it('end() takes the line away, and writes nothing where none was drawn', () => {
    const { written, clock, bar } = terminal(true)
    bar.end()
    expect(written).toEqual([])
    clock.ms = 600
    bar.at('reading', 0.5)
    bar.next('analyzing')
    bar.end()
    expect(written.slice(1)).toEqual(['\r\x1b[2Kanalyzing …', '\r\x1b[2K'])
  })

  it('at() and next() write nothing at all where standard error is no terminal', () => {
    const { written, clock, bar } = terminal(false)
    clock.ms = 10_000
    bar.at('reading', 0.5)
    bar.next('analyzing')
    bar.end()
    expect(written).toEqual([])
  })

  it('at() never draws a line that would wrap: 40 columns take 39', () => {
    const { written, clock, bar } = terminal(true, 40)
    clock.ms = 600
    bar.at('a recording with a name that is much too long.lp', 1)
    expect(written[0].length).toBe('\r\x1b[2K'.length + 39)
  })
})
