#include "viewer/saved_work.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "core/whole_file.h"
#include "pipeline/run_file.h"
#include "report/corrections_json.h"

namespace hookline::viewer {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* kFormat = "hookline-work";
constexpr const char* kRunHead = "hookline-run 1 ";  // then size and time of the clip's file, then the run's bytes

std::string FolderFrom(const char* variable, const std::string& in_home) {
  const char* set = std::getenv(variable);
  if (set && *set == '/') return set;  // the standard wants relative ones to be passed over
  const char* home = std::getenv("HOME");
  return std::string(home && *home ? home : "/") + in_home;
}

// A name for a clip's files: FNV-1a of its path, 64 bit.
std::string IdOf(const std::string& clip) {
  std::uint64_t h = 14695981039346656037ull;
  for (const char c : clip) h = (h ^ static_cast<unsigned char>(c)) * 1099511628211ull;
  std::array<char, 17> text{};
  std::snprintf(text.data(), text.size(), "%016llx", static_cast<unsigned long long>(h));
  return text.data();
}

// What tells a clip's file from another one under its name; empty when it is not there.
std::string StampOf(const std::string& clip) {
  std::error_code failed;
  const auto size = fs::file_size(clip, failed);
  if (failed) return "";
  const auto changed = fs::last_write_time(clip, failed);
  if (failed) return "";
  return std::to_string(size) + " " + std::to_string(changed.time_since_epoch().count());
}

// The first line of a run's file, without reading its megabytes.
std::string HeadOf(const std::string& file) {
  std::FILE* in = std::fopen(file.c_str(), "rb");
  if (!in) return "";
  std::array<char, 128> line{};
  const bool read = std::fgets(line.data(), static_cast<int>(line.size()), in) != nullptr;
  std::fclose(in);
  return read ? line.data() : "";
}

// Hand and ball only matter after the clip was read; another lane makes another run.
std::string HeadFor(const std::string& clip, const pipeline::MeasureOptions& options) {
  const std::string lane = (options.lane.setup_file.empty() ? "-" : IdOf(options.lane.setup_file)) + " " +
                           (options.lane.lane_offset ? std::to_string(*options.lane.lane_offset) : "-");
  return kRunHead + StampOf(clip) + " " + lane + "\n";
}

bool RunIsThere(const std::string& run_file, const SavedClip& clip) {
  return !StampOf(clip.file).empty() && HeadOf(run_file) == HeadFor(clip.file, clip.options);
}

Json OptionsJson(const pipeline::MeasureOptions& o) {
  Json j = Json::object();
  if (o.hand) j["hand"] = *o.hand == lane::Hand::kLeft ? "left" : "right";
  if (o.ball_gyration) j["ball_gyration_m"] = *o.ball_gyration;
  if (o.readout_s) j["readout_s"] = *o.readout_s;
  if (!o.lane.setup_file.empty()) j["lane_setup"] = o.lane.setup_file;
  if (o.lane.lane_offset) j["lane"] = *o.lane.lane_offset;
  return j;
}

pipeline::MeasureOptions OptionsOf(const Json& j) {
  pipeline::MeasureOptions o;
  if (j.contains("hand")) o.hand = j.at("hand") == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
  if (j.contains("ball_gyration_m")) o.ball_gyration = j.at("ball_gyration_m").get<double>();
  if (j.contains("readout_s")) o.readout_s = j.at("readout_s").get<double>();
  if (j.contains("lane_setup")) o.lane.setup_file = j.at("lane_setup");
  if (j.contains("lane")) o.lane.lane_offset = j.at("lane").get<int>();
  return o;
}

}  // namespace

std::string WorkFolder() { return FolderFrom("XDG_STATE_HOME", "/.local/state") + "/hookline/work"; }

std::string SavedWork::CorrectionsFile(const std::string& clip) const {
  return folder_ + "/" + IdOf(clip) + ".corrections.json";
}

std::string SavedWork::RunFile(const std::string& clip) const { return folder_ + "/" + IdOf(clip) + ".run"; }

