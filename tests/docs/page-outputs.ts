import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { filesBelow, root, type SourceFile } from '#tests/house/source-files.ts'

/** Pages whose blocks after `<!-- output of: stillhold … -->` hold what that command prints. */
export function pagesWithOutputs(): SourceFile[] {
  const pages = ['README.md', 'DEVELOPERS.md'].map((path) => ({
    path,
    text: readFileSync(join(root, path), 'utf8'),
  }))
  return [...pages, ...filesBelow('docs', '.md')].filter(({ text }) => outputBlock.test(text))
}

const outputBlock = /(<!-- output of: stillhold ([^\n]*?) -->\n```\w*\n)[\s\S]*?(?=^```$)/m

/** The page with each such block as the command of the built program prints it now. */
export function withOutputs(text: string, program: string): string {
  return text.replaceAll(new RegExp(outputBlock, 'gm'), (_block, head: string, command: string) => {
    return `${head}${outputOf(program, command.split(' '))}\n`
  })
}

function outputOf(program: string, words: readonly string[]): string {
  const { stdout, stderr } = spawnSync(process.execPath, [program, ...words], {
    cwd: root,
    encoding: 'utf8',
  })
  if (stdout === '') throw new Error(`stillhold ${words.join(' ')} prints nothing: ${stderr}`)
  return stdout.trimEnd()
}
