#include "synth/session.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <nlohmann/json.hpp>

#include "lane/lane_spec.h"
#include "lane/units.h"
#include "synth/session_motion.h"

namespace hookline::synth {
namespace {

using lane::Hand;

// The same numbers on every machine (splitmix64; Steele, Lea & Flood 2014), which std::normal_distribution does not
// promise.
class Dice {
 public:
  // The seed is mixed first: streams of neighbouring seeds would else be one stream, shifted by a draw.
  explicit Dice(std::uint64_t seed) : state_(Mixed(seed + kStep)) {}
  double Uniform() {
    state_ += kStep;
    return (static_cast<double>(Mixed(state_) >> 11) + 0.5) * 0x1p-53;
  }
  double Between(double a, double b) { return a + (b - a) * Uniform(); }
  bool Happens(double chance) { return Uniform() < chance; }
  double Normal(double sd = 1) {
    const double u = Uniform(), v = Uniform();
    return sd * std::sqrt(-2 * std::log(u)) * std::cos(2 * lane::kPi * v);
  }

 private:
  static constexpr std::uint64_t kStep = 0x9E3779B97F4A7C15ULL;
  static std::uint64_t Mixed(std::uint64_t z) {
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  std::uint64_t state_;
};

struct BallKind {
  std::string name;
  double grip = 1, k = 0.36;
};

// The line that a plan means: arrows, laydown and launch that go together.
struct Line {
  std::string plan;
  double arrows = 15, launch = 1.5;  // straight from laydown to there
  double stance = 25, target = 15;
};

double LaydownOf(double arrows, double launch_deg, const lane::LaneSpec& spec, Hand hand) {
  const double y = spec.ArrowLineY(lane::XFromBoard(arrows, spec.width, hand));
  return arrows +
         std::tan(lane::RadiansFromDegrees(launch_deg)) * (y - lane::MetresFromFeet(1)) / lane::BoardWidth(spec.width);
}

// Typical doubts on good footage; a session's own is a multiple of them.
double TypicalSd(MeasureId id) {
  switch (id) {
    case MeasureId::kLaydownBoard:
      return 0.15;
    case MeasureId::kLaydownFt:
      return 0.3;
    case MeasureId::kLaunchAngleDeg:
      return 0.06;
    case MeasureId::kBoardAtArrows:
    case MeasureId::kBoardAt15Ft:
      return 0.12;
    case MeasureId::kBoardAt40Ft:
    case MeasureId::kBreakpointBoard:
    case MeasureId::kEntryBoard:
      return 0.22;
    case MeasureId::kBreakpointFt:
      return 1.2;
    case MeasureId::kEntryAngleDeg:
      return 0.2;
    case MeasureId::kSpeedReleaseMph:
      return 0.15;
    case MeasureId::kSpeedArrowsMph:
    case MeasureId::kSpeedMeanMph:
      return 0.08;
    case MeasureId::kSpeedEntryMph:
      return 0.2;
    case MeasureId::kSkidEndFt:
      return 2.2;
    case MeasureId::kRollStartFt:
      return 1.8;
    case MeasureId::kSlipAngleDeg:
      return 1.3;
    case MeasureId::kPathTurnDeg:
      return 3.0;
    case MeasureId::kPathRevRpm:
      return 12;
    default:
      return 0;
  }
}

Measures WithNoise(const Measures& exact, double times, Dice& dice) {
  Measures noisy;
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    const auto id = static_cast<MeasureId>(i);
    if (!exact[id].value) {
      noisy[id] = exact[id];
      continue;
    }
    // Doubts differ from shot to shot too.
    const double sd = TypicalSd(id) * times * std::exp(dice.Normal(0.15));
    noisy[id] = Measure::Of(*exact[id].value + dice.Normal(sd), sd);
  }
  return noisy;
}

}  // namespace

Status SessionOptions::Check() const {
  if (shots < 0 || shots > 100000) return {StatusCode::kBadUse, "shots must be in 0 to 100000."};
  if (base_shots < 1 || base_shots > 100) return {StatusCode::kBadUse, "base_shots must be in 1 to 100."};
  for (double c : {slower_chance, turn_chance, miss_chance, ball_chance, move_chance, lane_step_chance,
                   lane_drift_chance, wider_chance}) {
    if (!(c >= 0 && c <= 1)) return {StatusCode::kBadUse, "Every chance of a session must be in 0 to 1."};
  }
  if (!(slower_from_mph >= 0 && slower_to_mph >= slower_from_mph && slower_to_mph <= 5) ||
      !(turn_from_deg >= 0 && turn_to_deg >= turn_from_deg && turn_to_deg <= 40)) {
    return {StatusCode::kBadUse, "Sizes of let-ups must rise within 0 to 5 mph, of turns within 0 to 40 deg."};
  }
  return Status::Ok();
}

Session MakeSession(const SessionOptions& o) {
  assert(o.Check().ok());
  Dice dice(o.seed);
  Session session;
  SessionTruth& truth = session.truth;
  const Hand hand = dice.Happens(0.15) ? Hand::kLeft : Hand::kRight;
  const lane::LaneSpec spec;
  truth.speed_mph = dice.Between(15.5, 19.5);
  truth.speed_sd_mph = std::clamp(0.35 * std::exp(dice.Normal(0.35)), 0.18, 0.7);
  truth.rotation_deg = dice.Between(28, 62);
  truth.rotation_sd_deg = std::clamp(3 * std::exp(dice.Normal(0.3)), 1.5, 6.0);
  truth.rev_rpm = dice.Between(220, 420);
  truth.launch_sd_deg = dice.Between(0.18, 0.36);
  truth.laydown_sd_board = dice.Between(0.35, 0.7);
  const double tilt = dice.Between(4, 18), rev_sd = dice.Between(6, 16), noise = std::exp(dice.Normal(0.3));
  Friction& lane = truth.lane;
  lane.oil = dice.Between(0.03, 0.045);
  lane.outside = lane.oil * dice.Between(1.3, 2.2);
  lane.outside_x = lane::MetresFromInches(dice.Between(11, 15));
  lane.outside_blend = lane::MetresFromInches(dice.Between(1, 3));
  lane.dry = dice.Between(0.16, 0.21);
  lane.oil_length = lane::MetresFromFeet(dice.Between(34, 42));
  lane.transition = lane::MetresFromFeet(dice.Between(3, 7));
  const std::vector<BallKind> balls = {{"ball A", 1, dice.Between(0.33, 0.42)},
                                       {"ball B", dice.Between(0.72, 0.88), dice.Between(0.33, 0.42)},
                                       {"ball C", dice.Between(1.14, 1.35), dice.Between(0.33, 0.42)}};

  const auto release = [&](const Line& line, double speed, double turn, double rev, double launch, double laydown) {
    Release r;
    r.hand = hand;
    r.speed_mph = speed;
    r.axis_rotation_deg = turn;
    r.axis_tilt_deg = tilt;
    r.rev_rpm = rev;
    r.launch_deg = launch;
    r.laydown_board = LaydownOf(line.arrows, line.launch, spec, hand) + laydown;
    return r;
  };
  // A line that brings this bowler's mean ball to about the pocket: the launch follows the arrows by a few steps of
  // bisection.
  const auto find_line = [&](const std::string& plan, double arrows) {
    Line line;
    line.plan = plan;
    line.arrows = arrows;
    double low = -1, high = 9;
    const double aim = 17.5 + dice.Normal(1.0);
    for (int i = 0; i < 16; ++i) {
      line.launch = 0.5 * (low + high);
      const auto run = RunOnLane(release(line, truth.speed_mph, truth.rotation_deg, truth.rev_rpm, line.launch, 0),
                                 spec, lane, 1, balls[0].k, 0.004);
      const auto& entry = run.measures[MeasureId::kEntryBoard];
      (entry.value && *entry.value > aim ? low : high) = line.launch;
    }
    const double step = dice.Between(5, 8);
    line.stance = std::round(LaydownOf(line.arrows, line.launch, spec, hand) + step);
    const auto mean = RunOnLane(release(line, truth.speed_mph, truth.rotation_deg, truth.rev_rpm, line.launch, 0), spec,
                                lane, 1, balls[0].k, 0.004);
    line.target =
        std::round(2 * *mean.measures[MeasureId::kBoardAtArrows].value) / 2;  // the ball hooks a little before
    return line;
  };
  Line line = find_line("one line", std::round(2 * dice.Between(11, 18)) / 2);
  std::optional<Line> other;
  const int count = o.shots > 0 ? o.shots : static_cast<int>(dice.Between(14, 28.99));
  int plan_change = 0;
  if (o.second_plan && dice.Happens(0.25)) {
    other = find_line("wide line", line.arrows - dice.Between(2, 4));
    plan_change = o.base_shots + 1 + static_cast<int>(dice.Between(3, 9));
  }
  double rise = 0;
  int sign = 1;
  if (dice.Happens(o.lane_step_chance)) {
    truth.lane_change_at = o.base_shots + static_cast<int>(dice.Between(3, 9));
    sign = dice.Happens(0.2) ? -1 : 1;
    if (*truth.lane_change_at > count) truth.lane_change_at.reset();
  } else if (dice.Happens(o.lane_drift_chance)) {
    rise = dice.Between(0.005, 0.02);
  }
  std::size_t ball = 0;
  int ball_back = 0;
  for (int number = 1; number <= count; ++number) {
    const bool scripted = number > o.base_shots;
    SessionShotTruth t;
    const auto set = [&](Cause c, std::optional<bool> v) { t.causes[static_cast<std::size_t>(c)] = v; };
    for (auto& c : t.causes) c = false;
    if (truth.lane_change_at && number == *truth.lane_change_at) {
      const double up = dice.Between(1.15, 1.4);
      lane.oil *= sign > 0 ? up : 1 / up;
      lane.outside *= sign > 0 ? up : 1 / up;
      lane.oil_length -= sign * lane::MetresFromFeet(dice.Between(1, 4));
    }
    lane.oil *= 1 + rise;
    lane.outside *= 1 + rise;
    if (truth.lane_change_at && number >= *truth.lane_change_at) {
      const bool early = number < *truth.lane_change_at + 3;
      set(sign > 0 ? Cause::kLaneHooksMore : Cause::kLaneHooksLess, early ? std::optional<bool>(true) : std::nullopt);
    }
    if (rise > 0) set(Cause::kLaneHooksMore, std::nullopt);
    if (other && number == plan_change) {
      line = *other;
      set(Cause::kMoved, true);
    } else if (scripted && dice.Happens(o.move_chance)) {
      const double feet = (dice.Happens(0.5) ? 2 : 4) * (dice.Happens(0.75) ? 1 : -1);
      line.stance += feet;
      line.arrows += feet / 2;
      line.target += feet / 2;
      set(Cause::kMoved, true);
    }
    if (ball_back == number) {
      ball = 0;
      ball_back = 0;
      set(Cause::kNewBall, true);
    } else if (scripted && ball == 0 && dice.Happens(o.ball_chance)) {
      ball = dice.Happens(0.5) ? 1 : 2;
      ball_back = number + static_cast<int>(dice.Between(3, 9));
      set(Cause::kNewBall, true);
    }
    double speed_swing = dice.Normal(truth.speed_sd_mph), turn_swing = dice.Normal(truth.rotation_sd_deg);
    double launch = line.launch + dice.Normal(truth.launch_sd_deg), laydown = dice.Normal(truth.laydown_sd_board);
    if (scripted && dice.Happens(o.slower_chance)) {
      t.slower_mph = dice.Between(o.slower_from_mph, o.slower_to_mph);
    }
    if (scripted && dice.Happens(o.turn_chance)) {
      t.turn_deg = dice.Between(o.turn_from_deg, o.turn_to_deg);
      if (dice.Happens(o.wider_chance)) launch += dice.Between(0.4, 1.6);
    } else if (scripted && dice.Happens(o.miss_chance)) {
      const double miss = dice.Between(2.2, 4.5) * (dice.Happens(0.5) ? 1 : -1);
      if (dice.Happens(0.7)) {
        launch -= miss / (0.197 * 13);  // with the launch
      } else {
        laydown += miss;  // with the feet
      }
    }
    t.speed_mph = truth.speed_mph + speed_swing - t.slower_mph;
    t.axis_rotation_deg = truth.rotation_deg + turn_swing + t.turn_deg;
    t.rev_rpm = truth.rev_rpm + dice.Normal(rev_sd);
    const LaneRun run = RunOnLane(release(line, t.speed_mph, t.axis_rotation_deg, t.rev_rpm, launch, laydown), spec,
                                  lane, balls[ball].grip, balls[ball].k, 0.004);
    t.exact = run.measures;
    t.entry_board = run.measures[MeasureId::kEntryBoard].value.value_or(0);
    t.entry_angle_deg = run.measures[MeasureId::kEntryAngleDeg].value.value_or(0);
    if (t.slower_mph > 0) {
      set(Cause::kSlower, true);
    } else if (speed_swing < -1.5 * truth.speed_sd_mph) {
      set(Cause::kSlower, std::nullopt);
    }
    if (t.turn_deg > 0) {
      set(Cause::kMoreTurn, true);
    } else if (turn_swing > 1.5 * truth.rotation_sd_deg) {
      set(Cause::kMoreTurn, std::nullopt);
    }
    const double off = *run.measures[MeasureId::kBoardAtArrows].value - line.target;
    for (const auto& [cause, way] : {std::pair{Cause::kMissedIn, off}, std::pair{Cause::kMissedOut, -off}}) {
      set(cause, way >= 2 ? std::optional<bool>(true) : way >= 1.5 ? std::nullopt : std::optional<bool>(false));
    }

    Shot shot;
    shot.number = number;
    shot.hand = hand;
    shot.hand_source = HandSource::kGiven;
    shot.bowler = "bowler " + std::to_string(o.seed);
    shot.ball = balls[ball].name;
    shot.plan = line.plan;
    shot.target.arrows_board = line.target;
    shot.target.stance_board = line.stance;
    shot.target.target_board = line.target;
    shot.release_s = 0;
    shot.pin_contact_s = run.entry_s;
    if (run.gutter_ft) {
      shot.gutter_ft = run.gutter_ft;
      shot.gutter_own_side = run.gutter_own_side;
    }
    shot.measures = WithNoise(run.measures, noise, dice);
    for (FrictionZone zone : run.friction) {
      zone.sd = zone.value * (zone.from_ft < 30 ? 0.06 : 0.12) * noise;
      zone.value = std::max(0.2 * zone.value, zone.value + dice.Normal(zone.sd));
      shot.friction.push_back(zone);
    }
    shot.pins_reason = "A session without pictures.";
    session.shots.push_back(std::move(shot));
    truth.shots.push_back(std::move(t));
  }
  return session;
}

std::string SessionTruthJson(const Session& session) {
  using Json = nlohmann::ordered_json;
  const SessionTruth& t = session.truth;
  const bool left = !session.shots.empty() && session.shots.front().hand == Hand::kLeft;
  Json j = {
      {"hand", left ? "left" : "right"},
      {"bowler",
       {{"speed_mph", t.speed_mph},
        {"speed_sd_mph", t.speed_sd_mph},
        {"rotation_deg", t.rotation_deg},
        {"rotation_sd_deg", t.rotation_sd_deg},
        {"rev_rpm", t.rev_rpm},
        {"launch_sd_deg", t.launch_sd_deg},
        {"laydown_sd_board", t.laydown_sd_board}}},
      {"lane", {{"oil", t.lane.oil}, {"dry", t.lane.dry}, {"length_ft", lane::FeetFromMetres(t.lane.oil_length)}}},
      {"lane_change_at", t.lane_change_at ? Json(*t.lane_change_at) : Json(nullptr)}};
  Json shots = Json::array();
  for (std::size_t i = 0; i < t.shots.size(); ++i) {
    const SessionShotTruth& s = t.shots[i];
    Json causes = Json::object();
    for (std::size_t c = 0; c < kCauseCount; ++c) {
      causes[std::string(kCauseKeys[c])] = s.causes[c] ? Json(*s.causes[c] ? 1 : 0) : Json(nullptr);
    }
    shots.push_back({{"number", session.shots[i].number},
                     {"causes", std::move(causes)},
                     {"speed_change_mph", -s.slower_mph},
                     {"turn_change_deg", s.turn_deg},
                     {"speed_mph", s.speed_mph},
                     {"axis_rotation_deg", s.axis_rotation_deg},
                     {"entry_board", s.entry_board},
                     {"entry_angle_deg", s.entry_angle_deg}});
  }
  j["shots"] = std::move(shots);
  return j.dump(2) + "\n";
}

}  // namespace hookline::synth
