// The few calls of the board's runtime that the example sketch uses, over standard output.
#pragma once
#include <cstddef>
#include <cstdint>
#include <cstdio>

inline void delay(unsigned long) {}

struct HostSerial {
  void begin(unsigned long) {}
  void println(const char *text) { std::printf("%s\r\n", text); }
};
extern HostSerial Serial;
