import type { Command, Option } from 'commander'

interface Entry {
  /** Words that lead to it after the program's name: `archive rebuild`; empty for the program itself. */
  readonly path: string
  readonly command: Command
  readonly subcommands: readonly Command[]
  readonly options: readonly Option[]
}

/** Sourced, or put where bash-completion looks for it. Where it offers nothing, bash offers files. */
export function bashCompletion(program: Command): string {
  const entries = entriesOf(program)
  const steps = entries.filter(({ path }) => path !== '').map(({ path }) => quoted(stepTo(path)))
  const choices = entries.flatMap(({ path, options }) =>
    options
      .filter(({ argChoices }) => argChoices !== undefined)
      .map(
        (option) =>
          `    ${quoted(`${path} ${option.long}`)}) COMPREPLY=($(compgen -W ${quoted(option.argChoices!.join(' '))} -- "$cur")); return ;;\n`,
      ),
  )
  const lists = entries.map(
    ({ path, subcommands, options }) =>
      `    ${quoted(path)}) words=${quoted(wordsAfter(subcommands))} options=${quoted(options.map(({ long }) => long).join(' '))} ;;\n`,
  )
  return `_${program.name()}() {
  local cur=\${COMP_WORDS[COMP_CWORD]} prev=\${COMP_WORDS[COMP_CWORD-1]} path= word words= options=
  for word in "\${COMP_WORDS[@]:1:COMP_CWORD-1}"; do
    case "$path $word" in
    ${steps.join(' | ')}) path="\${path:+$path }$word" ;;
    esac
  done
  case "$path $prev" in
${choices.join('')}  esac
  case "$path" in
${lists.join('')}  esac
  [[ $cur == -* ]] && words=$options
  COMPREPLY=($(compgen -W "$words" -- "$cur"))
}
complete -o default -F _${program.name()} ${program.name()}
`
}

/** A file \`_stillhold\` in a folder of \`fpath\`. */
export function zshCompletion(program: Command): string {
  const functions = entriesOf(program).map(({ path, command, subcommands, options }) => {
    const specs = options.map((option) => {
      const value = takesValue(option) ? `:${placeholder(option)}:${zshValues(option)}` : ''
      const repeat = option.variadic || Array.isArray(option.defaultValue) ? '*' : ''
      return `    '${repeat}${option.long}[${zshText(option.description)}]${value}'`
    })
    if (subcommands.length === 0) {
      const [argument] = command.registeredArguments
      const values = argument?.argChoices ? `(${argument.argChoices.join(' ')})` : '_files'
      if (argument) specs.push(`    '*:${zshText(argument.name())}:${values}'`)
      return `${zshName(program, path)}() {\n  _arguments \\\n${specs.join(' \\\n')}\n}\n`
    }
    const offers = subcommands.map(
      (each) => `    '${each.name()}:${zshText(each.description()).replaceAll(':', '\\:')}'`,
    )
    const calls = subcommands.map(
      (each) => `    ${each.name()}) ${zshName(program, `${path} ${each.name()}`.trim())} ;;`,
    )
    return `${zshName(program, path)}() {
  local context state line
  local -a commands=(
${offers.join('\n')}
  )
  _arguments -C \\
${specs.join(' \\\n')} \\
    '1:command:->command' '*::argument:->argument'
  case $state in
  command) _describe command commands ;;
  argument)
    case $line[1] in
${calls.join('\n')}
    esac
    ;;
  esac
}
`
  })
  return `#compdef ${program.name()}\n${functions.join('')}${zshName(program, '')} "$@"\n`
}

/** A file in fish's folder of completions. */
export function fishCompletion(program: Command): string {
  const name = program.name()
  const lines = [`complete -c ${name} -f`]
  for (const { path, command, subcommands, options } of entriesOf(program)) {
    const seen = path.split(' ').map((word) => `__fish_seen_subcommand_from ${word}`)
    const inside = path === '' ? '__fish_use_subcommand' : seen.join('; and ')
    const before =
      path === '' ? inside : `${inside}; and not __fish_seen_subcommand_from ${wordsAfter(subcommands)}`
    for (const each of subcommands)
      lines.push(`complete -c ${name} -n '${before}' -a ${each.name()} -d ${fishText(each.description())}`)
    const [argument] = command.registeredArguments
    if (argument?.argChoices)
      lines.push(`complete -c ${name} -n '${inside}' -a '${argument.argChoices.join(' ')}'`)
    else if (argument) lines.push(`complete -c ${name} -n '${inside}' -F`)
    for (const option of options) {
      const values = option.argChoices ? ` -x -a '${option.argChoices.join(' ')}'` : ' -r -F'
      lines.push(
        `complete -c ${name} -n '${inside}' -l ${option.long!.slice(2)}${takesValue(option) ? values : ''} -d ${fishText(option.description)}`,
      )
    }
  }
  return `${lines.join('\n')}\n`
}

