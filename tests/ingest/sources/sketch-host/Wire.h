// A two-wire bus with one simulated 16-bit converter at address 0x48: 2.5 V, 5.0 V and 2.5 V on inputs 0, 1 and 2.
#pragma once
#include "Arduino.h"

struct HostWire {
  uint8_t address = 0, bytes[4] = {}, count = 0, input = 0, at = 0;
  bool answers = true;
  void begin() {}
  void beginTransmission(uint8_t to) {
    address = to;
    count = 0;
  }
  void write(uint8_t byte) {
    if (count < 4) bytes[count++] = byte;
  }
  uint8_t endTransmission() {
    if (!answers || address != 0x48) return 2;
    if (count == 3 && bytes[0] == 1) input = (bytes[1] >> 4) & 3;
    return 0;
  }
  uint8_t requestFrom(uint8_t, uint8_t wanted) {
    at = 0;
    return answers ? wanted : 0;
  }
  int read() {
    // 187.5 microvolts a count: 13333 is 2.4999375 V, 26667 is 5.0000625 V.
    const int16_t counts = input == 1 ? 26667 : 13333;
    return at++ == 0 ? (counts >> 8) & 0xFF : counts & 0xFF;
  }
};
extern HostWire Wire;
