/** First line of every recording. */
export const recordingHeader = '# stillhold recording 1'
/** Prefix of a comment line that keeps rejected bytes. */
export const rejectedPrefix = '#!'
