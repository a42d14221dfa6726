/** Four channels of a logger at 100 Hz, as line protocol and as the same data in JSON lines. */
export function loggerLines(count: number): { readonly text: string; readonly json: string } {
  const lines: string[] = []
  const objects: string[] = []
  let timeNs = 1_767_225_600_000_000_000n
  for (let k = 0; k < count; k++) {
    const p1 = (10 + Math.sin(k / 100) / 50).toFixed(4)
    const p2 = (9.8 + Math.cos(k / 90) / 50).toFixed(4)
    const t1 = (21 + (k % 700) / 1000).toFixed(2)
    const baro = (1013.2 + (k % 10) / 100).toFixed(2)
    lines.push(`logger,port=a p1=${p1},p2=${p2},t1=${t1},baro=${baro} ${timeNs}\n`)
    objects.push(
      `{"measurement":"logger","tags":{"port":"a"},"fields":{"p1":${p1},"p2":${p2},"t1":${t1},"baro":${baro}},"time":"${timeNs}"}\n`,
    )
    timeNs += 10_000_000n
  }
  return { text: lines.join(''), json: objects.join('') }
}