/** Run in the profile. Where it offers nothing, PowerShell offers files. */
export function powershellCompletion(program: Command): string {
  const name = program.name()
  const rows = entriesOf(program).map(({ path, command, subcommands, options }) => {
    const [argument] = command.registeredArguments
    const words = [...subcommands.map((each) => each.name()), ...(argument?.argChoices ?? [])]
    const values = options
      .filter(({ argChoices }) => argChoices !== undefined)
      .map((option) => `'${option.long}' = ${powershellList(option.argChoices!)}`)
    const flags = powershellList(options.map(({ long }) => long!))
    return `  '${path}' = @{ words = ${powershellList(words)}; options = ${flags}; values = @{ ${values.join('; ')} } }`
  })
  return `$${name}Commands = @{
${rows.join('\n')}
}
Register-ArgumentCompleter -Native -CommandName ${name} -ScriptBlock {
  param($wordToComplete, $commandAst, $cursorPosition)
  $path = ''
  $previous = ''
  foreach ($element in ($commandAst.CommandElements | Select-Object -Skip 1)) {
    $word = $element.ToString()
    if ($element.Extent.EndOffset -ge $cursorPosition -and $word -eq $wordToComplete) { break }
    $longer = "$path $word".Trim()
    if ($${name}Commands.ContainsKey($longer)) { $path = $longer }
    $previous = $word
  }
  $entry = $${name}Commands[$path]
  $offers = if ($entry.values.ContainsKey($previous)) { $entry.values[$previous] }
    elseif ($wordToComplete.StartsWith('-')) { $entry.options }
    else { $entry.words }
  $offers | Where-Object { $_ -like "$wordToComplete*" } |
    ForEach-Object { [System.Management.Automation.CompletionResult]::new($_, $_, 'ParameterValue', $_) }
}
`
}

function powershellList(words: readonly string[]): string {
  return `@(${words.map((word) => `'${word.replaceAll("'", "''")}'`).join(', ')})`
}

function entriesOf(command: Command, path = ''): Entry[] {
  const help = command.createHelp()
  const subcommands = command.commands.filter((each) => each.name() !== 'help')
  const options = help.visibleOptions(command).filter(({ long }) => typeof long === 'string')
  return [
    { path, command, subcommands, options },
    ...subcommands.flatMap((each) => entriesOf(each, `${path} ${each.name()}`.trim())),
  ]
}

/** What the loop of the bash script compares: the path so far, a blank, the next word. */
function stepTo(path: string): string {
  const cut = path.lastIndexOf(' ')
  return cut < 0 ? ` ${path}` : `${path.slice(0, cut)} ${path.slice(cut + 1)}`
}

function wordsAfter(subcommands: readonly Command[]): string {
  return subcommands.map((each) => each.name()).join(' ')
}

function takesValue(option: Option): boolean {
  return option.required || option.optional
}

function placeholder(option: Option): string {
  return /[<[]([^>\]]+)[>\]]/.exec(option.flags)?.[1].replaceAll(':', ' ') ?? 'value'
}

function zshValues(option: Option): string {
  if (option.argChoices) return `(${option.argChoices.join(' ')})`
  return /file|folder|path|device/.test(placeholder(option)) ? '_files' : ' '
}

function zshName(program: Command, path: string): string {
  return `_${[program.name(), ...path.split(' ').filter((word) => word !== '')].join('_')}`
}

/** Without what ends a quoted text, or a description in brackets. */
function zshText(text: string): string {
  return text.replaceAll("'", '’').replaceAll('[', '(').replaceAll(']', ')')
}

function fishText(text: string): string {
  return `'${text.replaceAll("'", '’')}'`
}

function quoted(text: string): string {
  return `'${text.replaceAll("'", '’')}'`
}
