import type { ComponentChildren } from 'preact'
import { useEffect, useRef } from 'preact/hooks'
import { address, type PageProps } from '../route.ts'
import { Calibration } from '../setup/calibration.tsx'
import { Channels } from '../setup/channels.tsx'
import { Display } from '../setup/display.tsx'
import { FileEditor } from '../setup/file-editor.tsx'
import { Ports } from '../setup/ports.tsx'
import { Sharing } from '../setup/sharing.tsx'
import { Zero } from '../setup/zero.tsx'

const parts = [
  ['display', 'Units and look'],
  ['ports', 'Ports'],
  ['channels', 'Channels'],
  ['zero', 'Zero and calibration'],
  ['file', 'System file'],
  ['sharing', 'Sharing'],
] as const

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

export function SetupPage({ rest }: PageProps) {
  const here = rest[0]
  return (
    <div class="setup-view">
      <div class="setup-side">
        <h1>Setup</h1>
        <nav aria-label="Parts of the setup">
          <ul>
            {parts.map(([id, title]) => (
              <li key={id}>
                <a href={address('setup', id)} aria-current={here === id ? 'true' : undefined}>
                  {title}
                </a>
              </li>
            ))}
          </ul>
        </nav>
      </div>
      <div class="stack">
        {parts.map(([id, title]) => (
          <Part key={id} id={id} here={here === id} title={title}>
            {id === 'display' && <Display />}
            {id === 'ports' && <Ports />}
            {id === 'channels' && <Channels />}
            {id === 'zero' && (
              <>
                <Zero />
                <Calibration />
              </>
            )}
            {id === 'file' && <FileEditor />}
            {id === 'sharing' && <Sharing />}
          </Part>
        ))}
      </div>
    </div>
  )
}
