#include "report/page.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

#include "report/number_text.h"
#include "report/page_fixture.h"
#include "report/page_html.h"
#include "report/page_jpeg.h"
#include "report/page_svg.h"
#include "report/read_result.h"
#include "report/result_json.h"

using namespace hookline;

namespace {

bool Holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

int Count(const std::string& text, const std::string& part) {
  int n = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++n;
  return n;
}

}  // namespace

TEST_CASE("every measure of the result file is on the page with its doubt, or with its reason") {
  const ClipResult written = test::TwoShots();
  const auto text = report::ResultJson(written);
  const auto read = report::ParseResult(text, "x.json");
  REQUIRE(read.ok());
  report::PageInput in;
  in.shots = read->shots;
  in.lane_width = {lane::kNominalWidth, lane::kNominalWidth};
  const report::Page page = report::DescribePage(in);
  const std::string html = report::PageHtml(page);
  const auto json = nlohmann::json::parse(text);
  REQUIRE(page.shots.size() == json["shots"].size());
  for (std::size_t s = 0; s < page.shots.size(); ++s) {
    std::size_t rows = 0;
    for (const report::PageTable& table : page.shots[s].tables)
      for (const report::PageRow& row : table.rows) {
        ++rows;
        const auto info = std::find_if(kMeasureTable.begin(), kMeasureTable.end(),
                                       [&](const MeasureInfo& m) { return m.label == row.name; });
        REQUIRE(info != kMeasureTable.end());
        CAPTURE(info->key);
        const auto& m = json["shots"][s]["measures"][std::string(info->key)];
        if (m["value"].is_null()) {
          CHECK(row.value.empty());
          CHECK_FALSE(row.reason.empty());
          CHECK(Holds(html, report::Escaped(row.reason)));
          continue;
        }
        // The figure is the file's, rounded: no farther from it than half of its last digit.
        const auto half_digit = [](const std::string& number) {
          const auto dot = number.find('.');
          return 0.5 * std::pow(10.0, dot == std::string::npos ? 0.0 : -static_cast<double>(number.size() - dot - 1));
        };
        CHECK(std::abs(std::stod(row.value) - m["value"].get<double>()) <= half_digit(row.value) + 1e-9);
        CHECK(std::stod(row.doubt) >= m["sd"].get<double>() - half_digit(row.doubt) - 1e-9);
        CHECK(Holds(html, "<td class=\"n\">" + row.value + " <span class=\"doubt\">±" + row.doubt + "</span>"));
      }
    CHECK(rows == kMeasureCount);
  }
}

TEST_CASE("a single shot's page says what happened in words, and how to read it") {
  const report::PageInput in = test::OneShotPage();
  const report::Page page = report::DescribePage(in);
  CHECK(page.title == "Robin: a bowling shot");
  REQUIRE(page.shots.size() == 1);
  const auto& m = in.shots[0].measures;
  REQUIRE_FALSE(page.shots[0].in_words.empty());
  CHECK(Holds(
      page.shots[0].in_words[0],
      "crossed the arrows at board " + report::MeasureText(MeasureId::kBoardAtArrows, m[MeasureId::kBoardAtArrows])));
  CHECK(page.overview.rows.empty());
  CHECK(page.shots[0].plots.size() == 3);
  const std::string html = report::PageHtml(page);
  CHECK(Holds(html, "The ball&#39;s surface has no marks."));
  CHECK(Holds(html, "one standard deviation"));
  CHECK(Holds(html, "If a hand, wrist, elbow or back hurts, stop."));
  CHECK(Holds(html, "for a minor a parent") == false);  // no picture, nobody is shown
  CHECK(Count(html, "<svg") == 4);
}

TEST_CASE("a session's page has the overview, all advice with how sure it is, and each shot") {
  const report::Page page = report::DescribePage(test::SessionPage(9));
  CHECK(page.overview.rows.size() == 9);
  const std::string html = report::PageHtml(page);
  CHECK(Count(html, "<section class=\"shot\">") == 9);
  CHECK(Holds(html, "Feet 2 boards inward, target held."));
  CHECK(Holds(html, "3-1-2: two boards."));
  CHECK(Holds(html, "93 % sure"));
  // Six shots keep a colour of their own; the caption says so of the rest.
  CHECK(Holds(page.lane.caption, "those before them grey"));
}

TEST_CASE("shots are told apart without colour: marker and dash differ") {
  for (int a = 0; a < report::kShotInks; ++a)
    for (int b = a + 1; b < report::kShotInks; ++b) {
      CAPTURE(a);
      CAPTURE(b);
      CHECK(report::DashOf(a) != report::DashOf(b));
      const auto m = report::MarkerOutline(a, {0, 0}, 10), n = report::MarkerOutline(b, {0, 0}, 10);
      CHECK((m.size() != n.size() || (m[0] - n[0]).norm() > 1));
    }
}

