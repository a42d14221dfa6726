/**
 * What asks a running program to end in order: Ctrl+C, a service's stop, and on Windows Ctrl+Break and the closing of the
 * window. Elsewhere a hang-up stays as it was set, since `nohup` means that the program shall go on.
 */
export const stopSignals: readonly NodeJS.Signals[] =
  process.platform === 'win32' ? ['SIGINT', 'SIGTERM', 'SIGBREAK', 'SIGHUP'] : ['SIGINT', 'SIGTERM']
