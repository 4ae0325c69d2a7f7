// Scenarios at random: everything a scenario holds, varied within what can be met in a bowling centre, from one seed.
// The camera is put where a person who films would put it: the lane in the picture, and the ball seen for most of its
// way (a rule of thumb that is checked on the scene itself). Houses, people, colours and names are invented.
#pragma once

#include <cstdint>
#include <string>

#include "synth/scenario.h"

namespace hookline::synth {

enum class Situation {
  kHook,
  kStraight,
  kBackup,
  kGutter,
  kSpare,
  kNoShot,
  kTwoBalls,
  kSession,
  kHandHeld,
  kKnocked,
  kDrift,
  kVariableRate,
  kLaneColoured
};
enum class PictureFormat { k1080p60, k1080p30, k720p60, k720p120, kPortrait1080p60, kPortrait720p60, k2160p60 };

const char* NameOf(Situation situation);
const char* NameOf(PictureFormat format);

struct RandomKind {
  Situation situation = Situation::kHook;
  PictureFormat format = PictureFormat::k1080p60;
};

// Same seed and kind: same scenario, on every machine.
Scenario RandomScenario(std::uint64_t seed, const RandomKind& kind);

// The kind of clip `index` in the accuracy table's set: about half good footage (1080 lines, landscape, 60 frames a
// second, still camera).
RandomKind TableKind(int index);

}  // namespace hookline::synth
