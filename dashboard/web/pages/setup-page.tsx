import type { ComponentChildren, JSX } from 'preact'
import { useEffect, useRef } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import { SideNav } from '../parts/side-nav.tsx'
import type { PageProps } from '../route.ts'
import { Calibration } from '../setup/calibration.tsx'
import { Channels } from '../setup/channels.tsx'
import { Display } from '../setup/display.tsx'
import { FileEditor } from '../setup/file-editor.tsx'
import { Ports } from '../setup/ports.tsx'
import { Sharing } from '../setup/sharing.tsx'
import { Zero } from '../setup/zero.tsx'

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
    <div class="setup-view">
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
