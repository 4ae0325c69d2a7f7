#include "core/whole_file.h"

#include <doctest/doctest.h>

#include <filesystem>

#include "scratch_folder.h"

using namespace hookline;
using test::ScratchFolder;

TEST_CASE("what was written is read back, bytes and all, and nothing else is left") {
  const ScratchFolder folder;
  const std::string file = folder / "a", content("x\0y\r\n", 5);
  REQUIRE(WriteWholeFile(file, content).ok());
  const auto read = ReadWholeFile(file);
  REQUIRE(read.ok());
  CHECK(*read == content);
  REQUIRE(WriteWholeFile(file, "short").ok());
  CHECK(*ReadWholeFile(file) == "short");
  CHECK(folder.Files() == 1);
}

TEST_CASE("a write that fails says so and leaves nothing half written") {
  const ScratchFolder folder;
  CHECK(WriteWholeFile(folder / "none/a", "x").code() == StatusCode::kBadFile);
  std::filesystem::create_directory(folder / "taken");
  CHECK(WriteWholeFile(folder / "taken", "x").code() == StatusCode::kBadFile);
  CHECK(folder.Files() == 1);
}

TEST_CASE("missing files and folders are told apart") {
  const ScratchFolder folder;
  CHECK(ReadWholeFile(folder / "none").status().sentence().find("does not exist") != std::string::npos);
  CHECK(ReadWholeFile(folder / ".").status().sentence().find("folder") != std::string::npos);
}
