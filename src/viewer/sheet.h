// What the sheets that lie over the window have in common: opening and closing, buttons that a test's mouse can find,
// where a file goes, whether others are blurred in it, the question for consent, work that goes on, a line for the
// outcome.
#pragma once

#include <string>
#include <vector>

#include "viewer/consent_ask.h"
#include "viewer/side_job.h"
#include "viewer/style.h"

namespace hookline::viewer {

class Sheet {
 public:
  bool open() const { return open_; }
  // Where the sheet's buttons and fields are, for tests that use a mouse.
  struct Spot {
    const char* name;
    float left, top, right, bottom;
  };
  const std::vector<Spot>& spots() const { return spots_; }

 protected:
  Sheet(const char* title, float width_em) : title_(title), width_em_(width_em) {}
  ~Sheet() = default;
  void Show() { open_ = just_opened_ = true; }
  void Close() { open_ = false; }
  // False: nothing to draw. Otherwise End() follows.
  bool Begin(const Style& style);
  void End();
  bool Button(const char* name);
  // A line to write on after its label, to the sheet's edge or `width` px wide.
  void Field(const Style& style, const char* label, std::string* text, float width = -1);
  bool Checkbox(const char* name, bool* on);
  // The same words wherever pictures leave the program.
  bool BlurOthers(bool* on) { return Checkbox("Blur other people where they can be found", on); }
  // Where files go at first: where they went last, or home.
  static std::string UsualFolder(const std::string& folder);
  // Whether Stop was pressed.
  bool Busy(const SideJob::News& news);
  // What is wrong, or how the work ended: `written` is the file.
  static void TellOutcome(const Style& style, const std::string& trouble, const SideJob::News& news,
                          const std::string& written);
  // The question and its two answers; whether it was just answered with yes.
  bool AskConsent(ConsentAsk& consent, std::string* trouble);
  // A sentence on how it went; empty: nothing.
  static void Tell(const Style& style, const std::string& text, bool bad);

 private:
  void NoteSpot(const char* name);
  const char* title_;
  float width_em_;
  bool open_ = false, just_opened_ = false;
  std::vector<Spot> spots_;
};

}  // namespace hookline::viewer