TEST_CASE("names cannot bring markup or requests into the page") {
  report::PageInput in = test::OneShotPage();
  const std::string evil = "<script>alert(1)</script>", reach = "\"><img src=http://outside.invalid/x onerror=x>";
  in.title = evil;
  in.shots[0].bowler = evil + "&'\xff";
  in.shots[0].ball = reach;
  in.shots[0].plan = "</style><style>@import url(//outside.invalid)";
  in.shots[0].measures[MeasureId::kEntryBoard] = Measure::None(reach);
  in.warnings = {evil};
  in.advice.next_move.reason = evil;
  in.pictures = {{{{"jpeg", 4, 3, reach, evil}}, ""}};
  const std::string html = report::PageHtml(report::DescribePage(in));
  CHECK_FALSE(Holds(html, "<script"));
  CHECK_FALSE(Holds(html, "<img src"));
  CHECK(Count(html, "<style>") == 1);
  CHECK(Count(html, "<img ") == 1);
  CHECK(Holds(html, "&lt;script&gt;alert(1)&lt;/script&gt;&amp;&#39;\xEF\xBF\xBD"));
  CHECK(Holds(html, "for a minor a parent"));  // a picture: whose it is is said
}

TEST_CASE("bytes that are no UTF-8 are shown as such, and no other character is lost") {
  CHECK(report::Escaped("Zoë 中 \xF0\x9F\x8E\xB3") == "Zoë 中 \xF0\x9F\x8E\xB3");
  CHECK(report::Escaped("a\xC3") == "a\xEF\xBF\xBD");
  CHECK(report::Escaped("\xC0\xAF") == "\xEF\xBF\xBD\xEF\xBF\xBD");                  // overlong
  CHECK(report::Escaped("\xED\xA0\x80") == "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD");  // a surrogate
  CHECK(report::Escaped(std::string("a\0b", 3)) ==
        "a\xEF\xBF\xBD"
        "b");
}

TEST_CASE("the page forbids every request and holds no address") {
  const std::string html = report::PageHtml(report::DescribePage(test::SessionPage(3)));
  CHECK(Holds(html, "default-src 'none'"));
  CHECK_FALSE(Holds(html, "http://"));
  CHECK_FALSE(Holds(html, "https://"));
  CHECK_FALSE(Holds(html, "url("));
  CHECK_FALSE(Holds(html, "@import"));
}

TEST_CASE("base64 as RFC 4648, section 10, has it") {
  CHECK(report::Base64("") == "");
  CHECK(report::Base64("f") == "Zg==");
  CHECK(report::Base64("fo") == "Zm8=");
  CHECK(report::Base64("foo") == "Zm9v");
  CHECK(report::Base64("foob") == "Zm9vYg==");
  CHECK(report::Base64("fooba") == "Zm9vYmE=");
  CHECK(report::Base64("foobar") == "Zm9vYmFy");
}

TEST_CASE("a picture packed as JPEG is the picture") {  // read back by OpenCV
  cv::Mat bgr(90, 160, CV_8UC3);
  for (int v = 0; v < bgr.rows; ++v)
    for (int u = 0; u < bgr.cols; ++u)
      bgr.at<cv::Vec3b>(v, u) = cv::Vec3b(static_cast<unsigned char>(u), static_cast<unsigned char>(2 * v), 80);
  const auto jpeg = report::JpegFromBgr(bgr);
  REQUIRE(jpeg.ok());
  const cv::Mat back = cv::imdecode(std::vector<char>(jpeg->begin(), jpeg->end()), cv::IMREAD_COLOR);
  REQUIRE(back.size() == bgr.size());
  CHECK(cv::norm(back, bgr, cv::NORM_L1) / static_cast<double>(3 * bgr.total()) < 3);
}

TEST_CASE("plots stay inside their frame, whatever the numbers are") {
  report::PageInput in = test::OneShotPage();
  for (PathPoint& p : in.shots[0].path) {
    *p.speed *= 3;
    p.sd_x = 0.5;
    p.sd_angle = 1;
  }
  in.shots[0].measures[MeasureId::kSpeedArrowsMph] = Measure::Of(999, 1);
  const report::Page page = report::DescribePage(in);
  for (const report::PageFigure& f : page.shots[0].plots)
    for (const report::FigureShape& s : f.shapes)
      for (const Eigen::Vector2d& p : s.points) {
        CAPTURE(f.title);
        CAPTURE(s.text);
        CHECK(p.allFinite());
        CHECK(p.x() >= -0.5);
        CHECK(p.x() <= f.width + 0.5);
        CHECK(p.y() >= -0.5);
        CHECK(p.y() <= f.height + 0.5);
      }
}

TEST_CASE("a left-hander's board 1 is at the left of the lane from above") {
  report::PageInput in = test::OneShotPage();
  const auto label = [](const report::PageFigure& f, const std::string& text) {
    for (const report::FigureShape& s : f.shapes)
      if (s.text == text) return s.points.front().x();
    return -1.0;
  };
  const report::PageFigure right = report::LaneFigure({&in.shots[0]}, {lane::kNominalWidth}, true);
  in.shots[0].hand = lane::Hand::kLeft;
  const report::PageFigure left = report::LaneFigure({&in.shots[0]}, {lane::kNominalWidth}, true);
  CHECK(label(right, "5") > label(right, "35"));
  CHECK(label(left, "5") < label(left, "35"));
}
