// What lies on the desk: the clips that were opened, the shots found in them, which of them are looked at, and what a
// person said of them. Plain data and functions on it; nothing is drawn, measured or saved here. The window owns one
// Desk and hands panels what they need of it.
//
// Ids are counted up and never used again, so an event that comes late names nothing wrong.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "model/advice.h"
#include "model/shot.h"
#include "pipeline/measure_clip.h"
#include "viewer/edits.h"
#include "viewer/shot_table.h"
#include "viewer/shown_shot.h"

namespace hookline::viewer {

enum class ClipState { kWaiting, kMeasuring, kMeasured, kFailed, kStopped, kOnlyNumbers };

struct DeskClip {
  int id = 0;
  std::string file;  // the clip; of kOnlyNumbers the result file
  ClipState state = ClipState::kWaiting;
  std::string stage;                              // of kMeasuring, plain words
  double share = -1;                              // done, 0..1; negative: not known
  std::string words;                              // said of its shots before they were there
  std::string note;                               // why it failed, or why there is no lane or shot
  std::shared_ptr<const pipeline::ClipRun> run;   // once measured, with the corrections; null for kOnlyNumbers
  std::shared_ptr<const pipeline::ClipRun> base;  // the same as the program found it
  pipeline::MeasureOptions options;
  Edits edits;
  std::shared_ptr<const ClipResult> result;  // once there is one
};

struct DeskShot {
  int id = 0;
  int clip = 0;     // id
  int in_clip = 0;  // place in the clip's result
  Shot shot;        // with its number in the session and what a person said
  std::string result, notes;
};

struct Desk {
  std::vector<DeskClip> clips;  // in the order of opening
  std::vector<DeskShot> shots;  // in the order of clips, then of time
  std::vector<int> chosen;      // ids of shots; the place is the look
  std::optional<int> clip_on_show, shot_on_show;
  Advice advice;
  bool advice_made = false;
  int next_id = 1;
  long version = 0;  // counts up with every change of shots or what is said of them
};

DeskClip* FindClip(Desk& desk, int id);
const DeskClip* FindClip(const Desk& desk, int id);
DeskShot* FindShot(Desk& desk, int id);
const DeskShot* FindShot(const Desk& desk, int id);

// The clip's id; the one it has when that file is there already. It is shown when nothing else is.
int AddClip(Desk& desk, const std::string& file);
// A result file's shots, without a picture. kBadFile with a sentence.
Result<int> AddResultFile(Desk& desk, const std::string& file);
// Its shots go too.
void RemoveClip(Desk& desk, int id);

// A clip was measured, anew or for the first time. What people said of its shots stays with the shots of the same
// number.
void PutRun(Desk& desk, int clip, std::shared_ptr<const pipeline::ClipRun> base,
            std::shared_ptr<const pipeline::ClipRun> run);
// What people said of a clip's shots, as a text to keep, and put back; before or after its shots are there. A text that
// is none is passed over.
std::string WordsOf(const Desk& desk, int clip);
void PutWords(Desk& desk, int clip, const std::string& words);

// Shows a shot, and its clip.
void ShowShot(Desk& desk, int shot);
void ShowClip(Desk& desk, int clip);
void Choose(Desk& desk, int shot, bool chosen);
void ChooseOnly(Desk& desk, const std::vector<int>& shots);
void Apply(Desk& desk, const TagChange& change);

// For the panels; points into the desk, good until it changes.
std::vector<ShownShot> ShownShots(const Desk& desk);
// The session as the advisor takes it.
std::vector<Shot> SessionOf(const Desk& desk);

// "hook.mp4" of a path.
std::string FileName(const std::string& path);

}  // namespace hookline::viewer
