#include "track/ball_tracker.h"

#include <doctest/doctest.h>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <cmath>
#include <map>
#include <random>

#include "lane/lane_spec.h"
#include "lane/units.h"
#include "scene.h"

using namespace hookline;
using namespace hookline::track_test;
using track::BallTracker;

namespace {

const Colour kNavy{45, 140, 122}, kOrange{135, 85, 180};
constexpr double kFrame = 1.0 / 60;

struct Errors {
  double bias_u = 0, bias_v = 0, nees = 0, worst = 0;
  int n = 0;
};

// Sights against where the ball's disc is in the reference frame.
Errors Compare(const Track& track, const Scene& scene, const std::function<Eigen::Vector3d(double)>& path,
               double from) {
  Errors e;
  for (const BallSight& s : track.sights) {
    const Eigen::Vector2d d = s.p_in_image - scene.Pixel(path(s.time_s - from));
    e.bias_u += d.x(), e.bias_v += d.y();
    Eigen::Matrix2d covariance = s.covariance;
    covariance.diagonal() += s.lasting_sd.cwiseAbs2();
    e.nees += d.dot(covariance.inverse() * d);
    e.worst = std::max(e.worst, d.norm());
    ++e.n;
  }
  if (e.n > 0) e.bias_u /= e.n, e.bias_v /= e.n, e.nees /= e.n;
  return e;
}

using Balls = std::function<std::vector<Ball>(double)>;
using Boxes = std::function<std::vector<Box>(double)>;

std::vector<Track> Run(Scene& scene, double seconds, const Balls& balls, const Boxes& boxes = {}) {
  BallTracker tracker(scene.setup(), scene.StillBackground());
  for (int i = 0; i * kFrame < seconds; ++i) {
    const double t = i * kFrame;
    tracker.Add(scene.Draw(t, i, balls(t), boxes ? boxes(t) : std::vector<Box>{}), FrameMotion{});
  }
  return tracker.Finish();
}

// A ball on the lane from `from` on, until it reaches the pit.
Balls Rolling(double from, const Colour& colour, double mirror = 0.3) {
  return [=](double t) -> std::vector<Ball> {
    const Eigen::Vector3d p = Hook(t - from);
    if (t < from || p.y() > lane::kPitY) return {};
    return {{p, colour, mirror}};
  };
}

}  // namespace

TEST_CASE("a hooking ball is followed to the pins, to a tenth of a pixel and with an honest covariance") {
  Scene scene(Setup());
  const auto tracks = Run(scene, 3.4, Rolling(0.4, kNavy));
  REQUIRE(tracks.size() == 1);
  const Track& t = tracks[0];
  CHECK(t.end == TrackEnd::kPins);
  CHECK_FALSE(t.gutter_s);
  CHECK(t.sights.size() > 140);
  CHECK(t.sights.front().time_s < 0.55);
  const Errors e = Compare(t, scene, Hook, 0.4);
  CHECK(std::abs(e.bias_u) < 0.04);
  CHECK(std::abs(e.bias_v) < 0.06);
  CHECK(e.worst < 0.6);
  // Two degrees of freedom: 2 when the covariance, what lasts included, is that of the errors. It also holds what
  // encoders do to a slow ball (some 0.1 px), which a picture drawn here has not.
  CHECK(e.nees > 0.25);
  CHECK(e.nees < 3);
  for (std::size_t i = 1; i < t.sights.size(); ++i) CHECK(t.sights[i].time_s > t.sights[i - 1].time_s);
}

TEST_CASE("a ball of the lane's own brightness is followed by its colour") {
  Scene scene(Setup(), 5);
  const auto tracks = Run(scene, 3.2, Rolling(0.3, kOrange));
  REQUIRE(tracks.size() == 1);
  CHECK(tracks[0].sights.size() > 100);
  const Errors e = Compare(tracks[0], scene, Hook, 0.3);
  CHECK(std::abs(e.bias_u) < 0.15);
  CHECK(std::abs(e.bias_v) < 0.15);
}

TEST_CASE("a strong mirror image is not the ball") {
  Scene scene(Setup(), 6);
  const auto tracks = Run(scene, 3.2, Rolling(0.3, kNavy, 0.8));
  REQUIRE(tracks.size() == 1);
  const Errors e = Compare(tracks[0], scene, Hook, 0.3);
  CHECK(std::abs(e.bias_u) < 0.06);
  CHECK(std::abs(e.bias_v) < 0.1);
  CHECK(e.worst < 1);
}

