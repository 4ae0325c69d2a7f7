// The advisor's door: a session's shots become advice. Pure: the same shots, the same advice.
//
//   shots -- JudgeShots (causes.h) -- findings.h, lane_read.h, next_move.h, compare.h, outlook.h -- Advice
#pragma once

#include <vector>

#include "advice/causes.h"
#include "advice/outlook.h"
#include "core/status.h"
#include "model/advice.h"
#include "model/shot.h"

namespace hookline::advice {

struct AdviceOptions {
  CauseOptions causes;
  OutlookOptions outlook;
  Status Check() const {
    const Status s = causes.Check();
    return s.ok() ? outlook.Check() : s;
  }
};

// `shots`: one session in order, any bowlers. Numbers that do not rise are counted anew, with a warning.
Advice Advise(std::vector<Shot> shots, const AdviceOptions& options = {});

}  // namespace hookline::advice
