/** A function that makes each of its answers once. */
export function once<K, V>(make: (key: K) => V): (key: K) => V {
  const known = new Map<K, V>()
  return (key) => {
    const made = known.get(key) ?? make(key)
    known.set(key, made)
    return made
  }
}