TEST_CASE("no ball: people who walk, stand and cross the lane give no track") {
  Scene scene(Setup(), 7);
  const auto tracks = Run(
      scene, 4, [](double) { return std::vector<Ball>{}; },
      [](double t) -> std::vector<Box> {
        // One walks across the approach in front of the lane, one stands from the second second on, one walks down
        // beside the lane.
        const int u = static_cast<int>(150 + 180 * t);
        const int u2 = static_cast<int>(760 - 40 * t), h = static_cast<int>(260 - 45 * t);
        return {{cv::Rect(u, 120, 60, 400), {30, 130, 126}},
                {cv::Rect(t > 2 ? 430 : 300, 150, 50, 380), {180, 120, 140}},
                {cv::Rect(u2, 200, h / 4, h), {90, 110, 150}}};
      });
  CHECK(tracks.empty());
}

TEST_CASE("a neighbour's ball is not listed, nor does it disturb ours" * doctest::test_suite("slow")) {
  const auto beside = [](double t) {
    return Eigen::Vector3d(lane::MetresFromInches(66) + 0.1 - 0.05 * t, 7.5 * t - 0.2 * t * t, kRadius);
  };
  Scene scene(Setup(), 8);
  SUBCASE("alone") {
    const auto tracks = Run(scene, 3, [&](double t) -> std::vector<Ball> {
      return t > 0.3 && beside(t - 0.3).y() < lane::kPitY ? std::vector<Ball>{{beside(t - 0.3), kNavy, 0.3}}
                                                          : std::vector<Ball>{};
    });
    CHECK(tracks.empty());
  }
  SUBCASE("both at once") {
    const auto ours = Rolling(0.3, kNavy);
    const auto tracks = Run(scene, 3.2, [&](double t) {
      std::vector<Ball> b = ours(t);
      if (t > 0.35 && beside(t - 0.35).y() < lane::kPitY) b.push_back({beside(t - 0.35), kNavy, 0.3});
      return b;
    });
    REQUIRE(tracks.size() == 1);
    const Errors e = Compare(tracks[0], scene, Hook, 0.3);
    CHECK(e.worst < 1);
    CHECK(e.n > 130);
  }
}

TEST_CASE("a ball that leaves over the right edge ends in the right gutter, at that time") {
  Scene scene(Setup(), 9);
  const double half = scene.setup().lane.width / 2;
  // Straight to the right; from the edge on it drops into the gutter and rolls along its middle.
  const double edge_s = (half - 0.1) / 0.45;
  const auto path = [&](double t) -> Eigen::Vector3d {
    const double y = 7 * t - 0.25 * t * t;
    if (t < edge_s) return {0.1 + 0.45 * t, y, kRadius};
    const double s = std::min(1.0, (t - edge_s) / 0.15);
    return {half + 0.117 * s, y, kRadius - 0.0476 * s};
  };
  const auto tracks = Run(scene, 3, [&](double t) -> std::vector<Ball> {
    return t > 0.3 && path(t - 0.3).y() < lane::kPitY ? std::vector<Ball>{{path(t - 0.3), kNavy, 0.1}}
                                                      : std::vector<Ball>{};
  });
  REQUIRE(tracks.size() == 1);
  CHECK(tracks[0].end == TrackEnd::kGutterRight);
  REQUIRE(tracks[0].gutter_s);
  CHECK(*tracks[0].gutter_s == doctest::Approx(0.3 + edge_s).epsilon(0.03));
  CHECK_FALSE(tracks[0].pin_contact_s);
  CHECK(tracks[0].sights.back().time_s <= *tracks[0].gutter_s);
}

