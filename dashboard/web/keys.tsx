import { useEffect, useRef } from 'preact/hooks'
import { pages } from './page.ts'
import { go } from './route.ts'
import { keyHelpOpen, singleKeys, sound, themeChoice } from './settings.ts'
import { theme } from './theme.ts'

const typing = (target: EventTarget | null): boolean =>
  target instanceof HTMLElement &&
  (target.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName)) &&
  !(target instanceof HTMLInputElement && /^(checkbox|radio)$/.test(target.type))

/** Single keys for the whole page; they can be switched off in Setup. */
export function useKeys(): void {
  useEffect(() => {
    const pressed = (event: KeyboardEvent): void => {
      if (singleKeys.value === 'off' || event.ctrlKey || event.metaKey || event.altKey) return
      if (typing(event.target) || document.querySelector('dialog[open]')) return
      const page = pages[Number(event.key) - 1]
      if (page) go(page.path)
      else if (event.key === 't') themeChoice.value = theme.value === 'night' ? 'day' : 'night'
      else if (event.key === 's') sound.value = sound.value === 'on' ? 'off' : 'on'
      else if (event.key === 'm') document.querySelector<HTMLElement>('[data-key="marks"] button')?.focus()
      else if (event.key === 'n') document.querySelector<HTMLElement>('[data-key="note"]')?.click()
      else if (event.key === '?') keyHelpOpen.value = true
      else return
      event.preventDefault()
    }
    addEventListener('keydown', pressed)
    return () => removeEventListener('keydown', pressed)
  }, [])
}

export function KeyHelp() {
  const dialog = useRef<HTMLDialogElement>(null)
  useEffect(() => {
    if (keyHelpOpen.value) dialog.current?.showModal()
    else dialog.current?.close()
  }, [keyHelpOpen.value])
  return (
    <dialog
      ref={dialog}
      aria-labelledby="keys-title"
      onClose={() => {
        keyHelpOpen.value = false
      }}
    >
      <h2 id="keys-title">Keys</h2>
      <table>
        <tbody>
          {pages.map((page, i) => (
            <tr key={page.path}>
              <td>
                <kbd>{i + 1}</kbd>
              </td>
              <td>{page.title}</td>
            </tr>
          ))}
          {[
            ['m', 'To the fittings, to mark one'],
            ['n', 'Write a note'],
            ['s', 'Sound on or off'],
            ['t', 'Day or night'],
            ['?', 'This list'],
          ].map(([key, does]) => (
            <tr key={key}>
              <td>
                <kbd>{key}</kbd>
              </td>
              <td>{does}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="small soft">
        Single keys can be switched off in Setup. Everything is reached with Tab and Enter too.
      </p>
      <form method="dialog" class="row">
        <button type="submit" class="main">
          Close
        </button>
      </form>
    </dialog>
  )
}
