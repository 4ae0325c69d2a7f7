// Files that are either there whole or not there at all: written under a passing name beside the target and renamed at
// the end, so that a stopped run, a full disk or a crash never leaves half a result under the name that was asked for.
#pragma once

#include <string>
#include <string_view>

#include "core/status.h"

namespace hookline {

// Writes `content` to `file`, replacing what was there. A device or a pipe (/dev/null, /dev/stdout) is written into,
// never replaced. kBadFile with a sentence when it cannot; the old content then still stands.
Status WriteWholeFile(const std::string& file, std::string_view content);

// True for what is there but neither a file nor a folder: a device, a pipe, a socket.
bool IsDeviceOrPipe(const std::string& file);

// The whole content of a file. kBadFile with a sentence when it is missing, a folder or not readable.
Result<std::string> ReadWholeFile(const std::string& file);

}  // namespace hookline
