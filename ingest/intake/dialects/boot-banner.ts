/** Boot messages of common microcontrollers and their runtimes. Common practice, from their boot loaders. */
const banners: readonly RegExp[] = [
  /^ets [A-Z][a-z]{2} +\d+ \d{4}/,
  /^rst(?: cause)?:\s*(?:0x)?[0-9a-f]+\b/i,
  /^ESP-ROM:/,
  /^Build:[A-Z][a-z]{2} +\d+ \d{4}$/,
  /^(?:configsip|clk_drv|SPIWP|mode|load|entry|tail|chksum|csum|cut|wait for)\b.*(?:0x|div:|dio|qio|ver:)/i,
  /\b(?:power-?on|brown-?out|watchdog|soft(?:ware)?|hard(?:ware)?|panic) ?reset\b/i,
  /^(?:Guru Meditation|Brownout detector|Rebooting\b|MPY: soft reboot|soft reboot|MicroPython v|Adafruit CircuitPython)/i,
  /^[#*=\s-]*(?:boot(?:ing|ed|up)?|reboot(?:ing|ed)?|reset|start(?:ing|ed)?(?: up)?|power(?:ed)? (?:on|up)|hello|ready|setup)\b/i,
  /^#.*\bboot\b/i,
]

const shortest = 'boot'.length

/** True for a boot message of a microcontroller; in mid-stream it means that the logger has reset. */
export function isBootBanner(line: string): boolean {
  const text = line.trim()
  if (text.length < shortest) return false
  return banners.some((banner) => banner.test(text))
}
