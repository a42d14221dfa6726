/** Recordings that one PDF carries, [bytes] in all: a PDF of gigabytes opens nowhere. */
export const mostRecordingBytes = 200e6

/** Attachments that are taken out of one PDF, [bytes] in all when unpacked: what is printed, with its records, and no more. */
export const mostUnpackedBytes = 256e6

/** A PDF larger than this is no certificate, [bytes]. */
export const mostPdfBytes = 300e6
