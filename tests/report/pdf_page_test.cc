#include "report/pdf_page.h"

#include <doctest/doctest.h>

#include <cstdlib>
#include <opencv2/core.hpp>

#include "report/page_fixture.h"
#include "report/page_jpeg.h"
#include "scratch_folder.h"

using namespace hookline;

namespace {

bool Holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// What poppler's tools read in the file, an outside look at it.
std::string Said(const test::ScratchFolder& scratch, const std::string& command) {
  const std::string out = scratch / "said";
  REQUIRE(std::system((command + " >'" + out + "' 2>&1").c_str()) == 0);
  return test::Content(out);
}

}  // namespace

TEST_CASE("the PDF holds the page's words and figures as text") {
  const test::ScratchFolder scratch;
  const report::Page page = report::DescribePage(test::SessionPage(5));
  const auto pdf = report::PagePdf(page);
  REQUIRE(pdf.ok());
  const std::string file = scratch / "page.pdf";
  test::WriteContent(file, *pdf);
  const std::string info = Said(scratch, "pdfinfo '" + file + "'");
  CHECK(Holds(info, "Title:           Robin: 5 shots"));
  CHECK(Holds(info, "A4"));
  const std::string text = Said(scratch, "pdftotext -layout '" + file + "' -");
  for (const report::PageAdvice& a : page.advice) CHECK(Holds(text, a.text.substr(0, 40)));
  for (const report::PageShot& shot : page.shots) {
    CHECK(Holds(text, shot.title));
    for (const report::PageTable& table : shot.tables)
      for (const report::PageRow& row : table.rows) {
        CAPTURE(row.name);
        CHECK(Holds(text, row.value.empty() ? "–" : row.value + " ±" + row.doubt));
      }
  }
  CHECK(Holds(text, "93 % sure"));
  CHECK(Holds(text, "hurts, stop") == false);
}

TEST_CASE("a picture goes into the PDF as it is, and odd names do no harm") {
  const test::ScratchFolder scratch;
  report::PageInput in = test::OneShotPage();
  const auto jpeg = report::JpegFromBgr(cv::Mat(90, 160, CV_8UC3, cv::Scalar(30, 90, 200)));
  REQUIRE(jpeg.ok());
  in.pictures = {{{{*jpeg, 160, 90, "a lane", "The path."}}, ""}};
  in.shots[0].bowler = "<b>Zoë & \xff 中</b>";
  const auto pdf = report::PagePdf(report::DescribePage(in));
  REQUIRE(pdf.ok());
  const std::string file = scratch / "page.pdf";
  test::WriteContent(file, *pdf);
  const std::string images = Said(scratch, "pdfimages -list '" + file + "'");
  CHECK(Holds(images, "jpeg"));
  CHECK(Holds(Said(scratch, "pdftotext '" + file + "' -"), "<b>Zoë &"));
}

TEST_CASE("a long session breaks into sheets with the overview's head on each") {
  const test::ScratchFolder scratch;
  const auto pdf = report::PagePdf(report::DescribePage(test::SessionPage(40)));
  REQUIRE(pdf.ok());
  const std::string file = scratch / "page.pdf";
  test::WriteContent(file, *pdf);
  const std::string info = Said(scratch, "pdfinfo '" + file + "'");
  const auto at = info.find("Pages:");
  REQUIRE(at != std::string::npos);
  CHECK(std::stoi(info.substr(at + 6)) >= 42);
}
