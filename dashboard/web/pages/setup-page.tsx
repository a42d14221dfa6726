import type { ComponentChildren, JSX } from 'preact'
import { useEffect, useRef } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import type { Sharing as SharingAnswer } from '#dashboard/api.ts'
import { Button } from '../parts/fields.tsx'
import { SideNav } from '../parts/panel-head.tsx'
import { toast, toastError } from '../parts/toast.tsx'
import { useAnswer } from '../parts/use-answer.ts'
import type { PageProps } from '../route.ts'
import { Calibration, Zero } from '../setup/calibration.tsx'
import { Channels } from '../setup/channels.tsx'
import { Display } from '../setup/display.tsx'
import { FileEditor } from '../setup/file-editor.tsx'
import { Ports } from '../setup/ports.tsx'

function Part(props: { id: string; here: boolean; title: string; children: ComponentChildren }) {
  const box = useRef<HTMLElement>(null)
  useEffect(() => {
    if (props.here) box.current?.scrollIntoView({ block: 'start' })
  }, [props.here])
  return (
    <section ref={box} class="panel stack setup-part" aria-labelledby={`setup-${props.id}`}>
      <h2 id={`setup-${props.id}`}>{props.title}</h2>
      {props.children}
    </section>
  )
}

const parts: readonly (readonly [id: string, title: string, view: () => JSX.Element])[] = [
  ['display', t`Units and look`, () => <Display />],
  ['ports', t`Ports`, () => <Ports />],
  ['channels', t`Channels`, () => <Channels />],
  [
    'zero',
    t`Zero and calibration`,
    () => (
      <>
        <Zero />
        <Calibration />
      </>
    ),
  ],
  ['file', t`System file`, () => <FileEditor />],
  ['sharing', t`Sharing`, () => <Sharing />],
]

export function SetupPage({ rest: [here] }: PageProps) {
  return (
    <div class="setup-view stack">
      <SideNav title="Setup" page="setup" of="setup" parts={parts} here={here} />
      <div class="stack">
        {parts.map(([id, title, View]) => (
          <Part key={id} id={id} here={here === id} title={title}>
            <View />
          </Part>
        ))}
      </div>
    </div>
  )
}

/** How a phone at the wing or a second screen opens the page. */
function Sharing() {
  const answer = useAnswer<SharingAnswer>('/api/sharing').value
  if (answer.error) return <p class="note is-undecided">{answer.error}</p>
  if (answer.value === null) return <p class="soft">Asking the server…</p>
  const { links, advice } = answer.value
  return (
    <div class="stack tight">
      <p>{advice}</p>
      {links.length > 0 && (
        <ul class="stack tight">
          {links.map((one) => (
            <li key={one.url} class="row">
              <strong>{one.role === 'operator' ? t`may operate` : t`may watch`}</strong>
              <code>{one.url}</code>
              <Button
                onClick={() => {
                  navigator.clipboard?.writeText(one.url).then(
                    () => toast(t`Copied.`),
                    () => toastError(t`The browser does not allow copying here: select the address instead.`),
                  )
                }}
              >
                Copy
              </Button>
            </li>
          ))}
        </ul>
      )}
    </div>
  )
}
