import { Argument, type Command } from 'commander'
import { bashCompletion, fishCompletion, powershellCompletion, zshCompletion } from './completion-script.ts'

const scripts = {
  bash: bashCompletion,
  zsh: zshCompletion,
  fish: fishCompletion,
  powershell: powershellCompletion,
}

export function register(program: Command): void {
  program
    .command('completion')
    .description('print what makes a shell complete commands and options')
    .addArgument(new Argument('<shell>', 'your shell').choices(Object.keys(scripts)))
    .addHelpText(
      'after',
      `
Examples:
  $ stillhold completion bash > ~/.local/share/bash-completion/completions/stillhold
  $ stillhold completion zsh > ~/.zfunc/_stillhold        with fpath+=~/.zfunc before compinit in ~/.zshrc
  $ stillhold completion fish > ~/.config/fish/completions/stillhold.fish
  > stillhold completion powershell | Out-String | Invoke-Expression        in the file that $PROFILE names`,
    )
    .action((shell: keyof typeof scripts) => {
      process.stdout.write(scripts[shell](program))
    })
}
