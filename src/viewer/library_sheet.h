// The library in the window: the desk's shots are kept in it, and what it holds is shown, session by session.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "viewer/keep_in_library.h"
#include "viewer/style.h"

namespace hookline::viewer {

class LibrarySheet {
 public:
  // Opens the library's file (library::DefaultFile(), made when there is none); trouble is told on the sheet.
  void Open(const Desk& desk);
  bool open() const { return open_; }
  // Sessions and shots as last read, and what became of the last keeping; for tests.
  const std::vector<library::Session>& sessions() const { return sessions_; }
  const std::string& said() const { return said_; }
  void Draw(const Style& style, const Desk& desk);
  // Where the sheet's buttons are, for tests that use a mouse.
  struct Spot {
    const char* name;
    float left, top, right, bottom;
  };
  const std::vector<Spot>& spots() const { return spots_; }

 private:
  void Read();
  void ReadShots(std::int64_t session);
  void Keep(const Desk& desk);
  void DrawSessions(const Style& style);
  void DrawShots(const Style& style);
  bool Button(const char* name);
  bool open_ = false, just_opened_ = false, bad_ = false;
  std::unique_ptr<library::Library> library_;
  KeepWish wish_;
  std::vector<library::Session> sessions_;
  std::int64_t session_ = 0;  // whose shots are shown; 0: none
  std::vector<library::StoredShot> shots_;
  std::string said_;  // one sentence
  std::vector<Spot> spots_;
};

}  // namespace hookline::viewer
