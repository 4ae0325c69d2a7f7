// A shot's causes as plain sentences: what happened with its number and doubt, the shots it rests on, what to try.
#pragma once

#include <string>
#include <vector>

#include "advice/causes.h"
#include "model/advice.h"

namespace hookline::advice {

// One list a shot. A cause with a probability of a half or more gets a sentence; a shot that went elsewhere than usual
// with none of them is called noise. The first shots say that there are too few yet, and what differs if something
// does, in place of a finding on the release.
std::vector<std::vector<Finding>> FindingsOf(const std::vector<ShotVerdict>& verdicts, const CauseOptions& options);

// The fixed cautions that this advice calls for.
std::vector<std::string> CautionsFor(const Advice& advice);

}  // namespace hookline::advice
