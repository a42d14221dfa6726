/** First line of every recording. */
export const recordingHeader = '# stillhold recording 1'
/** What a comment line that keeps rejected bytes begins with. */
export const rejectedPrefix = '#!'
