/** Times of one or several columns, [s]; grows in place. */
export class TimeAxis {
  timeS: Float64Array
  count = 0

  constructor(capacity: number) {
    this.timeS = new Float64Array(capacity)
  }

  push(timeS: number, forecast: Forecast): void {
    if (this.count === this.timeS.length) this.timeS = grown(this.timeS, forecast(this.count))
    this.timeS[this.count++] = timeS
  }
}

/** New capacity, in points, when `count` have filled a column. */
export type Forecast = (count: number) => number

/**
 * One column of numbers with its times. Columns filled by the same lines share one time axis (copy on write): a
 * column uses an axis while its own times are a prefix of it, and takes a copy when they differ.
 */
export class Column {
  values: Float64Array
  count = 0
  /** Number of points earlier than their predecessor. */
  outOfOrder = 0
  earliestS = Number.POSITIVE_INFINITY
  axis: TimeAxis
  #newestS = Number.NEGATIVE_INFINITY
  readonly #forecast: Forecast
  readonly #axes: TimeAxis[]

  /**
   * @param axes shared list of all axes; every column begins on the first
   * @param values room for the first values
   */
  constructor(axes: TimeAxis[], values: Float64Array, forecast: Forecast) {
    this.axis = axes[0]
    this.#axes = axes
    this.values = values
    this.#forecast = forecast
  }

  append(timeS: number, value: number): void {
    const n = this.count
    if (n === this.values.length) this.values = grown(this.values, this.#forecast(n))
    if (this.axis.count === n) this.axis.push(timeS, this.#forecast)
    else if (this.axis.timeS[n] !== timeS) this.#part(timeS)
    this.values[n] = value
    this.count = n + 1
    if (timeS < this.earliestS) this.earliestS = timeS
    if (timeS < this.#newestS) this.outOfOrder++
    else this.#newestS = timeS
  }

  /** Times of this column: a view, shared with the columns that follow the same axis. */
  get timeS(): Float64Array {
    return this.axis.timeS.subarray(0, this.count)
  }

  #part(timeS: number): void {
    const n = this.count
    const own = this.axis.timeS
    // Newest first: the columns of one line part one after another.
    const alike = this.#axes.findLast(
      (axis) => axis.count === n + 1 && axis.timeS[n] === timeS && startsAlike(axis.timeS, own, n),
    )
    if (alike !== undefined) {
      this.axis = alike
      return
    }
    const parted = new TimeAxis(own.length)
    parted.timeS.set(own.subarray(0, n))
    parted.count = n
    parted.push(timeS, this.#forecast)
    this.axis = parted
    this.#axes.push(parted)
  }
}

function startsAlike(a: Float64Array, b: Float64Array, count: number): boolean {
  for (let i = 0; i < count; i++) if (a[i] !== b[i]) return false
  return true
}

function grown(column: Float64Array, capacity: number): Float64Array {
  const larger = new Float64Array(Math.max(capacity, 2 * column.length))
  larger.set(column)
  return larger
}
