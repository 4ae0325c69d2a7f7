// Shots out of result files given on the command line, one session in order.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "model/shot.h"

namespace hookline::cli {

struct SessionChoice {
  std::vector<std::string> files;
  std::string ball;        // empty: every ball; shots whose ball is not said count as one ball
  std::vector<int> shots;  // places in the session, 1 first; empty: all
};

// The shots in the order of the files, numbered anew from 1. kBadFile for a file that is none; kBadUse when a ball or a
// shot that is asked for is not there.
Result<std::vector<Shot>> ShotsOf(const SessionChoice& choice);

// The ball with the most shots, when shots of several are there.
std::string MostUsedBall(const std::vector<Shot>& shots);

}  // namespace hookline::cli
