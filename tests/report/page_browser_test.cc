// The page in a real browser (Chromium, headless): an outside look at what a phone and a laptop make of it.
#include <doctest/doctest.h>

#include <cstdlib>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <set>

#include "report/page_fixture.h"
#include "report/page_html.h"
#include "report/page_jpeg.h"
#include "report/page_svg.h"
#include "scratch_folder.h"

using namespace hookline;

namespace {

bool Holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

struct Browser {
  test::ScratchFolder scratch;
  std::string out, said, net;

  // Loads a file and gives its document, what the browser said, and its log of the network.
  void Load(const std::string& html, const std::string& options) {
    const std::string file = scratch / "page.html", log = scratch / "net.json";
    test::WriteContent(file, html);
    const std::string command =
        "timeout 120 chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --no-first-run "
        "--disable-background-networking --disable-component-update --disable-sync --disable-default-apps "
        "--disable-dev-shm-usage --enable-logging=stderr --host-resolver-rules='MAP * ~NOTFOUND' --user-data-dir='" +
        (scratch / "profile") + "' --log-net-log='" + log + "' --net-log-capture-mode=Everything " + options +
        " 'file://" + file + "' >'" + (scratch / "out") + "' 2>'" + (scratch / "err") + "' </dev/null";
    REQUIRE(std::system(command.c_str()) == 0);
    out = test::Content(scratch / "out");
    said = test::Content(scratch / "err");
    net = test::Content(log);
  }
};

std::string PageToLookAt() {
  report::PageInput in = test::SessionPage(7);
  const auto jpeg = report::JpegFromBgr(cv::Mat(500, 900, CV_8UC3, cv::Scalar(60, 120, 180)));
  REQUIRE(jpeg.ok());
  in.pictures.assign(7, {{{*jpeg, 900, 500, "a lane", "The path on the lane."}}, ""});
  in.shots[0].ball = "averylongnameofaballwithoutanyblankinitwhichmustbebrokensomewhere0123456789";
  in.shots[1].measures[MeasureId::kEntryBoard] = Measure::None(std::string(300, 'w'));
  return report::PageHtml(report::DescribePage(in));
}

}  // namespace

TEST_CASE("the page loads in a browser without an error and asks nothing of the network" *
          doctest::test_suite("slow")) {
  const std::string outside = "<img src=\"http://outside.invalid/picture.png\">";
  // The log does hold a request when there is one: a page that is not ours.
  Browser control;
  control.Load("<!DOCTYPE html><title>x</title>" + outside, "--dump-dom");
  REQUIRE(Holds(control.net, "outside.invalid"));

  Browser browser;
  const std::string page = PageToLookAt();
  browser.Load(page, "--dump-dom");
  CHECK(Holds(browser.out, "<h1>Robin: 7 shots</h1>"));
  CHECK_FALSE(Holds(browser.said, "CONSOLE"));
  CHECK_FALSE(Holds(browser.net, "outside.invalid"));
  // Whatever the browser asks for of its own it asks for with an empty page too.
  Browser empty;
  empty.Load("<!DOCTYPE html><title>x</title>", "--dump-dom");
  const auto addresses = [](const std::string& net) {
    std::set<std::string> out;
    for (const std::string scheme : {"http://", "https://"})
      for (auto at = net.find(scheme); at != std::string::npos; at = net.find(scheme, at + 1))
        out.insert(net.substr(at, net.find_first_of("/\"\\? ,", at + scheme.size()) - at));
    return out;
  };
  const auto own = addresses(empty.net), with_page = addresses(browser.net);
  for (const std::string& address : with_page) {
    CAPTURE(address);
    CHECK(own.count(address) == 1);
  }
  // And were markup to come in by some way, the page's own policy stops what it asks for.
  std::string pierced = page;
  pierced.insert(pierced.find("<main>"), outside);
  Browser stopped;
  stopped.Load(pierced, "--dump-dom");
  CHECK_FALSE(Holds(stopped.net, "outside.invalid"));
  CHECK(Holds(stopped.said, "Content Security Policy"));
}

TEST_CASE("nothing of the page lies beside a phone's or a laptop's screen" * doctest::test_suite("slow")) {
  // The page as it is, in a frame of that width; a script about it reads how wide it became.
  for (const int width : {390, 1366}) {
    CAPTURE(width);
    const std::string about =
        "<!DOCTYPE html><title>x</title><iframe id=f style='border:0;width:" + std::to_string(width) +
        "px;height:800px' srcdoc=\"" + report::Escaped(PageToLookAt()) +
        "\"></iframe><p id=said></p><script>onload=()=>{const d=document.getElementById('f').contentDocument;const "
        "w=d.documentElement.clientWidth;let far=0;for(const e of d.body.querySelectorAll('*'))far=Math.max(far,"
        "Math.ceil(e.getBoundingClientRect().right));document.getElementById('said').textContent='width '+w+' scroll '"
        "+d.documentElement.scrollWidth+' far '+far+' shots '+d.querySelectorAll('.shot').length+' ink '+"
        "getComputedStyle(d.querySelector('.line.shot0')).stroke}</script>";
    Browser browser;
    browser.Load(about, "--window-size=1500,900 --virtual-time-budget=3000 --dump-dom");
    const auto at = browser.out.find("<p id=\"said\">width ");
    REQUIRE(at != std::string::npos);
    const std::string said = browser.out.substr(at);
    int inner = 0, scroll = 0, far = 0, shots = 0, red = 0, green = 0, blue = 0;
    REQUIRE(std::sscanf(said.c_str(), "<p id=\"said\">width %d scroll %d far %d shots %d ink rgb(%d, %d, %d)", &inner,
                        &scroll, &far, &shots, &red, &green, &blue) == 7);
    CHECK(inner == width);
    CHECK(scroll <= inner);
    CHECK(far <= inner);
    CHECK(shots == 7);
    CHECK(blue > red);  // the style sheet has come through the policy
  }
}

TEST_CASE("the page is light or dark as the reader's screen is" * doctest::test_suite("slow")) {
  for (const bool dark : {false, true}) {
    CAPTURE(dark);
    Browser browser;
    const std::string picture = browser.scratch / "shot.png";
    browser.Load(PageToLookAt(),
                 std::string("--window-size=1000,800 --screenshot='") + picture + "'" +
                     (dark ? " --blink-settings=preferredColorScheme=0" : " --blink-settings=preferredColorScheme=1"));
    const cv::Mat shot = cv::imread(picture, cv::IMREAD_GRAYSCALE);
    REQUIRE_FALSE(shot.empty());
    const int corner = shot.at<unsigned char>(3, 3);
    CHECK((dark ? corner < 60 : corner > 200));
    // And there is something on it.
    double low = 0, high = 0;
    cv::minMaxLoc(shot, &low, &high);
    CHECK(high - low > 150);
  }
}
