import { useEffect } from 'preact/hooks'
import { t } from '#analysis/reasons/language.ts'
import { pages } from './page.ts'
import { Dialog } from './parts/dialog.tsx'
import { go } from './route.ts'
import { keyHelpOpen, singleKeys, switchSound } from './settings.ts'
import { switchTheme } from './theme.ts'

const typing = (target: EventTarget | null): boolean =>
  target instanceof HTMLElement &&
  (target.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName)) &&
  !(target instanceof HTMLInputElement && /^(checkbox|radio)$/.test(target.type))

/** Single-key shortcuts of the whole page; they can be switched off in Setup. */
export function useKeys(): void {
  useEffect(() => {
    const pressed = (event: KeyboardEvent): void => {
      if (singleKeys.value === 'off' || event.ctrlKey || event.metaKey || event.altKey) return
      if (typing(event.target) || document.querySelector('dialog[open]')) return
      const page = pages[Number(event.key) - 1]
      if (page) go(page.path)
      else if (event.key === 't') switchTheme()
      else if (event.key === 's') switchSound()
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

const others = [
  ['m', t`To the fittings, to mark one`],
  ['n', t`Write a note`],
  ['s', t`Sound on or off`],
  ['t', t`Day or night`],
  ['?', t`This list`],
]

export function KeyHelp() {
  const keys = [...pages.map((page, i) => [`${i + 1}`, page.title]), ...others]
  return (
    <Dialog title="Keys" open={keyHelpOpen}>
      <table>
        <tbody>
          {keys.map(([key, does]) => (
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
        Single keys can be switched off in Setup. Everything works with Tab and Enter too.
      </p>
      <div class="row">
        <button type="submit" class="main">
          Close
        </button>
      </div>
    </Dialog>
  )
}
