/** Memoized function: each key is computed once. */
export function memoize<K, V>(make: (key: K) => V): (key: K) => V {
  const known = new Map<K, V>()
  return (key) => {
    let made = known.get(key)
    if (made === undefined) {
      made = make(key)
      known.set(key, made)
    }
    return made
  }
}
