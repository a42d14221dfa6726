import { firstAt } from '../parts/line-path.ts'

/** Small, so that the number of slices, and with it the work of drawing, hardly changes. */
const GROWTH = 1.1

/**
 * The drawn history of one channel in bounded memory: the lowest and highest reading of each slice of time.
 * When the slices run out they become a tenth wider, so that hour 24 costs what hour 1 costs; a moving window
 * drops what has left it.
 */
export class LiveTrace {
  private readonly low: Float64Array
  private readonly high: Float64Array
  /** True where the low came before the high. */
  private readonly rising: Uint8Array
  private readonly at: Float64Array
  /** Filled anew at each drawing: a slice is two points and at most one gap. */
  private readonly drawnX: Float64Array
  private readonly drawnY: Float64Array
  private count = 0
  private lastS = Number.NaN
  private typicalStepS = Number.NaN

  constructor(
    private sliceS: number,
    /** Keep only this much behind the newest reading; null keeps all, coarser and coarser. */
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
    const slice = Math.floor(timeS / this.sliceS)
    const last = this.count - 1
    if (last >= 0 && Math.floor(this.at[last] / this.sliceS) === slice) {
      if (reading < this.low[last]) {
        this.low[last] = reading
        this.rising[last] = 0
      }
      if (reading > this.high[last]) {
        this.high[last] = reading
        this.rising[last] = 1
      }
      return
    }
    if (this.count === this.capacity) this.makeRoom(timeS)
    this.at[this.count] = timeS
    this.low[this.count] = reading
    this.high[this.count] = reading
    this.rising[this.count] = 1
    this.count++
  }

  private makeRoom(nowS: number): void {
    if (this.windowS !== null) {
      let first = 0
      while (first < this.count && this.at[first] < nowS - this.windowS) first++
      if (first > 0) {
        for (const column of [this.low, this.high, this.rising, this.at])
          column.copyWithin(0, first, this.count)
        this.count -= first
        return
      }
    }
    this.sliceS *= GROWTH
    let kept = 0
    for (let i = 0; i < this.count; i++) {
      const previous = kept - 1
      if (
        previous >= 0 &&
        Math.floor(this.at[previous] / this.sliceS) === Math.floor(this.at[i] / this.sliceS)
      ) {
        if (this.low[i] < this.low[previous]) {
          this.low[previous] = this.low[i]
          this.rising[previous] = 0
        }
        if (this.high[i] > this.high[previous]) {
          this.high[previous] = this.high[i]
          this.rising[previous] = 1
        }
      } else {
        this.at[kept] = this.at[i]
        this.low[kept] = this.low[i]
        this.high[kept] = this.high[i]
        this.rising[kept] = this.rising[i]
        kept++
      }
    }
    this.count = kept
  }

  /** Readings further apart than this are shown as a gap. */
  get gapS(): number {
    const step = Number.isFinite(this.typicalStepS) ? this.typicalStepS : 0
    return Math.max(3, 6 * step, 2.5 * this.sliceS)
  }

  /**
   * Columns for a chart between two times: two points a slice, in the order the readings came, and no number where the
   * logger said nothing. They are views of memory that the next call writes again: draw at once.
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
