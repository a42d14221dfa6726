/**
 * Signals that end the program in order: Ctrl+C, a service's stop, and on Windows Ctrl+Break and the closing of the
 * window. Elsewhere the hang-up handler is unchanged, because `nohup` must keep the program running.
 */
export const stopSignals: readonly NodeJS.Signals[] =
  process.platform === 'win32' ? ['SIGINT', 'SIGTERM', 'SIGBREAK', 'SIGHUP'] : ['SIGINT', 'SIGTERM']
