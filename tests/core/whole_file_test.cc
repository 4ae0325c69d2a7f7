#include "core/whole_file.h"

#include <doctest/doctest.h>
#include <stdlib.h>

#include <filesystem>

using namespace hookline;
namespace fs = std::filesystem;

namespace {

struct Folder {
  Folder() {
    std::string name = (fs::temp_directory_path() / "hookline-core-XXXXXX").string();
    path = mkdtemp(name.data());
  }
  ~Folder() { fs::remove_all(path); }
  fs::path path;
};

}  // namespace

TEST_CASE("what was written is read back, bytes and all, and nothing else is left") {
  const Folder folder;
  const std::string file = (folder.path / "a").string(), content("x\0y\r\n", 5);
  REQUIRE(WriteWholeFile(file, content).ok());
  const auto read = ReadWholeFile(file);
  REQUIRE(read.ok());
  CHECK(*read == content);
  REQUIRE(WriteWholeFile(file, "short").ok());
  CHECK(*ReadWholeFile(file) == "short");
  CHECK(std::distance(fs::directory_iterator(folder.path), fs::directory_iterator()) == 1);
}

TEST_CASE("a write that fails says so and leaves nothing half written") {
  const Folder folder;
  CHECK(WriteWholeFile((folder.path / "none" / "a").string(), "x").code() == StatusCode::kBadFile);
  fs::create_directory(folder.path / "taken");
  CHECK(WriteWholeFile((folder.path / "taken").string(), "x").code() == StatusCode::kBadFile);
  CHECK(std::distance(fs::directory_iterator(folder.path), fs::directory_iterator()) == 1);
}

TEST_CASE("missing files and folders are told apart") {
  const Folder folder;
  CHECK(ReadWholeFile((folder.path / "none").string()).status().sentence().find("does not exist") != std::string::npos);
  CHECK(ReadWholeFile(folder.path.string()).status().sentence().find("folder") != std::string::npos);
}
