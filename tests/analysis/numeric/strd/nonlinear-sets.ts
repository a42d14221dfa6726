/**
 * Nonlinear sets of the NIST Statistical Reference Datasets with their certified values.
 * Source: [nist-strd], data read in copies in public test suites; a wrong digit would show as a missed certified value.
 */
export interface NonlinearSet {
  readonly x: readonly number[]
  readonly y: readonly number[]
  readonly model: (x: number, b: ArrayLike<number>) => number
  readonly starts: readonly (readonly number[])[]
  readonly parameters: readonly number[]
  readonly std: readonly number[]
  readonly residualSumOfSquares: number
}

export const misra1a: NonlinearSet = {
  x: [77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760],
  y: [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78],
  model: (x, b) => b[0] * (1 - Math.exp(-b[1] * x)),
  starts: [
    [500, 0.0001],
    [250, 0.0005],
  ],
  parameters: [2.3894212918e2, 5.5015643181e-4],
  std: [2.7070075241, 7.2668688436e-6],
  residualSumOfSquares: 1.2455138894e-1,
}

export const boxBod: NonlinearSet = {
  x: [1, 2, 3, 5, 7, 10],
  y: [109, 149, 149, 191, 213, 224],
  model: (x, b) => b[0] * (1 - Math.exp(-b[1] * x)),
  starts: [
    [1, 1],
    [100, 0.75],
  ],
  parameters: [2.1380940889e2, 5.4723748542e-1],
  std: [1.2354515176e1, 1.0455993237e-1],
  residualSumOfSquares: 1.1680088766e3,
}

export const danWood: NonlinearSet = {
  x: [1.309, 1.471, 1.49, 1.565, 1.611, 1.68],
  y: [2.138, 3.421, 3.597, 4.34, 4.882, 5.66],
  model: (x, b) => b[0] * x ** b[1],
  starts: [
    [1, 5],
    [0.7, 4],
  ],
  parameters: [7.6886226176e-1, 3.8604055871],
  std: [1.828197386e-2, 5.1726610913e-2],
  residualSumOfSquares: 4.3173084083e-3,
}

export const mgh17: NonlinearSet = {
  x: Array.from({ length: 33 }, (_, i) => 10 * i),
  y: [
    0.844, 0.908, 0.932, 0.936, 0.925, 0.908, 0.881, 0.85, 0.818, 0.784, 0.751, 0.718, 0.685, 0.658, 0.628,
    0.603, 0.58, 0.558, 0.538, 0.522, 0.506, 0.49, 0.478, 0.467, 0.457, 0.448, 0.438, 0.431, 0.424, 0.42,
    0.414, 0.411, 0.406,
  ],
  model: (x, b) => b[0] + b[1] * Math.exp(-x * b[3]) + b[2] * Math.exp(-x * b[4]),
  starts: [
    [50, 150, -100, 1, 2],
    [0.5, 1.5, -1, 0.01, 0.02],
  ],
  parameters: [3.7541005211e-1, 1.9358469127, -1.4646871366, 1.286753464e-2, 2.2122699662e-2],
  std: [2.0723153551e-3, 2.2031669222e-1, 2.2175707739e-1, 4.4861358114e-4, 8.9471996575e-4],
  residualSumOfSquares: 5.4648946975e-5,
}
