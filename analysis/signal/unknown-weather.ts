/** Unknown change of the weather where no barometer is connected, [Pa/s]: 1.3 hPa an hour, one standard deviation. */
export const unknownWeatherPaPerS = 130 / 3600