TEST_CASE("a lofted ball is followed from the hand through flight and bounce") {
  // Circle of the arm, 0.75 m, down to its lowest point at 0.4 s; then free fall from 0.12 m above rolling and one
  // bounce.
  Scene scene(Setup(), 17);
  constexpr double kFrom = 0.4, kArm = 0.75, kDrop = 0.12;
  const double fall = std::sqrt(2 * kDrop / lane::kStandardGravity), up = 0.25 * lane::kStandardGravity * fall;
  const auto path = [=](double t) {
    Eigen::Vector3d p = Hook(std::max(t, 0.0));
    if (t < 0) {
      const double angle = std::max(8.0 / kArm * t, -2.5);
      return Eigen::Vector3d(p.x(), kArm * std::sin(angle), kRadius + kDrop + kArm * (1 - std::cos(angle)));
    }
    const double after = t - fall;
    p.z() += after < 0 ? kDrop - 0.5 * lane::kStandardGravity * t * t
                       : std::max(0.0, up * after - 0.5 * lane::kStandardGravity * after * after);
    return p;
  };
  const auto tracks = Run(scene, 3.4, [&](double t) -> std::vector<Ball> {
    const Eigen::Vector3d p = path(t - kFrom);
    if (p.y() > lane::kPitY) return {};
    return {{p, kNavy, 0}};
  });
  REQUIRE(tracks.size() == 1);
  const Track& track = tracks[0];
  REQUIRE(track.release_s);
  CHECK(*track.release_s == doctest::Approx(kFrom).epsilon(0.08));
  int flying = 0;
  for (const BallSight& s : track.sights) {
    const double t = s.time_s - kFrom;
    CHECK(t > -1.5 * kFrame);
    if (t < 0 || t > fall) continue;
    ++flying;
    CHECK((s.p_in_image - scene.Pixel(path(t))).norm() < 0.6);
  }
  CHECK(flying >= 6);
}

TEST_CASE("the first change among the pins is the touch: when, of which, and no sights after it") {
  Scene scene(Setup());
  constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2, kFrom = 0.4;
  double touch_s = 0;
  Eigen::Vector2d pin(0, 0);
  for (double t = 0; touch_s <= 0; t += 1e-4)
    for (const auto& spot : lane::PinSpots())
      if (const Eigen::Vector3d p = Hook(t); std::hypot(p.x() - spot.x, p.y() - spot.y) <= kTouch && touch_s <= 0)
        touch_s = kFrom + t, pin = {spot.x, spot.y};
  // Pins at the deck's left leave their places; the ball goes aside and is slowed.
  const Eigen::Vector2d at = scene.Pixel({-0.35, lane::kHeadPinY + 0.4, 0.2});
  const Eigen::Vector3d end = Hook(touch_s - kFrom);
  const auto balls = [&](double t) -> std::vector<Ball> {
    if (t < kFrom || t > touch_s + 0.4) return {};
    const double after = t - touch_s;
    if (after < 0) return {{Hook(t - kFrom), kNavy, 0.3}};
    return {{end + after * Eigen::Vector3d(1.2, 3.5, 0), kNavy, 0.3}};
  };
  const auto boxes = [&](double t) -> std::vector<Box> {
    if (t < touch_s) return {};
    return {{cv::Rect(static_cast<int>(at.x()) - 3, static_cast<int>(at.y()) - 5, 6, 10), {220, 128, 128}}};
  };
  const auto tracks = Run(scene, touch_s + 0.6, balls, boxes);
  REQUIRE(tracks.size() == 1);
  const Track& t = tracks[0];
  CHECK(t.end == TrackEnd::kPins);
  REQUIRE(t.pin_contact_s);
  CHECK(std::abs(*t.pin_contact_s - touch_s) < 1.2 * kFrame);
  CHECK(t.sights.back().time_s < touch_s);
  CHECK(t.sights.back().time_s > touch_s - 4 * kFrame);
  REQUIRE(t.pin_touched);
  CHECK((*t.pin_touched - pin).norm() < 1e-6);
  CHECK(t.pin_contact_sd_s > 0.3 * kFrame);
}

TEST_CASE("two shots in one clip are two tracks" * doctest::test_suite("slow")) {
  Scene scene(Setup(), 10);
  const auto first = Rolling(0.3, kNavy), second = Rolling(4.0, kOrange);
  const auto tracks = Run(scene, 7, [&](double t) { return t < 3.5 ? first(t) : second(t); });
  REQUIRE(tracks.size() == 2);
  CHECK(tracks[0].sights.front().time_s < 0.6);
  CHECK(tracks[1].sights.front().time_s >= 4.0);
  CHECK(tracks[1].sights.front().time_s < 4.4);
}

TEST_CASE("hidden for a third of a second, the ball is taken up again, and nothing is invented in between") {
  Scene scene(Setup(), 11);
  const auto tracks = Run(scene, 3.2, Rolling(0.3, kNavy), [&](double t) -> std::vector<Box> {
    if (t < 1.0 || t > 1.33) return {};
    const Eigen::Vector2d p = scene.Pixel(Hook(t - 0.3));
    return {{cv::Rect(static_cast<int>(p.x()) - 40, static_cast<int>(p.y()) - 150, 80, 250), {90, 120, 130}}};
  });
  REQUIRE(tracks.size() == 1);
  int inside = 0, before = 0, after = 0;
  for (const BallSight& s : tracks[0].sights) {
    inside += s.time_s > 1.02 && s.time_s < 1.31;
    before += s.time_s < 1.0;
    after += s.time_s > 1.35;
  }
  CHECK(inside == 0);
  CHECK(before > 25);
  CHECK(after > 70);
  CHECK(Compare(tracks[0], scene, Hook, 0.3).worst < 1);
}

