import { Argument, type Command } from 'commander'
import type { CommandDescription } from './command.ts'
import { bashCompletion, fishCompletion, powershellCompletion, zshCompletion } from './completion-script.ts'

const scripts = {
  bash: bashCompletion,
  zsh: zshCompletion,
  fish: fishCompletion,
  powershell: powershellCompletion,
}

export const command: CommandDescription = {
  arguments: [new Argument('<shell>', 'your shell').choices(Object.keys(scripts))],
  help: `Examples:
  $ stillhold completion bash > ~/.local/share/bash-completion/completions/stillhold
  $ stillhold completion zsh > ~/.zfunc/_stillhold        with fpath+=~/.zfunc before compinit in ~/.zshrc
  $ stillhold completion fish > ~/.config/fish/completions/stillhold.fish
  > stillhold completion powershell | Out-String | Invoke-Expression        in the file that $PROFILE names`,
  run: (shell: keyof typeof scripts, _options: object, { parent }: Command) => {
    process.stdout.write(scripts[shell](parent!))
  },
}
