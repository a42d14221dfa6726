import { firstAt } from '../parts/line-path.ts'

/** Small, so that the number of slices, and so the cost of drawing, hardly changes. */
const GROWTH = 1.1

/**
 * Min-max decimation of one channel in bounded memory: the lowest and highest reading of each slice of time.
 * When the slices run out they become a tenth wider, so that hour 24 costs as much as hour 1; a moving window
 * drops the slices behind it.
 */
export class LiveTrace {
  private readonly low: Float64Array
  private readonly high: Float64Array
  /** True when the low came before the high. */
  private readonly rising: Uint8Array
  private readonly at: Float64Array
  /** Buffers reused for each drawing: a slice is two points and at most one gap. */
  private readonly drawnX: Float64Array
  private readonly drawnY: Float64Array
  private count = 0
  private lastS = Number.NaN
  private typicalStepS = Number.NaN

  constructor(
    private sliceS: number,
    /** Length kept behind the newest reading; null keeps everything at a growing slice width. */
    private readonly windowS: number | null,
    private readonly capacity = 1600,
  ) {
    this.low = new Float64Array(capacity)
    this.high = new Float64Array(capacity)
    this.rising = new Uint8Array(capacity)
    this.at = new Float64Array(capacity)
    this.drawnX = new Float64Array(3 * capacity)
    this.drawnY = new Float64Array(3 * capacity)
  }

  get newestS(): number {
    return this.lastS
  }

  get width(): number {
    return this.sliceS
  }

  add(timeS: number, reading: number): void {
    if (!Number.isFinite(timeS) || !Number.isFinite(reading)) return
    if (timeS <= this.lastS) return
    const step = timeS - this.lastS
    if (Number.isFinite(step)) {
      this.typicalStepS = Number.isFinite(this.typicalStepS) ? Math.min(step, this.typicalStepS * 1.02) : step
    }
    this.lastS = timeS
    if (this.count === this.capacity && !this.isInSlice(timeS, this.count - 1)) this.makeRoom(timeS)
    this.put(timeS, reading, reading, 1)
  }

  private isInSlice(timeS: number, i: number): boolean {
    return i >= 0 && Math.floor(this.at[i] / this.sliceS) === Math.floor(timeS / this.sliceS)
  }

  /** Extends the newest slice, or begins a new one. */
  private put(timeS: number, low: number, high: number, rising: number): void {
    const last = this.count - 1
    if (!this.isInSlice(timeS, last)) {
      const next = this.count++
      this.at[next] = timeS
      this.low[next] = low
      this.high[next] = high
      this.rising[next] = rising
      return
    }
    if (low < this.low[last]) {
      this.low[last] = low
      this.rising[last] = 0
    }
    if (high > this.high[last]) {
      this.high[last] = high
      this.rising[last] = 1
    }
  }

  private makeRoom(nowS: number): void {
    if (this.windowS !== null) {
      const first = firstAt(this.at.subarray(0, this.count), nowS - this.windowS)
      if (first > 0) {
        for (const column of [this.low, this.high, this.rising, this.at])
          column.copyWithin(0, first, this.count)
        this.count -= first
        return
      }
    }
    this.sliceS *= GROWTH
    const before = this.count
    this.count = 0
    for (let i = 0; i < before; i++) this.put(this.at[i], this.low[i], this.high[i], this.rising[i])
  }

  /** Readings further apart than this are shown as a gap. */
  get gapS(): number {
    const step = Number.isFinite(this.typicalStepS) ? this.typicalStepS : 0
    return Math.max(3, 6 * step, 2.5 * this.sliceS)
  }

  /**
   * Columns for a chart between two times: two points a slice, in the order of the readings, and NaN where the
   * logger sent nothing. They are views of buffers that the next call overwrites: draw at once.
   */
  columns(
    fromS: number,
    slope: number,
    offset: number,
    untilS = Number.POSITIVE_INFINITY,
  ): { readonly x: Float64Array; readonly y: Float64Array } {
    const { at, low, high, rising, count, drawnX, drawnY } = this
    const gap = this.gapS
    const beside = this.sliceS * 0.4
    let n = 0
    for (let i = firstAt(at.subarray(0, count), fromS); i < count && at[i] <= untilS; i++) {
      if (i > 0 && at[i] - at[i - 1] > gap) {
        drawnX[n] = at[i] - 1e-6
        drawnY[n++] = Number.NaN
      }
      drawnX[n] = at[i]
      drawnY[n++] = (rising[i] ? low[i] : high[i]) * slope + offset
      if (low[i] === high[i]) continue
      drawnX[n] = i + 1 < count ? at[i] + Math.min(beside, (at[i + 1] - at[i]) / 2) : at[i] + beside
      drawnY[n++] = (rising[i] ? high[i] : low[i]) * slope + offset
    }
    return { x: drawnX.subarray(0, n), y: drawnY.subarray(0, n) }
  }
}