TEST_CASE("lost for longer than a chain lives, the ball found farther on is still one shot") {
  Scene scene(Setup(), 18);
  const auto tracks = Run(scene, 3.4, [&](double t) -> std::vector<Ball> {
    if (t > 1.0 && t < 1.9) return {};
    return Rolling(0.2, kNavy)(t);
  });
  REQUIRE(tracks.size() == 1);
  const auto& sights = tracks[0].sights;
  REQUIRE(!sights.empty());
  CHECK(sights.front().time_s < 0.5);
  CHECK(sights.back().time_s > 2.3);
  for (const BallSight& s : sights) CHECK((s.time_s < 1.02 || s.time_s > 1.88));
}

TEST_CASE("lost half way and hardly seen farther on, the ball is taken up again for the last metre and a half") {
  Scene scene(Setup(), 18);
  const double hidden = 1.2, half = 1.75, clear = 2.5;  // s
  const auto tracks = Run(
      scene, 3.4,
      [&](double t) -> std::vector<Ball> {
        if (t > hidden && t < half) return {};
        return Rolling(0.2, kNavy)(t);
      },
      [&](double t) -> std::vector<Box> {
        if (t < half || t > clear) return {};
        // A sleeve before the ball's right half and more.
        const Eigen::Vector3d at = Hook(t - 0.2);
        const Eigen::Vector2d p = scene.Pixel(at);
        const double r = (scene.Pixel(at + Eigen::Vector3d(lane::kBallDiameter / 2, 0, 0)) - p).x();
        const int left = static_cast<int>(p.x() - 0.1 * r), top = static_cast<int>(p.y() - 60);
        return {{cv::Rect(left, top, 90, 120), {105, 120, 130}}};
      });
  REQUIRE(tracks.size() == 1);
  const auto& sights = tracks[0].sights;
  int last = 0;
  for (const BallSight& s : sights) last += s.time_s > clear;
  CHECK(last > 8);
  CHECK(Compare(tracks[0], scene, Hook, 0.2).worst < 1);
}

TEST_CASE("with the light changing by a fifth the ball is still followed") {
  Scene scene(Setup(), 12);
  BallTracker tracker(scene.setup(), scene.StillBackground());
  const auto balls = Rolling(0.3, kNavy);
  for (int i = 0; i < 190; ++i) {
    const double t = i * kFrame;
    Picture p = scene.Draw(t, i, balls(t));
    p.luma.convertTo(p.luma, CV_8U, 1 + 0.1 * std::sin(2 * t));
    tracker.Add(p, FrameMotion{});
  }
  const auto tracks = tracker.Finish();
  REQUIRE(tracks.size() == 1);
  const Errors e = Compare(tracks[0], scene, Hook, 0.3);
  CHECK(std::abs(e.bias_u) < 0.06);
  CHECK(std::abs(e.bias_v) < 0.1);
}

TEST_CASE("a camera that was knocked: centres come in the reference frame and in the frame's own pixels") {
  Scene still(Setup(), 13);
  // The turned camera sees the same scene; p_now = R p_reference.
  const Eigen::Vector3d turn(0.004, -0.006, 0.002);
  LaneSetup turned_setup = Setup();
  const Eigen::Matrix3d now =
      camera::RotationFromAngleAxis<double>(turn) * camera::RotationFromAngleAxis<double>(turned_setup.camera.rotation);
  const Eigen::AngleAxisd a(now);
  turned_setup.camera.rotation = a.angle() * a.axis();
  Scene turned(turned_setup, 14);
  BallTracker tracker(still.setup(), still.StillBackground());
  const auto balls = Rolling(0.3, kNavy);
  for (int i = 0; i < 190; ++i) {
    const double t = i * kFrame;
    const bool knocked = t > 1.2;
    FrameMotion m;
    if (knocked)
      for (int k = 0; k < 3; ++k) m.rotation[k] = turn[k];
    m.sd_px = knocked ? 0.1 : 0;
    tracker.Add((knocked ? turned : still).Draw(t, i, balls(t)), m);
  }
  const auto tracks = tracker.Finish();
  REQUIRE(tracks.size() == 1);
  const Errors e = Compare(tracks[0], still, Hook, 0.3);
  CHECK(e.n > 130);
  CHECK(std::abs(e.bias_u) < 0.08);
  CHECK(std::abs(e.bias_v) < 0.1);
  CHECK(e.worst < 1);
  for (const BallSight& s : tracks[0].sights) {
    const Scene& scene = s.time_s > 1.2 ? turned : still;
    CHECK((s.p_in_frame - scene.Pixel(Hook(s.time_s - 0.3))).norm() < 1.2);
  }
}

