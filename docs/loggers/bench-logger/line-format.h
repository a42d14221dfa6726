// Writes one reading as a line of InfluxDB line protocol. Plain C++11 without floating point, heap or printf, so that
// it runs on the smallest boards and can be tested on any computer.
//
//   logger,port=a seq=12i,p1=2.500123,rail=5.001250,r1=10012.3,crc=7214i
//
// seq  counts the lines: the computer notices every one that is lost.
// crc  CRC-16/CCITT-FALSE of all before ",crc=": the computer refuses a line with a wrong character in it.
// A sensor that does not answer leaves its field out. Nothing is ever written in its place.
#pragma once

#include <stddef.h>
#include <stdint.h>

struct Reading {
  uint32_t seq;
  bool hasPressure;
  int32_t pressureMicrovolt;
  bool hasRail;
  int32_t railMicrovolt;
  bool hasThermistor;
  int32_t thermistorDeciohm;
};

class LineWriter {
 public:
  LineWriter(char *line, size_t size) : line_(line), size_(size), length_(0), full_(size == 0) {}

  void text(const char *text) {
    while (*text != '\0') character(*text++);
  }

  void unsignedInteger(uint32_t value) {
    char digits[10];
    uint8_t count = 0;
    do {
      digits[count++] = static_cast<char>('0' + value % 10);
      value /= 10;
    } while (value > 0);
    while (count > 0) character(digits[--count]);
  }

  // 2500123 with 6 decimals is 2.500123.
  void fixedPoint(int32_t value, uint8_t decimals) {
    uint32_t magnitude = static_cast<uint32_t>(value);
    if (value < 0) {
      character('-');
      magnitude = 0u - magnitude;
    }
    uint32_t one = 1;
    for (uint8_t i = 0; i < decimals; i++) one *= 10;
    unsignedInteger(magnitude / one);
    if (decimals == 0) return;
    character('.');
    uint32_t rest = magnitude % one;
    for (one /= 10; one > 0; one /= 10) {
      character(static_cast<char>('0' + rest / one));
      rest %= one;
    }
  }

  uint16_t crc16() const {
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < length_; i++) {
      crc = static_cast<uint16_t>(crc ^ (static_cast<uint16_t>(static_cast<uint8_t>(line_[i])) << 8));
      for (uint8_t bit = 0; bit < 8; bit++)
        crc = static_cast<uint16_t>((crc & 0x8000) ? (crc << 1) ^ 0x1021 : crc << 1);
    }
    return crc;
  }

  // Length of the line; 0 when it did not fit, because half a line is worse than none.
  size_t finish() {
    character('\0');
    return full_ ? 0 : length_ - 1;
  }

 private:
  void character(char c) {
    if (length_ >= size_) full_ = true;
    if (!full_) line_[length_++] = c;
  }

  char *line_;
  size_t size_;
  size_t length_;
  bool full_;
};

// Room for the longest line and its closing zero.
const size_t longestLine = 112;

inline size_t formatReading(const Reading &reading, const char *port, char *line, size_t size) {
  LineWriter writer(line, size);
  writer.text("logger,port=");
  writer.text(port);
  writer.text(" seq=");
  writer.unsignedInteger(reading.seq);
  writer.text("i");
  if (reading.hasPressure) {
    writer.text(",p1=");
    writer.fixedPoint(reading.pressureMicrovolt, 6);
  }
  if (reading.hasRail) {
    writer.text(",rail=");
    writer.fixedPoint(reading.railMicrovolt, 6);
  }
  if (reading.hasThermistor) {
    writer.text(",r1=");
    writer.fixedPoint(reading.thermistorDeciohm, 1);
  }
  const uint16_t crc = writer.crc16();
  writer.text(",crc=");
  writer.unsignedInteger(crc);
  writer.text("i");
  return writer.finish();
}
