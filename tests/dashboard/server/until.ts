/** Waits until something is so; the test's own time limit ends a wait in vain. */
export async function until<T>(look: () => T | Promise<T>, everyMs = 20): Promise<NonNullable<T>> {
  for (;;) {
    const seen = await look()
    if (seen) return seen
    await new Promise((resolve) => setTimeout(resolve, everyMs))
  }
}
