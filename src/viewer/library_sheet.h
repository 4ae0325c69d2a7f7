// The library in the window: the desk's shots are kept in it, and what it holds is shown, session by session.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "viewer/keep_in_library.h"
#include "viewer/sheet.h"

namespace hookline::viewer {

class LibrarySheet : public Sheet {
 public:
  LibrarySheet() : Sheet("Library", 56) {}
  // Opens the library's file (library::DefaultFile(), made when there is none); trouble is told on the sheet.
  void Open(const Desk& desk);
  // Sessions and shots as last read, and what became of the last keeping; for tests.
  const std::vector<library::Session>& sessions() const { return sessions_; }
  const std::vector<library::StoredShot>& shots() const { return shots_; }
  const std::string& said() const { return said_; }
  void Draw(const Style& style, const Desk& desk);

 private:
  void Read();
  void ReadShots(std::int64_t session);
  void Keep(const Desk& desk);
  void DrawSessions(const Style& style);
  void DrawShots(const Style& style);
  bool bad_ = false;
  std::unique_ptr<library::Library> library_;
  KeepWish wish_;
  std::vector<library::Session> sessions_;
  std::int64_t session_ = 0;  // whose shots are shown; 0: none
  std::vector<library::StoredShot> shots_;
  std::string said_;  // one sentence
};

}  // namespace hookline::viewer
