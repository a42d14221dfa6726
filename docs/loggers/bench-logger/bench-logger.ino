// Example logger: a 0.5-4.5 V pressure transducer and a 10 kohm thermistor on a 16-bit ADS1115 converter.
// Wiring and the system file that goes with it: docs/loggers/README.md. MIT license, like the rest.
//
// Pressure is sent as the voltage it is, with the supply it is measured against: the transducer is ratiometric,
// and the supply of a USB port wanders by more than any leak. The computer does the arithmetic and keeps both.

#include <Wire.h>

#include "line-format.h"

// A 3.3 V board with Wi-Fi also serves its lines over TCP: stillhold record --tcp ADDRESS:23.
#if defined(ESP32)
#include <WiFi.h>
const char networkName[] = "bench";
const char networkKey[] = "change this";
WiFiServer server(23);
WiFiClient client;
#endif

const char portName[] = "a";           // one letter for each logger on the bench
const uint8_t converterAddress = 0x48; // ADDR pin to ground
const uint8_t pressureInput = 0;
const uint8_t railInput = 1;
const uint8_t thermistorInput = 2;
const int32_t dividerDeciohm = 100000; // fixed resistor from the supply to the thermistor, 0.1 ohm
const uint8_t conversions = 10;        // averaged for one reading

uint32_t seq = 0;

// One conversion at +-6.144 V, 128 a second: 187.5 microvolts a count. False when the converter does not answer.
bool convert(uint8_t input, int16_t &counts) {
  Wire.beginTransmission(converterAddress);
  Wire.write(0x01);
  Wire.write(static_cast<uint8_t>(0xC1 | (input << 4)));
  Wire.write(0x83);
  if (Wire.endTransmission() != 0) return false;
  delay(9);
  Wire.beginTransmission(converterAddress);
  Wire.write(0x00);
  if (Wire.endTransmission() != 0) return false;
  if (Wire.requestFrom(converterAddress, static_cast<uint8_t>(2)) != 2) return false;
  const uint16_t high = static_cast<uint8_t>(Wire.read());
  const uint16_t low = static_cast<uint8_t>(Wire.read());
  counts = static_cast<int16_t>((high << 8) | low);
  return true;
}

bool meanMicrovolt(uint8_t input, int32_t &microvolt) {
  int32_t sum = 0;
  for (uint8_t i = 0; i < conversions; i++) {
    int16_t counts;
    if (!convert(input, counts)) return false;
    sum += counts;
  }
  // 187.5 = 375 / 2; the product needs 64 bits.
  microvolt = static_cast<int32_t>(static_cast<int64_t>(sum) * 375 / (2 * conversions));
  return true;
}

void setup() {
  Serial.begin(115200);
  Wire.begin();
  Serial.println("# stillhold bench-logger boot 1");
#if defined(ESP32)
  WiFi.begin(networkName, networkKey); // the core reconnects automatically
  server.begin();
#endif
}

void loop() {
  Reading reading = {};
  reading.seq = seq++;
  reading.hasPressure = meanMicrovolt(pressureInput, reading.pressureMicrovolt);
  reading.hasRail = meanMicrovolt(railInput, reading.railMicrovolt);
  int32_t thermistor;
  if (meanMicrovolt(thermistorInput, thermistor) && reading.hasRail) {
    const int32_t across = reading.railMicrovolt - thermistor;
    // Open or shorted: there is no resistance to report.
    if (across > 1000 && thermistor > 1000) {
      const int64_t deciohm = static_cast<int64_t>(dividerDeciohm) * thermistor / across;
      reading.hasThermistor = deciohm < 20000000;
      reading.thermistorDeciohm = static_cast<int32_t>(reading.hasThermistor ? deciohm : 0);
    }
  }
  char line[longestLine];
  if (formatReading(reading, portName, line, sizeof line) == 0) return;
  Serial.println(line);
#if defined(ESP32)
  if (!client) client = server.available();
  if (client) client.println(line);
#endif
}
