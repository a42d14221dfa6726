// Runs the example sketch on this computer: `sketch 5` prints what the board would print in five rounds; the
// converter does not answer in the third. `sketch format` prints lines of the formatting core at its limits.
#include <cstdlib>
#include <cstring>

#include "Arduino.h"
#include "Wire.h"

HostSerial Serial;
HostWire Wire;

#include "bench-logger.ino"

int main(int count, char **words) {
  if (count > 1 && std::strcmp(words[1], "format") == 0) {
    const Reading readings[] = {
        {0, true, 0, true, 5000000, true, 100000},
        {4294967295u, true, -6144000, true, INT32_MAX, true, INT32_MIN},
        {7, false, 0, false, 0, false, 0},
        {8, true, -1, true, 1, true, 5},
    };
    char line[longestLine];
    for (const Reading &reading : readings) {
      if (formatReading(reading, "a", line, sizeof line) > 0) Serial.println(line);
      for (size_t size = 0; size <= std::strlen(line); size++) {
        char small[longestLine];
        if (formatReading(reading, "a", small, size) != 0) return 1;
      }
    }
    LineWriter check(line, sizeof line);
    check.text("123456789");
    std::printf("# crc %u\n", check.crc16());
    return 0;
  }
  const int rounds = count > 1 ? std::atoi(words[1]) : 5;
  setup();
  for (int i = 0; i < rounds; i++) {
    Wire.answers = i != 2;
    loop();
  }
  return 0;
}
