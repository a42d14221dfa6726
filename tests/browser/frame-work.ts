import type { Page } from 'playwright-core'

interface TraceEvent {
  readonly name: string
  readonly ph: string
  readonly pid: number
  readonly tid: number
  /** Begin, [µs]; processor time of the thread, [µs], which other programs of the machine do not add to. */
  readonly ts: number
  readonly tdur?: number
  readonly args: { readonly name?: string }
}

const frameUs = 1e6 / 60

/** Work of the page's main thread in each sixtieth of a second, [ms]: script, style, layout and painting. */
export async function workPerFrame(page: Page, seconds: number): Promise<number[]> {
  const cdp = await page.context().newCDPSession(page)
  const events: TraceEvent[] = []
  cdp.on('Tracing.dataCollected', ({ value }) => events.push(...(value as unknown as TraceEvent[])))
  const done = new Promise<void>((resolve) => cdp.once('Tracing.tracingComplete', () => resolve()))
  await cdp.send('Tracing.start', {
    transferMode: 'ReportEvents',
    traceConfig: { includedCategories: ['toplevel', '__metadata'], excludedCategories: ['*'] },
  })
  await page.waitForTimeout(seconds * 1000)
  await cdp.send('Tracing.end')
  await done
  const mains = events.filter((one) => one.name === 'thread_name' && one.args.name === 'CrRendererMain')
  // Of several renderers the page's own is the busiest.
  const perThread = mains.map(({ pid, tid }) => {
    const tasks = events.filter(
      (one) => one.pid === pid && one.tid === tid && one.ph === 'X' && /RunTask/.test(one.name),
    )
    const begin = Math.min(...tasks.map((one) => one.ts))
    const frames = new Array<number>(Math.ceil((seconds * 1e6) / frameUs)).fill(0)
    for (const { ts, tdur } of tasks) {
      const frame = Math.floor((ts - begin) / frameUs)
      if (frame < frames.length) frames[frame] += (tdur ?? 0) / 1000
    }
    return frames
  })
  const sum = (frames: readonly number[]): number => frames.reduce((all, one) => all + one, 0)
  return perThread.sort((a, b) => sum(b) - sum(a))[0] ?? []
}

export const quantiles = (values: readonly number[]) => {
  const sorted = [...values].sort((a, b) => a - b)
  const at = (share: number): number => {
    const value = sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))]
    return Number(value.toFixed(2))
  }
  return { p50_ms: at(0.5), p90_ms: at(0.9), p99_ms: at(0.99), most_ms: at(1) }
}
