#include "cli/outputs.h"

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <set>
#include <system_error>

#include "core/whole_file.h"

namespace hookline::cli {
namespace {

namespace fs = std::filesystem;

bool IsFolder(const std::string& target) {
  std::error_code ignored;
  return target.ends_with('/') || fs::is_directory(target, ignored);
}

Status CheckFile(const OutputRequest& request, const std::string& file, const std::vector<std::string>& clips,
                 bool force) {
  std::error_code ignored;
  const fs::path path(file);
  if (!request.endings.empty() &&
      std::find(request.endings.begin(), request.endings.end(), path.extension()) == request.endings.end()) {
    std::string allowed;
    for (const std::string& ending : request.endings) allowed += (allowed.empty() ? "" : ", ") + ending;
    return {StatusCode::kBadUse, request.option + " " + file + ": the name must end in one of " + allowed + "."};
  }
  if (path.has_parent_path() && !fs::is_directory(path.parent_path(), ignored)) {
    return {StatusCode::kBadUse,
            request.option + " " + file + ": the folder " + path.parent_path().string() + " is not there."};
  }
  for (const std::string& clip : clips) {
    if (fs::equivalent(path, clip, ignored)) {
      return {StatusCode::kBadUse, request.option + " " + file + ": this is the clip itself; give another name."};
    }
  }
  if (fs::exists(path, ignored) && !IsDeviceOrPipe(file) && !force) {
    return {StatusCode::kBadUse, request.option + " " + file + ": the file is there already; --force replaces it."};
  }
  return Status::Ok();
}

}  // namespace

Result<std::vector<std::string>> PlanOutputs(const OutputRequest& request, const std::vector<std::string>& clips,
                                             bool force) {
  std::vector<std::string> files(clips.size());
  if (request.target.empty()) return files;
  if (request.target == "-") {
    if (!request.may_be_stdout || clips.size() != 1) {
      return Status(StatusCode::kBadUse,
                    request.option + " -: standard output takes the result of a single clip only; give a folder.");
    }
    files.front() = "-";
    return files;
  }
  if (IsFolder(request.target)) {
    std::error_code failed;
    fs::create_directories(request.target, failed);
    if (failed) {
      return Status(StatusCode::kBadUse,
                    request.option + " " + request.target + ": the folder cannot be made (" + failed.message() + ").");
    }
    for (std::size_t i = 0; i < clips.size(); ++i) {
      files[i] = (fs::path(request.target) / fs::path(clips[i]).stem()).string() + request.ending;
    }
  } else if (clips.size() > 1) {
    return Status(StatusCode::kBadUse,
                  request.option + " " + request.target + ": with several clips give a folder, such as results/.");
  } else {
    files.front() = request.target;
  }
  std::set<std::string> taken;
  for (const std::string& file : files) {
    if (Status s = CheckFile(request, file, clips, force); !s.ok()) return s;
    if (!taken.insert(file).second) {
      return Status(StatusCode::kBadUse,
                    request.option + " " + request.target + ": two clips would both be written to " + file + ".");
    }
  }
  return files;
}

Result<std::string> PlanOutput(const OutputRequest& request, const std::vector<std::string>& clips, bool force) {
  if (request.target.empty() || (request.target == "-" && request.may_be_stdout)) return request.target;
  if (IsFolder(request.target)) {
    return Status(StatusCode::kBadUse,
                  request.option + " " + request.target + ": this is a folder; give a file's name.");
  }
  if (Status s = CheckFile(request, request.target, clips, force); !s.ok()) return s;
  return request.target;
}

Status WriteOutput(const std::string& planned, std::string_view text) {
  if (planned != "-") return WriteWholeFile(planned, text);
  const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size() && std::fflush(stdout) == 0;
  return written ? Status::Ok() : Status(StatusCode::kBadFile, "Standard output cannot be written.");
}

}  // namespace hookline::cli
