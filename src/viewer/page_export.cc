#include "viewer/page_export.h"

#include <algorithm>
#include <filesystem>

#include "core/whole_file.h"
#include "report/page_html.h"
#include "report/pdf_page.h"

namespace hookline::viewer {

std::vector<pipeline::SessionFile> SessionFilesOf(const Desk& desk, const std::vector<int>& only) {
  std::vector<pipeline::SessionFile> session;
  for (const DeskClip& clip : desk.clips) {
    if (!clip.result) continue;
    pipeline::SessionFile file;
    if (clip.state == ClipState::kOnlyNumbers) file.file = clip.file;
    file.result = *clip.result;
    file.result.shots.clear();
    for (const DeskShot& shot : desk.shots) {
      const bool wanted = only.empty() || std::find(only.begin(), only.end(), shot.id) != only.end();
      if (shot.clip == clip.id && wanted) file.result.shots.push_back(shot.shot);
    }
    if (!file.result.shots.empty()) session.push_back(std::move(file));
  }
  return session;
}

Status CheckPlace(const std::string& file, bool replace) {
  std::error_code ignored;
  const std::filesystem::path folder = std::filesystem::path(file).parent_path();
  if (!folder.empty() && !std::filesystem::is_directory(folder, ignored))
    return {StatusCode::kBadUse, "There is no folder \"" + folder.string() + "\"; choose one that is there."};
  if (std::filesystem::is_directory(file, ignored))
    return {StatusCode::kBadUse, "\"" + file + "\" is a folder; name a file in it."};
  if (!replace && std::filesystem::exists(file, ignored))
    return {StatusCode::kBadUse, "\"" + file + "\" is there already; tick that it may be replaced, or name another."};
  return Status::Ok();
}

Status CheckClipPlace(const std::string& file, bool replace, const std::vector<std::string>& made_of) {
  std::error_code ignored;
  for (const std::string& clip : made_of) {
    if (std::filesystem::equivalent(file, clip, ignored))
      return {StatusCode::kBadUse, "\"" + file + "\" is the clip that it is made of; name another file."};
  }
  return CheckPlace(file, replace);
}

Status CheckWish(const PageWish& wish) {
  if (wish.html.empty() && wish.pdf.empty())
    return {StatusCode::kBadUse, "Say where the page goes: a name for the page, for the PDF, or both."};
  for (const std::string& file : {wish.html, wish.pdf}) {
    if (file.empty()) continue;
    if (Status s = CheckPlace(file, wish.replace); !s.ok()) return s;
  }
  return Status::Ok();
}

namespace {

Status MakePage(const std::vector<pipeline::SessionFile>& session, const PageWish& wish, const ProgressFn& progress,
                const StopToken& stop) {
  if (Status s = CheckWish(wish); !s.ok()) return s;
  pipeline::PageOptions options;
  options.title = wish.title;
  options.pictures = wish.pictures;
  options.blur.others = wish.blur_others;
  const auto page = pipeline::PageOfSession(session, options, progress, stop);
  if (!page.ok()) return page.status();
  if (!wish.html.empty()) {
    if (Status s = WriteWholeFile(wish.html, report::PageHtml(*page)); !s.ok()) return s;
  }
  if (!wish.pdf.empty()) {
    const auto bytes = report::PagePdf(*page);
    if (!bytes.ok()) return bytes.status();
    if (Status s = WriteWholeFile(wish.pdf, *bytes); !s.ok()) return s;
  }
  return Status::Ok();
}

}  // namespace

void PageExport::Begin(std::vector<pipeline::SessionFile> session, const PageWish& wish) {
  job_.Begin("page", "The page",
             [session = std::move(session), wish](const ProgressFn& progress, const StopToken& stop) {
               return MakePage(session, wish, progress, stop);
             });
}

}  // namespace hookline::viewer
