/** Character codes of the line protocol syntax. */
export const newline = 10
export const carriageReturn = 13
export const space = 32
export const quote = 34
export const hash = 35
export const plus = 43
export const comma = 44
export const minus = 45
export const dot = 46
export const zero = 48
export const nine = 57
export const equals = 61
export const backslash = 92
export const letterE = 101
export const letterI = 105
export const letterU = 117
export const del = 127
