#include "synth/figure.h"

#include <doctest/doctest.h>

#include "lane/lane_spec.h"

namespace hookline::synth {

TEST_CASE("the hand holds the ball until the release, and lets it go where the flight begins") {
  for (const char* hand : {"right", "left"}) {
    ShotSpec s;
    s.hand = hand;
    const ShotRun run(s, lane::kNominalWidth, lane::kGutterDepth);
    const Bowler bowler(run, 0, -1e9, 1e9);
    const Eigen::Vector3d flight = run.At(run.release_s()).motion.p;
    CHECK((bowler.BallAt(run.release_s()) - flight).norm() < 1e-6);
    // No jump before: the ball never moves faster than a swing can.
    Eigen::Vector3d before = bowler.BallAt(run.release_s() - 4);
    for (double t = run.release_s() - 4 + 0.01; t <= run.release_s(); t += 0.01) {
      const Eigen::Vector3d now = bowler.BallAt(t);
      CHECK((now - before).norm() < 0.14);
      before = now;
    }
    // The sliding foot ends on the ball's other side, behind the line.
    const BodyPose pose = bowler.PoseAt(run.release_s() + 0.3);
    const int slide = hand[0] == 'r' ? 0 : 1;
    CHECK(pose.ankle[slide].y() < -0.05);
    CHECK(run.hand_sign() * (flight.x() - pose.ankle[slide].x()) > 0.05);
  }
}

TEST_CASE("a body hangs together") {
  FigureSpec f;
  for (double travelled : {0.0, 0.2, 0.5, 0.9}) {
    const auto parts = PartsOf(Walking(f, {1, -2}, 0.7, travelled), f);
    float low = 1e9f, high = -1e9f;
    for (const BodyPart& p : parts) {
      low = std::min({low, p.a.z() - p.ra, p.b.z() - p.rb});
      high = std::max({high, p.a.z() + p.ra, p.b.z() + p.rb});
    }
    CHECK(low > -0.02f);
    CHECK(high == doctest::Approx(lane::MetresFromFeet(f.height_ft)).epsilon(0.06));
  }
}

}  // namespace hookline::synth
