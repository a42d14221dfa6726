const { readFileSync, writeFileSync } = require('node:fs')

// Preloaded into a process of the bench: writes what it took into the file that BENCH_RESOURCES names.
process.on('exit', () => {
  const { user, system } = process.cpuUsage()
  const resources = { seconds: process.uptime(), processorMs: (user + system) / 1000, memoryMB: highestMB() }
  writeFileSync(process.env.BENCH_RESOURCES, JSON.stringify(resources))
})

function highestMB() {
  try {
    return Number(/^VmHWM:\s+(\d+)/m.exec(readFileSync('/proc/self/status', 'utf8'))[1]) / 1024
  } catch {
    // Where this file is missing; on Linux this figure includes the process that started this one.
    return process.resourceUsage().maxRSS / 1024
  }
}
