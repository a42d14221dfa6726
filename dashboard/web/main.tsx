import { render } from 'preact'
import { t } from '#analysis/reasons/language.ts'
import { App } from './app.tsx'
import { followBench } from './live/bench.ts'
import { followOutbox } from './marks/outbox.ts'
import { toastError } from './parts/toast.tsx'
import { announce } from './sound/announcer.tsx'
import { keepAwake } from './sound/keep-awake.ts'
import './styles/tokens.css'
import './styles/base.css'
import './styles/parts.css'
import './styles/shell.css'
import './styles/hold.css'
import './styles/hold-layout.css'
import './styles/call-bar.css'
import './styles/system.css'
import './styles/records.css'
import './styles/setup.css'
import './styles/print.css'

const root = document.getElementById('page')!
root.textContent = ''
render(<App />, root)
followBench()
announce()
keepAwake()
followOutbox((words, error) => toastError(new Error(t`${words} was not accepted: ${error.message}`)))
