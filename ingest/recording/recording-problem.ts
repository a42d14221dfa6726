/** A finding about a recording that the reader must report; none is dropped in silence. */
export interface RecordingProblem {
  readonly code: /** The first line is not the header; the rest is line protocol. */
    | 'no-header'
    /** A line that is not a point. */
    | 'refused-line'
    /** The last line ends in the middle. */
    | 'cut-last-line'
    /** Lines that were rejected on arrival and kept as `#!` comments. */
    | 'rejected-on-arrival'
    | 'out-of-order'
    | 'missing-sequence'
    /** A channel's field that was text or a boolean. */
    | 'not-a-number'
    /** Raw numbers that the channel's scale cannot turn into a reading. */
    | 'no-reading'
    /** A channel of the system file with no sample in the recording. */
    | 'no-samples'
    /** A movable gauge without a mark of its section. */
    | 'no-place'
    | 'unknown-mark'
    | 'zero-applied'
    | 'zero-ignored'
    | 'calibration-overdue'
  /** Line of the file, from 1; null when it concerns more than one. */
  readonly line: number | null
  /** One plain sentence. */
  readonly message: string
}
