import { Command } from 'commander'
import { expect, test } from 'vitest'
import { describeCommand } from '#dashboard/cli/command.ts'
import { command } from '#dashboard/cli/serve.ts'

test.each([
  [['--lan', '--listen', '127.0.0.1:0'], /other devices cannot reach 127\.0\.0\.1/],
  [['--lan', '--listen', 'localhost:4780'], /other devices cannot reach localhost/],
  [['--lan', '--listen', '[::1]:4780'], /other devices cannot reach ::1/],
  [['--listen', '0.0.0.0:4780'], /add --lan/],
  [['--listen', '4780:'], /write address:port/],
  [['--baud', '9600'], /--baud 9600: name the serial port it is for with --port/],
])(
  'serve %j is refused in one line: the options contradict each other, or others could connect',
  async (words, message) => {
    let said = ''
    const program = new Command().exitOverride().configureOutput({
      writeErr: (text) => {
        said += text
      },
    })
    describeCommand(program.command('serve'), command)
    const asked = program.parseAsync(['serve', '--demo', ...words], { from: 'user' })
    await expect(asked).rejects.toMatchObject({ exitCode: 2 })
    expect(said).toMatch(message)
    expect(said.trim().split('\n')).toHaveLength(1)
  },
)
