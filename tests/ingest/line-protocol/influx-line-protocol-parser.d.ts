declare module 'influx-line-protocol-parser' {
  /** One line as an object; `{}` and a message on the console for a line it cannot read. */
  export default function parse(line: string): {
    readonly measurement: string
    readonly timestamp?: number
    readonly tags: readonly Readonly<Record<string, string>>[]
    readonly fields: readonly Readonly<Record<string, unknown>>[]
  }
}
