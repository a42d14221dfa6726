import { useEffect, useRef } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import { Bands } from './bands.tsx'
import { KeyHelp, useKeys } from './keys.tsx'
import { bench, returns } from './live/bench.ts'
import { PartDialog } from './marks/part-tools.tsx'
import { holdPage, pages } from './page.ts'
import { Button } from './parts/fields.tsx'
import { Toast } from './parts/toast.tsx'
import { address, route } from './route.ts'
import { sound, switchSound } from './settings.ts'
import { CallBar } from './sound/announcer.tsx'
import { play } from './sound/player.ts'
import { switchTheme, theme } from './theme.ts'

const moon = 'M19.5 14.5A8 8 0 0 1 9.5 4.5a8 8 0 1 0 10 10Z'
const sun =
  'M16 12a4 4 0 1 1-8 0a4 4 0 1 1 8 0M12 2.5v2.2M12 19.3v2.2M2.5 12h2.2M19.3 12h2.2M5.3 5.3l1.5 1.5M17.2 17.2l1.5 1.5M18.7 5.3l-1.5 1.5M6.8 17.2l-1.5 1.5'

function Toggle(props: { word: string; title: string; on: boolean; icon: string; onSwitch: () => void }) {
  return (
    <Button class="quiet" aria-pressed={props.on} title={props.title} onClick={props.onSwitch}>
      <svg viewBox="0 0 24 24" aria-hidden="true">
        <path d={props.icon} />
      </svg>
      <span class="unseen">{props.word}</span>
    </Button>
  )
}

function Top({ here }: { here: string }) {
  const name = bench.value?.systemName
  const [isLoud, isNight] = [sound.value === 'on', theme.value === 'night']
  return (
    <header class="top row">
      <a class="mark" href={address('hold')}>
        <svg viewBox="0 0 24 24" aria-hidden="true">
          <path d="M2 18H22M12 18V3" />
          <circle cx="12" cy="18" r="2" />
        </svg>
        Stillhold
      </a>
      {name &&
        (bench.value?.aircraft ? (
          <a class="of-system" href="/aircraft" title="Choose another aircraft">
            {name}
          </a>
        ) : (
          <span class="of-system">{name}</span>
        ))}
      <nav class="pages" aria-label="Pages">
        {pages.map((page) => (
          <a key={page.path} href={address(page.path)} aria-current={page.path === here ? 'page' : undefined}>
            {page.title}
          </a>
        ))}
      </nav>
      <div class="tools row">
        <Toggle
          word="Sound"
          title={isLoud ? t`Sound is on` : t`Sound is off`}
          on={isLoud}
          onSwitch={() => {
            switchSound()
            play('stage')
          }}
          icon={`M4 9.5v5h3.5L12 18.5v-13L7.5 9.5Z${isLoud ? 'M15.5 9a4 4 0 0 1 0 6M18 6.5a8 8 0 0 1 0 11' : 'm16 9.5 5 5m0-5-5 5'}`}
        />
        <Toggle
          word="Night look"
          title={isNight ? t`Night look` : t`Day look`}
          on={isNight}
          onSwitch={switchTheme}
          icon={isNight ? moon : sun}
        />
      </div>
    </header>
  )
}

export function App() {
  const { path, rest } = route.value
  const page = pages.find((one) => one.path === path) ?? holdPage
  const main = useRef<HTMLElement>(null)
  const first = useRef(true)
  useKeys()
  useEffect(() => {
    document.title = `${page.title} · Stillhold`
    if (first.current) first.current = false
    else {
      main.current?.focus({ preventScroll: true })
      scrollTo(0, 0)
    }
  }, [page])
  useEffect(() => {
    // A browser caches a failed module import: only a reload requests it again.
    if (page.view.peek() instanceof Error && returns.value > 0) location.reload()
    else page.load()
  }, [page, returns.value])
  useEffect(() => {
    // Prefetch: the other pages then open after the network is lost.
    const timer = setTimeout(() => {
      for (const { load } of pages) load()
    }, 1500)
    return () => clearTimeout(timer)
  }, [])
  const View = page.view.value
  return (
    <>
      <Button class="skip main" onClick={() => main.current?.focus()}>
        Skip to the content
      </Button>
      <Top here={page.path} />
      <Bands />
      <main id="content" tabIndex={-1} ref={main}>
        {View instanceof Error ? (
          <p class="note is-failed">{View.message}</p>
        ) : View === null ? (
          <p class="soft">Opening {page.title.toLowerCase()}…</p>
        ) : (
          <View rest={rest} />
        )}
      </main>
      <footer class="foot">
        Stillhold {bench.value?.version ?? ''}. The kit or airframe maker’s instructions come first.
      </footer>
      <PartDialog />
      <CallBar />
      <Toast />
      <KeyHelp />
    </>
  )
}
