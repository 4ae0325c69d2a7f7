// A lane setup kept in a file, for a tripod that has not moved. The form is documented in docs/lane-setup-file.md.
#pragma once

#include <string>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

// The file's text (JSON), and a setup from such text. kBadFile with one sentence when the text is not a lane setup.
std::string SetupText(const LaneSetup& setup);
Result<LaneSetup> SetupFromText(const std::string& text, const std::string& file_name);

// Writes the whole file or none of it; does not overwrite. Reading: kBadFile when missing or not a lane setup.
Status SaveSetup(const std::string& file, const LaneSetup& setup);
Result<LaneSetup> LoadSetup(const std::string& file);

// How well a stored setup fits a clip: the rms distance of the lane's edges, foul line and pins seen from where the
// setup has them.
struct SetupCheck {
  bool fits = false;
  double rms_px = -1;    // -1: nothing of the lane was seen where it should be
  double shift_px = 0;   // median distance of the evidence, px
  std::string sentence;  // for the user when it does not fit
};
SetupCheck CheckSetup(const LaneSetup& setup, const Background& background);

}  // namespace hookline::setup
