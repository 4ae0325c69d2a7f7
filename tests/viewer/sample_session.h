// A session for panels: simulated balls of an invented bowler with paths, measures with errors, a let-up, a turn too
// much, a second ball, and a lane that changes. No clip belongs to it; the camera is one behind the approach.
#pragma once

#include <memory>
#include <random>
#include <string>
#include <vector>

#include "advice/advise.h"
#include "model/shot.h"
#include "motion/simulated_session.h"
#include "pipeline/plan_move.h"
#include "report/fixture.h"
#include "viewer/shown_shot.h"

namespace hookline::test {

struct SampleSession {
  std::vector<Shot> shots;
  std::vector<std::string> results;
  LaneSetup setup;
  Advice advice;
  // `chosen`: places of the shots that are chosen.
  std::vector<viewer::ShownShot> Shown(const std::vector<std::size_t>& chosen) const {
    std::vector<viewer::ShownShot> shown;
    int look = 0;
    for (std::size_t i = 0; i < shots.size(); ++i) {
      viewer::ShownShot s;
      s.id = 100 + static_cast<int>(i);
      s.shot = &shots[i];
      s.name = std::to_string(shots[i].number);
      s.clip = "evening_" + s.name + ".mp4";
      s.chosen = std::find(chosen.begin(), chosen.end(), i) != chosen.end();
      if (s.chosen) s.look = look++;
      s.result = results[i];
      for (const ShotAdvice& a : advice.shots)
        if (a.number == shots[i].number) s.advice = &a;
      s.lane_setup = &setup;
      shown.push_back(s);
    }
    return shown;
  }
};

inline SampleSession MakeSampleSession(int count = 14) {
  SampleSession session;
  session.setup.camera = BehindTheLane();
  session.setup.residual_px = 0.3;
  std::mt19937 random(20260114);
  simulated::Bowler bowler;
  bowler.launch_sd = 0.1;
  bowler.laydown_sd = 0.006;
  bowler.mean.speed = lane::MetresPerSecondFromMph(17.2);
  bowler.mean.rpm = 310;
  bowler.mean.rotation_deg = 45;
  bowler.mean.launch_deg = 2.6;
  bowler.mean.laydown_x = 0.0;
  bowler.mean.laydown_y = lane::MetresFromFeet(1);
  bowler.mean.impact = 0.1;
  bowler.mean.k = 0.352;
  bowler.mean.mu_oil = 0.042;
  bowler.mean.mu_out = 0.055;
  bowler.mean.mu_dry = 0.2;
  bowler.mean.oil_ft = 41;
  const std::vector<std::string> results = {"strike", "9", "strike", "8", "9", "strike", "split", "9"};
  for (int i = 0; i < count; ++i) {
    simulated::Release r = simulated::OneOf(bowler, random);
    if (i == 6) r.speed -= lane::MetresPerSecondFromMph(1.6);
    if (i == 8) {
      r.rotation_deg += 15;
      r.launch_deg += 0.8;
    }
    if (i >= 9) {
      r.oil_ft -= 2;
      r.mu_oil *= 1.25;
    }
    const bool second = i == 4 || i == 5;
    if (second) r.mu_dry *= 0.85;
    Shot shot = simulated::MeasuredShot(r, i + 1, 1, random);
    shot.bowler = "Sample bowler";
    shot.ball = second ? "the smooth one" : "the dull one";
    shot.plan = second ? "a little inside" : "third arrow";
    shot.target.arrows_board = 14.5;
    shot.target.stance_board = 24;
    shot.path_model = "physics";
    for (PathPoint& p : shot.path) {
      p.time_s += 2.5;
      p.sd_x = 0.002 + 0.0006 * p.y;
      p.sd_y = 0.01;
      p.seen = true;
    }
    shot.start_s = 0.4;
    shot.release_s = 2.46;
    if (shot.path.back().y > lane::MetresFromFeet(58)) shot.pin_contact_s = shot.path.back().time_s + 0.03;
    const simulated::TrueShot t = simulated::Roll(r);
    double outermost = -1, at = 0;
    for (const PathPoint& p : shot.path)
      if (p.y > lane::MetresFromFeet(16) && p.x > outermost) {
        outermost = p.x;
        at = p.y;
      }
    shot.measures[MeasureId::kBreakpointBoard] =
        Measure::Of(lane::BoardFromX(outermost, lane::kNominalWidth, shot.hand), 0.12);
    shot.measures[MeasureId::kBreakpointFt] = Measure::Of(lane::FeetFromMetres(at), 1.3);
    shot.measures[MeasureId::kRevRateRpm] = Measure::None("The ball's surface shows no marks.");
    session.results.push_back(results[static_cast<std::size_t>(i) % results.size()]);
    session.shots.push_back(std::move(shot));
  }
  session.advice = advice::Advise(session.shots);
  pipeline::PlanMoveByPhysics(session.shots, session.advice);
  return session;
}

}  // namespace hookline::test
