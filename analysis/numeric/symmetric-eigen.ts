/** Eigenvalues and eigenvectors (columns) of a symmetric matrix, by Jacobi's rotations. */
export function eigen(matrix: Float64Array, size: number): { values: Float64Array; vectors: Float64Array } {
  const a = matrix.slice()
  const vectors = new Float64Array(size * size)
  for (let k = 0; k < size; k++) vectors[k * size + k] = 1
  for (let sweep = 0; sweep < 30; sweep++) {
    let rest = 0
    for (let r = 0; r < size; r++) for (let c = 0; c < r; c++) rest += a[r * size + c] ** 2
    if (rest < 1e-18) break
    for (let r = 1; r < size; r++)
      for (let c = 0; c < r; c++) {
        const beside = a[r * size + c]
        if (Math.abs(beside) < 1e-300) continue
        const theta = (a[r * size + r] - a[c * size + c]) / (2 * beside)
        const tangent = (theta < 0 ? -1 : 1) / (Math.abs(theta) + Math.sqrt(theta * theta + 1))
        const cosine = 1 / Math.sqrt(tangent * tangent + 1)
        const sine = tangent * cosine
        rotate(a, c, r, size, size, cosine, sine)
        rotate(a, c * size, r * size, 1, size, cosine, sine)
        rotate(vectors, c, r, size, size, cosine, sine)
      }
  }
  return { values: Float64Array.from({ length: size }, (_, k) => a[k * size + k]), vectors }
}

function rotate(
  a: Float64Array,
  first: number,
  second: number,
  stride: number,
  count: number,
  cosine: number,
  sine: number,
): void {
  for (let k = 0; k < count; k++) {
    const x = a[first + k * stride]
    const y = a[second + k * stride]
    a[first + k * stride] = cosine * x - sine * y
    a[second + k * stride] = sine * x + cosine * y
  }
}
