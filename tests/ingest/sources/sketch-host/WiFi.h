// Stands in for the Wi-Fi library of a 3.3 V board: a client connects in the second round, and what it gets is printed behind 'tcp '.
#pragma once

#include <cstdio>

class WiFiClient {
 public:
  explicit WiFiClient(bool connected = false) : connected_(connected) {}
  explicit operator bool() const { return connected_; }
  void println(const char *line) { std::printf("tcp %s\r\n", line); }

 private:
  bool connected_;
};

class WiFiServer {
 public:
  explicit WiFiServer(int port) : port_(port) {}
  void begin() { begun_ = port_ == 23; }
  WiFiClient available() { return WiFiClient(begun_ && ++asked_ == 2); }

 private:
  int port_;
  bool begun_ = false;
  int asked_ = 0;
};

struct HostWiFi {
  void begin(const char *, const char *) {}
};
static HostWiFi WiFi;
