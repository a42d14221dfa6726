import pc from 'picocolors'

/** Colors of standard output: only on a terminal, whatever the environment says of CI or Windows. */
export const resultInk = pc.createColors(isColored(process.stdout))

/** Colors of standard error. */
export const messageInk = pc.createColors(isColored(process.stderr))

function isColored(stream: NodeJS.WriteStream): boolean {
  // hasColors() respects NO_COLOR and TERM=dumb; a pipe or a file has no such method.
  return stream.isTTY === true && stream.hasColors()
}
