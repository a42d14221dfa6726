// Preloaded into a process of the bench: writes its processor time, [ms], into the file that BENCH_PROCESSOR names.
process.on('exit', () => {
  const { user, system } = process.cpuUsage()
  require('node:fs').writeFileSync(process.env.BENCH_PROCESSOR, String((user + system) / 1000))
})
