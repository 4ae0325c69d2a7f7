// From result files to the page (report/page.h): the advice as `hookline advise` gives it, and pictures with the path
// drawn, from the clips where they still are. The command line and the viewer call the very same function.
#pragma once

#include <string>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "pipeline/blur_people.h"
#include "report/page.h"

namespace hookline::pipeline {

// A measured clip and where its result file lies ("" when it was never written).
struct SessionFile {
  std::string file;
  ClipResult result;
};

struct PageOptions {
  std::string title;         // empty: made from what the shots say
  bool pictures = true;      // false: none, and no clip is opened
  std::string clips_folder;  // where clips are looked for first; empty: as the result says, then beside the result file
  BlurOptions blur;
};

// Where a result's clip is now; empty when it cannot be found.
std::string ClipOf(const SessionFile& file, const std::string& clips_folder);

// Bowlers whose pictures the page would hold; empty when there are none: no consent is needed then.
std::vector<std::string> BowlersShown(const std::vector<SessionFile>& session, const PageOptions& options);

// The session in order of the files; shots are numbered as the advice numbers them. A clip that is missing or cannot be
// read leaves its shots without pictures, said on the page. kNotDetermined when there is no shot at all; kStopped.
Result<report::Page> PageOfSession(const std::vector<SessionFile>& session, const PageOptions& options,
                                   const ProgressFn& progress, const StopToken& stop);

}  // namespace hookline::pipeline
