import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { dropDraw, queueDraw } from './draw-queue.ts'

/** The newest value, a frame or a few later: what draws much of it takes its turn with the charts. */
export function useTurn<T>(newest: T): T {
  const shown = useSignal(newest)
  useEffect(() => {
    const show = (): void => {
      shown.value = newest
    }
    if (shown.peek() !== newest) queueDraw(show)
    return () => void dropDraw(show)
  }, [newest])
  return shown.value
}
