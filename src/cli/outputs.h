// Where a command's results go, settled before the long run begins: nothing is overwritten unasked, nothing fails at
// the very end.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include "core/status.h"

namespace hookline::cli {

struct OutputRequest {
  std::string option;                // as typed, "--json", for the sentence
  std::string target;                // as given by the user; empty: not asked for
  std::string ending;                // of files made in a folder, ".json"
  std::vector<std::string> endings;  // that a file may have; empty: any
  bool may_be_stdout = false;        // "-" is allowed, for one clip
};

// One file a clip (or "-"), empty strings when not asked for. A target that is a folder, or ends in '/', gets CLIP's
// name with `ending`; a folder that is not there is made. kBadUse when a file is there already and force is off, when
// the file is one of the clips, when several clips would share one file, or when its folder is missing.
Result<std::vector<std::string>> PlanOutputs(const OutputRequest& request, const std::vector<std::string>& clips,
                                             bool force);

// The same for one file of all clips together.
Result<std::string> PlanOutput(const OutputRequest& request, const std::vector<std::string>& clips, bool force);

// Writes text to a planned file or to standard output.
Status WriteOutput(const std::string& planned, std::string_view text);

}  // namespace hookline::cli
