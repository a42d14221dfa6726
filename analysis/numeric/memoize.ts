/** Memoized function: each key is computed once. @param keyOf identifies equal arguments that are different objects */
export function memoize<A, V>(
  make: (argument: A) => V,
  keyOf: (argument: A) => unknown = (a) => a,
): (argument: A) => V {
  const known = new Map<unknown, V>()
  return (argument) => {
    const key = keyOf(argument)
    let made = known.get(key)
    if (made === undefined) {
      made = make(argument)
      known.set(key, made)
    }
    return made
  }
}
