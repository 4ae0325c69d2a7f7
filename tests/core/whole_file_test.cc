#include "core/whole_file.h"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

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

// Written by a rename, `--json /dev/null --force` as root would put a plain file there for every program of the
// machine.
TEST_CASE("a pipe is written into and stays a pipe") {
  const ScratchFolder folder;
  const std::string pipe = folder / "pipe";
  REQUIRE(mkfifo(pipe.c_str(), 0600) == 0);
  const int reader = open(pipe.c_str(), O_RDONLY | O_NONBLOCK);
  REQUIRE(reader >= 0);
  CHECK(IsDeviceOrPipe(pipe));
  CHECK_FALSE(IsDeviceOrPipe(folder / "none"));
  CHECK_FALSE(IsDeviceOrPipe(folder / "."));
  CHECK(WriteWholeFile(pipe, "through").ok());
  char got[16] = {};
  CHECK(read(reader, got, sizeof got) == 7);
  CHECK(std::string(got) == "through");
  close(reader);
  CHECK(std::filesystem::is_fifo(pipe));
  CHECK(folder.Files() == 1);
}

TEST_CASE("missing files and folders are told apart") {
  const ScratchFolder folder;
  CHECK(ReadWholeFile(folder / "none").status().sentence().find("does not exist") != std::string::npos);
  CHECK(ReadWholeFile(folder / ".").status().sentence().find("folder") != std::string::npos);
}