Result<std::unique_ptr<SavedWork>> SavedWork::Open(const std::string& folder) {
  std::error_code failed;
  fs::create_directories(folder, failed);
  if (failed)
    return Status(StatusCode::kBadFile, "The folder " + folder + " cannot be made (" + failed.message() +
                                            "); may you write there, is the disk full?");
  std::unique_ptr<SavedWork> work(new SavedWork(folder));
  // Gone with its holder, however that ends.
  work->lock_ = ::open((folder + "/lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (work->lock_ < 0)
    return Status(StatusCode::kBadFile, "The folder " + folder + " cannot be written; may you write there?");
  if (::flock(work->lock_, LOCK_EX | LOCK_NB) != 0)
    return Status(StatusCode::kBadUse,
                  "Another window is at this work (" + folder + "); close it first, or go on there.");
  // What a killed window was writing, and nobody was told to be saved.
  std::error_code ignored;
  for (const auto& entry : fs::directory_iterator(folder, ignored))
    if (entry.path().extension() == ".part") fs::remove(entry.path(), ignored);
  if (Status s = work->ReadList(); !s.ok()) return s;
  return work;
}

SavedWork::~SavedWork() {
  if (lock_ >= 0) ::close(lock_);
}

Status SavedWork::ReadList() {
  const std::string file = folder_ + "/clips.json";
  std::error_code ignored;
  if (!fs::exists(file, ignored)) return Status::Ok();
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  try {
    const Json j = Json::parse(*text);
    if (j.at("format") != kFormat || j.at("version") != 1) throw std::runtime_error("another version");
    for (const Json& c : j.at("clips")) {
      SavedClip clip;
      clip.file = c.at("file");
      clip.options = OptionsOf(c.at("options"));
      clip.kept = c.at("kept").get<std::map<std::string, std::string>>();
      clips_.push_back(std::move(clip));
    }
  } catch (const std::exception&) {
    // Never written by a program that was killed; a disk or a person did it. What it says may still be wanted.
    clips_.clear();
    const std::string aside = file + ".damaged";
    fs::rename(file, aside, ignored);
    notice_ = "The list of clips could not be read and was put aside as " + aside +
              "; open the clips again, what was measured and corrected of them is still there.";
    return Status::Ok();
  }
  for (SavedClip& clip : clips_) {
    clip.measured = RunIsThere(RunFile(clip.file), clip);
    const std::string corrections = CorrectionsFile(clip.file);
    if (!fs::exists(corrections, ignored)) continue;
    auto read = report::ReadCorrections(corrections);
    if (read.ok()) {
      clip.corrections = std::move(*read);
    } else {
      fs::rename(corrections, corrections + ".damaged", ignored);
      notice_ = "Corrections could not be read and were put aside as " + corrections + ".damaged (" +
                read.status().sentence() + ")";
    }
  }
  return Status::Ok();
}

Status SavedWork::WriteList(const std::vector<SavedClip>& clips) {
  Json j = {{"format", kFormat}, {"version", 1}};
  j["clips"] = Json::array();
  for (const SavedClip& c : clips)
    j["clips"].push_back({{"file", c.file}, {"options", OptionsJson(c.options)}, {"kept", Json(c.kept)}});
  return WriteWholeFile(folder_ + "/clips.json", j.dump(1, ' ', false, Json::error_handler_t::replace) + "\n");
}

Status SavedWork::Save(const std::vector<SavedClip>& clips) {
  const std::lock_guard lock(writing_);
  const auto known = [&](const std::string& file) {
    return std::find_if(clips_.begin(), clips_.end(), [&](const SavedClip& c) { return c.file == file; });
  };
  // Corrections first: a list never names a clip whose corrections are not there yet.
  for (const SavedClip& c : clips) {
    const auto old = known(c.file);
    if (old != clips_.end() ? old->corrections == c.corrections : c.corrections.empty()) continue;
    if (Status s = WriteWholeFile(CorrectionsFile(c.file), report::CorrectionsText(c.corrections, c.file)); !s.ok())
      return s;
  }
  if (Status s = WriteList(clips); !s.ok()) return s;
  std::set<std::string> listed;
  for (const SavedClip& c : clips) listed.insert(c.file);
  std::error_code ignored;
  for (const SavedClip& c : clips_) {
    if (listed.contains(c.file)) continue;
    fs::remove(CorrectionsFile(c.file), ignored);
    fs::remove(RunFile(c.file), ignored);
  }
  clips_ = clips;
  for (SavedClip& c : clips_) c.measured = RunIsThere(RunFile(c.file), c);
  return Status::Ok();
}

Status SavedWork::SaveCorrections(const std::string& clip, const Corrections& corrections) {
  const std::lock_guard lock(writing_);
  if (Status s = WriteWholeFile(CorrectionsFile(clip), report::CorrectionsText(corrections, clip)); !s.ok()) return s;
  for (SavedClip& c : clips_)
    if (c.file == clip) c.corrections = corrections;
  return Status::Ok();
}

Status SavedWork::SaveRun(const std::string& clip, const pipeline::MeasureOptions& options,
                          const pipeline::ClipRun& base) {
  const std::string bytes = HeadFor(clip, options) + pipeline::RunBytes(base);
  const std::lock_guard lock(writing_);
  return WriteWholeFile(RunFile(clip), bytes);
}

SavedClip SavedWork::Opened(const std::string& clip, const pipeline::MeasureOptions& options) const {
  SavedClip out;
  out.file = clip;
  out.options = options;
  const std::lock_guard lock(writing_);
  if (auto read = report::ReadCorrections(CorrectionsFile(clip)); read.ok()) out.corrections = std::move(*read);
  for (const SavedClip& c : clips_)
    if (c.file == clip) out.kept = c.kept;
  out.measured = RunIsThere(RunFile(clip), out);
  return out;
}

Result<pipeline::ClipRun> SavedWork::LoadRun(const std::string& clip, const pipeline::MeasureOptions& options) const {
  const Status none(StatusCode::kNotDetermined, clip + " is not measured yet, or has changed since; measure it.");
  std::string bytes;
  {
    const std::lock_guard lock(writing_);
    const auto read = ReadWholeFile(RunFile(clip));
    if (!read.ok() || StampOf(clip).empty()) return none;
    bytes = *read;
  }
  const std::string head = HeadFor(clip, options);
  if (!bytes.starts_with(head)) return none;
  auto run = pipeline::RunFromBytes(bytes.substr(head.size()), RunFile(clip), options);
  if (!run.ok()) return none;  // of another version of the program
  return run;
}

}  // namespace hookline::viewer
