// hookline page RESULT... : the page a student takes home.

#include <algorithm>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/picture_exports.h"
#include "cli/terminal.h"
#include "pipeline/page_of_session.h"
#include "report/page_html.h"
#include "report/pdf_page.h"
#include "report/read_result.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "RESULT is what `hookline measure --json` wrote, one session in order. The page is one file with everything in "
    "it:\n"
    "pictures (where the clips still are), the lane from above, plots, numbers with their doubt, advice. It asks "
    "nothing\n"
    "of the network, and nothing is sent anywhere.\n"
    "\n"
    "Pictures show a person: before they are exported the program asks once whether that person, for a minor a "
    "parent,\n"
    "has agreed, and remembers the answer (docs/report.md). --no-pictures makes a page without them.\n"
    "\n"
    "Examples:\n"
    "  hookline page shot.json --out shot.html --pdf shot.pdf\n"
    "  hookline page evening/*.json --out evening.html --bowler Robin --blur-others\n"
    "\n";

struct PageArguments {
  std::vector<std::string> files, blur;
  std::string out, pdf, bowler;
  pipeline::PageOptions options;
  bool no_pictures = false, consent = false, force = false;
};

int RunPage(PageArguments a) {
  if (a.out.empty() && a.pdf.empty())
    return Report({StatusCode::kBadUse, "Say where the page goes: --out page.html, --pdf page.pdf, or both."});
  const auto html = PlanOutput({"--out", a.out, ".html", {".html", ".htm"}, true}, a.files, a.force);
  if (!html.ok()) return Report(html.status());
  const auto pdf = PlanOutput({"--pdf", a.pdf, ".pdf", {".pdf"}, false}, a.files, a.force);
  if (!pdf.ok()) return Report(pdf.status());
  a.options.pictures = !a.no_pictures;
  for (const std::string& text : a.blur) {
    const auto box = BoxOf(text);
    if (!box.ok()) return Report(box.status());
    a.options.blur.boxes.push_back(*box);
  }
  std::vector<pipeline::SessionFile> session;
  for (const std::string& file : a.files) {
    auto result = report::ReadResult(file);
    if (!result.ok()) return Report(result.status());
    if (!a.bowler.empty()) std::erase_if(result->shots, [&](const Shot& s) { return s.bowler != a.bowler; });
    session.push_back({file, std::move(*result)});
  }
  const std::vector<std::string> shown = pipeline::BowlersShown(session, a.options);
  if (!shown.empty()) {
    if (Status s = SettleConsent({shown.begin(), shown.end()}, a.consent); !s.ok()) return Report(s);
  }
  InstallStopSignals();
  ProgressLine line("page");
  const auto page = pipeline::PageOfSession(session, a.options, line.Function(), StopRequested());
  if (!page.ok()) return Report(page.status());
  if (!html->empty()) {
    if (Status s = WriteOutput(*html, report::PageHtml(*page)); !s.ok()) return Report(s);
  }
  if (!pdf->empty()) {
    const auto bytes = report::PagePdf(*page);
    if (!bytes.ok()) return Report(bytes.status());
    if (Status s = WriteOutput(*pdf, *bytes); !s.ok()) return Report(s);
  }
  return kExitMeasured;
}

}  // namespace

std::function<int()> InstallPage(CLI::App& app) {
  const auto a = std::make_shared<PageArguments>();
  app.add_option("RESULT", a->files, "Result files of one session, in order")->required();
  app.add_option("--out", a->out, "Write the page as HTML (- is standard output)");
  app.add_option("--pdf", a->pdf, "Write the page as PDF");
  app.add_option("--title", a->options.title, "The page's title");
  app.add_option("--bowler", a->bowler, "Only this bowler's shots");
  app.add_option("--clips", a->options.clips_folder,
                 "Folder of the clips, when they are neither where they were measured nor beside the result files");
  app.add_flag("--no-pictures", a->no_pictures, "A page without pictures of the bowler");
  app.add_flag("--blur-others", a->options.blur.others,
               "Blur people other than the bowler where they can be found; look at the page before you hand it on");
  app.add_option("--blur", a->blur, "Blur this box of the picture too: X,Y,WIDTH,HEIGHT in px; may be given again");
  app.add_flag(kConsentOption, a->consent, kConsentHelp);
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunPage(*a); };
}

}  // namespace hookline::cli
