import { stripVTControlCharacters } from 'node:util'
import { describe, expect, it } from 'vitest'
import { resultText } from '#dashboard/cli/terminal.ts'

const words = 'one two three four five six seven eight nine ten eleven twelve'

describe('resultText', () => {
  it('resultText(lines, columns) leaves what fits as it is', () => {
    expect(resultText(['PASS  feed', '', '  raw drop     1 psi'], 80)).toBe(
      'PASS  feed\n\n  raw drop     1 psi\n',
    )
  })

  it('resultText goes on below the text of a label, of a bullet, of an indent', () => {
    expect(resultText([`    assumed    ${words}`], 50).split('\n')).toEqual([
      '    assumed    one two three four five six seven',
      '               eight nine ten eleven twelve',
      '',
    ])
    expect(resultText([`  - ${words}`], 50).split('\n')[1]).toBe('    ten eleven twelve')
    expect(resultText([`  ${words}`], 50).split('\n')[1]).toBe('  eleven twelve')
  })

  it('resultText makes no line wider than asked, loses no word and counts no color', () => {
    const red = `\x1b[31m${words}\x1b[39m ${words}`
    const lines = resultText([red], 50).trimEnd().split('\n')
    for (const line of lines) expect(stripVTControlCharacters(line).length).toBeLessThanOrEqual(50)
    expect(lines.join(' ')).toBe(red)
  })

  it('resultText never parts a number from its percent sign', () => {
    expect(resultText([`${'x'.repeat(47)} 5 % likely`], 50)).toBe(`${'x'.repeat(47)}\n5 % likely\n`)
  })

  it('resultText keeps a word whole that is wider than the terminal', () => {
    const path = `/${'x'.repeat(120)}`
    expect(resultText([path], 50)).toBe(`${path}\n`)
  })
})
