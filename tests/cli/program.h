// Runs the built program as a user would and catches what it says.
#pragma once

#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace hookline::test {

// A folder of its own that goes away with its owner.
class ScratchFolder {
 public:
  ScratchFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "hookline-test-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~ScratchFolder() { std::filesystem::remove_all(path_); }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  std::string operator/(const std::string& name) const { return (path_ / name).string(); }
  std::size_t Files() const {
    return static_cast<std::size_t>(
        std::distance(std::filesystem::directory_iterator(path_), std::filesystem::directory_iterator()));
  }

 private:
  std::filesystem::path path_;
};

inline std::string Content(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

struct Run {
  int code = -1;
  std::string out, err;
};

// Arguments as a shell would have them; paths with blanks are quoted by the caller.
inline Run Hookline(const std::string& arguments) {
  const ScratchFolder scratch;
  const std::string out = scratch / "out", err = scratch / "err";
  const int status =
      std::system(("'" HOOKLINE_PROGRAM "' " + arguments + " >'" + out + "' 2>'" + err + "' </dev/null").c_str());
  Run run;
  run.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  run.out = Content(out);
  run.err = Content(err);
  return run;
}

}  // namespace hookline::test
