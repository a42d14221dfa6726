import { Command } from 'commander'

/**
 * The program without its commands. A usage error is one line on standard error and exit code 2; commands
 * added afterwards inherit that.
 */
export function newProgram(version: string): Command {
  return new Command('stillhold')
    .description('Proves that a small aircraft’s fuel system does not leak.')
    .version(version, '-V, --version', 'print the version')
    .helpOption('-h, --help', 'print this help')
    .helpCommand('help [command]', 'print the help of a command')
    .showSuggestionAfterError()
    .configureHelp({ subcommandTerm: (command) => command.name() })
    .configureOutput({ outputError: (text, write) => write(`${oneLine(text)}\n`) })
    .exitOverride(({ exitCode }) => process.exit(exitCode === 1 ? 2 : exitCode))
    .addHelpText('after', '\nTo see it work:\n  $ stillhold demo --open')
}

function oneLine(text: string): string {
  const line = text.trim().replaceAll(/\s*\n\s*/g, ' ')
  return line.startsWith('error: ') ? `stillhold: ${line.slice('error: '.length)}` : line
}
