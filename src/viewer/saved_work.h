// What the viewer was at, kept on disk all along: the clips in their order, how each is to be measured, what was
// measured and what a person corrected. Ending the program at any moment, by kill or by the battery, loses nothing that
// was saved, and starting it again goes on from there.
//
// A folder of files, each written whole or not at all (core/whole_file.h):
//   clips.json             the list: clip, options, corrections' and run's file, what else is kept of a clip
//   ID.corrections.json    a corrections file (docs/corrections-file.md), which `hookline measure --corrections` reads
//   ID.run                 the clip as measured (pipeline/run_file.h), written once
//   lock                   held while a window is open
// Files and not the library's database, because a run is megabytes that nobody asks questions of, corrections are small
// and change with every drag, and the library keeps shots for years while this keeps a desk. A run whose clip has
// changed since (size or time of the file) is not used any more; corrections are never thrown away with it.
//
// Not for use from several threads at once but where said.
#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "core/status.h"
#include "model/corrections.h"
#include "pipeline/measure_clip.h"

namespace hookline::viewer {

// $XDG_STATE_HOME/hookline/work, ~/.local/state/hookline/work without it.
std::string WorkFolder();

struct SavedClip {
  std::string file;                  // as an absolute path
  pipeline::MeasureOptions options;  // but marked points, which are corrections
  Corrections corrections;
  bool measured = false;                    // when the list was read or saved: its run is there and of this very clip
  std::map<std::string, std::string> kept;  // whatever else a panel keeps of a clip, under names of its own
};

class SavedWork {
 public:
  // Makes the folder where it is not there. kBadUse when another window holds it, kBadFile when it cannot be read or
  // written. A list that is damaged is put aside, and notice() says where.
  static Result<std::unique_ptr<SavedWork>> Open(const std::string& folder);
  ~SavedWork();
  SavedWork(const SavedWork&) = delete;
  SavedWork& operator=(const SavedWork&) = delete;

  const std::vector<SavedClip>& clips() const { return clips_; }
  const std::string& notice() const { return notice_; }  // a sentence for the user, or empty

  // The list as a whole: clips that are not in it any more are forgotten with their files; of those in it, corrections
  // are saved where they changed.
  Status Save(const std::vector<SavedClip>& clips);
  // Corrections of one clip of the list; after every step of a person.
  Status SaveCorrections(const std::string& clip, const Corrections& corrections);
  // The base run of a clip, measured with these options. May be called from the thread that measured it.
  Status SaveRun(const std::string& clip, const pipeline::MeasureOptions& options, const pipeline::ClipRun& base);
  // A clip that is opened, with what is still kept of it from before.
  SavedClip Opened(const std::string& clip, const pipeline::MeasureOptions& options = {}) const;
  // The base run again (its shots are measured from its sights: a tenth of a second a shot). kNotDetermined when there
  // is none of this very clip: then it is to be measured. May be called from any thread.
  Result<pipeline::ClipRun> LoadRun(const std::string& clip, const pipeline::MeasureOptions& options) const;

 private:
  explicit SavedWork(std::string folder) : folder_(std::move(folder)) {}
  std::string CorrectionsFile(const std::string& clip) const;
  std::string RunFile(const std::string& clip) const;
  Status ReadList();
  Status WriteList(const std::vector<SavedClip>& clips);

  std::string folder_;
  int lock_ = -1;
  std::vector<SavedClip> clips_;
  std::string notice_;
  mutable std::mutex writing_;
};

}  // namespace hookline::viewer
