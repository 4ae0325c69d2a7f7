// What a clip is known by, wherever it lies and whatever it is called: a hash of its content.
//
// The size, the first and the last mebibyte and sixteen pieces of 64 KiB between are hashed, not the whole: a clip is
// read once to be measured and need not be read again, and two films that differ nowhere there are one film. Twice 64
// bits (FNV-1a, Fowler, Noll & Vo, and the same with its steps mixed by splitmix64, Steele, Lea & Flood 2014): chance
// does not bring two clips together; somebody who wants to could.
#pragma once

#include <cstdint>
#include <string>

#include "core/status.h"

namespace hookline::library {

struct ClipFingerprint {
  std::string text;  // 32 hexadecimal digits
  std::int64_t size = 0;
};

// kBadFile with a sentence when the file cannot be read.
Result<ClipFingerprint> FingerprintOf(const std::string& file);

}  // namespace hookline::library
