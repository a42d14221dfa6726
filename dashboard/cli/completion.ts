import { Argument, type Command } from 'commander'
import { defineCommand } from './command.ts'

/**
 * Each shell asks the program for the candidates. `=` before the current word keeps an empty word from being
 * lost. Where the program offers nothing, the shell offers files.
 */
const scripts: Readonly<Record<string, string>> = {
  bash: `_stillhold() {
  local IFS=$'\\n'
  COMPREPLY=($(stillhold completion offers -- "\${COMP_WORDS[@]:1:COMP_CWORD-1}" "=\${COMP_WORDS[COMP_CWORD]}" | cut -f1))
}
complete -o default -F _stillhold stillhold
`,
  zsh: `#compdef stillhold
_stillhold() {
  local -a offers
  local line
  for line in \${(f)"$(stillhold completion offers -- "\${(@)words[2,CURRENT-1]}" "=\${words[CURRENT]}")"}; do
    offers+=("\${line%%$'\\t'*}:\${\${line#*$'\\t'}//:/\\\\:}")
  done
  if (( $#offers )); then _describe command offers; else _files; fi
}
_stillhold "$@"
`,
  fish: `function __stillhold_offers
  set -l before (commandline -opc)
  set -l offers (stillhold completion offers -- $before[2..-1] =(commandline -ct))
  test -n "$offers"; and string join \\n -- $offers; or __fish_complete_path (commandline -ct)
end
complete -c stillhold -f -a '(__stillhold_offers)'
`,
  powershell: `Register-ArgumentCompleter -Native -CommandName stillhold -ScriptBlock {
  param($wordToComplete, $commandAst, $cursorPosition)
  $before = @($commandAst.CommandElements | Select-Object -Skip 1 |
    Where-Object { $_.Extent.EndOffset -lt $cursorPosition } | ForEach-Object { $_.ToString() })
  stillhold completion offers '--' @before "=$wordToComplete" | ForEach-Object {
    $word, $about = $_ -split "\`t"
    [System.Management.Automation.CompletionResult]::new($word, $word, 'ParameterValue', $about)
  }
}
`,
}

export const command = defineCommand({
  arguments: [
    new Argument('<shell>', 'your shell').choices([...Object.keys(scripts), 'offers']),
    ['[words...]', 'after "offers --": the words typed so far, "=" before the last'],
  ],
  help: `Examples:
  $ stillhold completion bash > ~/.local/share/bash-completion/completions/stillhold
  $ stillhold completion zsh > ~/.zfunc/_stillhold        with fpath+=~/.zfunc before compinit in ~/.zshrc
  $ stillhold completion fish > ~/.config/fish/completions/stillhold.fish
  > stillhold completion powershell | Out-String | Invoke-Expression        in the file that $PROFILE names`,
  run: (_options, shell: string, words: readonly string[], { parent }: Command) => {
    if (shell !== 'offers') return void process.stdout.write(scripts[shell] ?? '')
    for (const [word, about] of offers(parent!, words)) process.stdout.write(`${word}\t${about}\n`)
  },
})

/**
 * Completion candidates, each with a description.
 *
 * @param words after the program's name; the last, with `=` before it, is the current word
 */
export function offers(program: Command, words: readonly string[]): [word: string, about: string][] {
  const before = words.slice(0, -1)
  const typed = (words.at(-1) ?? '').slice(1)
  let command = program
  for (const word of before) command = command.commands.find((each) => each.name() === word) ?? command
  const plain = (choices: readonly string[] = []) => choices.map((each): [string, string] => [each, ''])
  const valued = command.options.find(
    ({ long, required, optional }) => long === before.at(-1) && (required || optional),
  )
  const options = () =>
    command
      .createHelp()
      .visibleOptions(command)
      .map(({ long, description }): [string, string] => [long ?? '', description])
  const all = valued
    ? plain(valued.argChoices)
    : typed.startsWith('-')
      ? options()
      : [
          ...command.commands.map((each): [string, string] => [each.name(), each.description()]),
          ...plain(command.registeredArguments[0]?.argChoices),
        ]
  return all.filter(([word]) => word.startsWith(typed))
}