TEST_CASE("pictures of one time stamp, or none at all, are no harm") {
  Scene scene(Setup(), 15);
  BallTracker none(scene.setup(), scene.StillBackground());
  CHECK(none.Finish().empty());
  BallTracker twice(scene.setup(), scene.StillBackground());
  for (int i = 0; i < 10; ++i) twice.Add(scene.Draw(0, i, {}), FrameMotion{});
  CHECK(twice.Finish().empty());
}

TEST_CASE("a ball half hidden some metres down the lane keeps its sights from before") {
  Scene scene(Setup(), 31);
  const auto tracks = Run(scene, 3.2, Rolling(0.3, kNavy), [&](double t) -> std::vector<Box> {
    // A leg over the ball's right half while it rolls from 3.9 to 4.9 m, which drags its disc to the left.
    const Eigen::Vector3d p = Hook(t - 0.3);
    if (p.y() < 3.9 || p.y() > 4.9) return {};
    const Eigen::Vector2d c = scene.Pixel(p);
    return {{cv::Rect(static_cast<int>(c.x()) & ~1, static_cast<int>(c.y() - 60) & ~1, 60, 120), {45, 140, 122}}};
  });
  REQUIRE(tracks.size() == 1);
  CHECK(tracks[0].end == TrackEnd::kPins);
  int before = 0;
  for (const BallSight& s : tracks[0].sights) before += Hook(s.time_s - 0.3).y() < 3.5;
  CHECK(before > 15);
}

TEST_CASE("an arm that hides the ball's upper part for a metre and a half does not cost the sights from before") {
  Scene scene(Setup(), 33);
  const auto tracks = Run(scene, 3.2, Rolling(0.3, kNavy), [&](double t) -> std::vector<Box> {
    const Eigen::Vector3d p = Hook(t - 0.3);
    if (p.y() < 5.0 || p.y() > 6.5) return {};
    // Nearly as dark as the ball, it draws the disc down.
    const Eigen::Vector2d c = scene.Pixel(p);
    const double r = camera::BallRadiusPx(scene.setup().camera, p, kRadius);
    return {{cv::Rect(static_cast<int>(c.x() - 4 * r) & ~1, static_cast<int>(c.y() - 1.2 * r) & ~1,
                      static_cast<int>(8 * r), static_cast<int>(1.4 * r)),
             {60, 120, 140}}};
  });
  REQUIRE(tracks.size() == 1);
  CHECK(tracks[0].end == TrackEnd::kPins);
  int before = 0;
  for (const BallSight& s : tracks[0].sights) before += Hook(s.time_s - 0.3).y() < 4.8;
  CHECK(before > 30);
}

TEST_CASE(
    "a ball whose sights scatter by more than a pixel is no ball in the hand: its way from the foul line is kept") {
  Scene scene(Setup(), 41);
  // A bold pattern draws the rim this way and that as the ball turns; here the disc itself is drawn off its way.
  const auto scattered = [&](double t) {
    std::mt19937 random(static_cast<unsigned>(std::lround(t / kFrame)));
    Eigen::Vector3d p = Hook(t);
    std::normal_distribution<double> off(0, p.y() > 3.5 && p.y() < 6 ? 0.16 * kRadius : 0.02 * kRadius);
    p.x() += off(random);
    p.z() += off(random);
    return p;
  };
  const auto tracks = Run(scene, 3.2, [&](double t) -> std::vector<Ball> {
    if (t < 0.3 || Hook(t - 0.3).y() > lane::kPitY) return {};
    return {{scattered(t - 0.3), kNavy, 0.3}};
  });
  REQUIRE(tracks.size() == 1);
  int before = 0;
  for (const BallSight& s : tracks[0].sights) before += Hook(s.time_s - 0.3).y() < 3.5;
  CHECK(before > 15);
}
