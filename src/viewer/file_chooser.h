// A list of folders and files to choose clips from. The folder is read when it is entered, not with every frame.
#pragma once

#include <string>
#include <vector>

#include "viewer/style.h"

namespace hookline::viewer {

struct ChooserEntry {
  std::string name, path;
  bool folder = false;
};

// Folders first, then clips and result files, each in the order of the alphabet; what begins with a dot is left out.
// A sentence in `trouble` when the folder cannot be read.
std::vector<ChooserEntry> EntriesOf(const std::string& folder, std::string* trouble);
// By its ending: mp4, mov, m4v, mkv, avi, webm, mts, 3gp; json is a result file.
bool IsClipName(const std::string& name);
bool IsResultName(const std::string& name);

class FileChooser {
 public:
  void Open(const std::string& folder);
  bool open() const { return open_; }
  const std::string& folder() const { return folder_; }
  // Files that were chosen, once.
  std::vector<std::string> Draw(const Style& style);

 private:
  void Enter(const std::string& folder);
  bool open_ = false, just_opened_ = false;
  std::string folder_, typed_, trouble_;
  std::vector<ChooserEntry> entries_;
  std::vector<bool> taken_;
};

}  // namespace hookline::viewer
