import { TableScroll } from '../parts/table-scroll.tsx'
import { findings } from '../words.ts'

/** One look at a fitting, as typed. */
export interface Look {
  readonly fitting: string
  readonly finding: string
  readonly after: string
  readonly spread: string
  readonly wiped: string
  readonly head: string
}

const columns = [
  ['after', 'after', 'Time of the look after the beginning'],
  ['spread', 'width', 'Width of the spot'],
  ['wiped', 'since wiped', 'Time since it was wiped'],
  ['head', 'fuel above it', 'Height of the fuel above it'],
] as const

/** The looks of a stage; every cell can be put right. */
export function LookTable(props: {
  readonly looks: readonly Look[]
  readonly onChange: (at: number, part: Partial<Look>) => void
}) {
  return (
    <TableScroll label="Looks">
      <table class="wet-look stacks">
        <thead>
          <tr>
            {['fitting', 'finding', ...columns.map(([, title]) => title)].map((title) => (
              <th key={title}>{title}</th>
            ))}
          </tr>
        </thead>
        <tbody>
          {props.looks.map((look, at) => (
            <tr key={at}>
              <th scope="row">{look.fitting}</th>
              <td data-label="finding">
                <select
                  aria-label={`Finding at ${look.fitting}`}
                  value={look.finding}
                  onChange={(event) => props.onChange(at, { finding: event.currentTarget.value })}
                >
                  {findings.map((one) => (
                    <option key={one}>{one}</option>
                  ))}
                </select>
              </td>
              {columns.map(([key, title, words]) => (
                <td key={key} data-label={title}>
                  <input
                    aria-label={`${words}, ${look.fitting}`}
                    value={look[key]}
                    onInput={(event) => props.onChange(at, { [key]: event.currentTarget.value })}
                  />
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </TableScroll>
  )
}
