/** A function that makes each of its answers once. */
export function once<K, V>(make: (key: K) => V): (key: K) => V {
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
