/** A room and an atmosphere in which nothing moves. */
export const calmWeather = {
  roomK: 288.15,
  roomRampKPerS: 0,
  swings: [],
  doors: [],
  sunK: 0,
  sunAtS: 0,
  sunTauS: 600,
  barometricPa: 101325,
  barometricRampPaPerS: 0,
  barometricSwingPa: 0,
  barometricPeriodS: 600,
}
