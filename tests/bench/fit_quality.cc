// fit_quality: how good the path's fit is over simulated tracks with exact truth, camera and lane doubted as in a clip.
//
// Per quantity: the spread of error over sd (1 is right), and the efficiency, the least variance any unbiased estimate
// can have over the one the fit has. That bound is the inverse of the information the sights hold about the release,
// the lane's friction and the setup (the setup with its prior): J' S^-1 J with S the sights' noise, white and lasting,
// with the fit's own priors where it has some, and J by differences of the simulated ball
// (tests/motion/simulated_shot.h), which is not the fit's own curve. The speed at release steps where the ball lands
// and has no slope there: its bound is the variance over balls drawn with that inverse for their covariance, less those
// that land on the other side of the first sight. The ball's radius of gyration is known here.

#include <CLI/CLI.hpp>
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "lane/friction_rise.h"
#include "measure/measure_path.h"
#include "motion/path_fit.h"
#include "motion/simulated_shot.h"

namespace {

using namespace hookline;
using namespace hookline::simulated;

constexpr int kReleaseParameters = 17;
using ReleaseVector = Eigen::Matrix<double, kReleaseParameters, 1>;
using ReleaseMatrix = Eigen::Matrix<double, kReleaseParameters, kReleaseParameters>;

// What a shot is made of, in units in which a step of one is small enough for a difference and large enough for the
// simulation's own steps.
// The fit's own priors (motion/path_fit.h), in these units, and how uneven lanes are; 0: none. Laydown and landing are
// known no better from what is seen of most shots.
const ReleaseVector kPriors =
    (ReleaseVector() << 0, 0.37, 0, 0, 0, 0, 1.2, 0.3, 0.6, 6, 0, 0, 0.5, 0.08, 0.08, 2.5, 0.1).finished();
constexpr int kLaydownY = 1, kImpactSpeed = 10;  // places in it
const ReleaseVector kSteps =
    (ReleaseVector() << 0.002, 0.05, 0.02, 0.05, 5, 1, 0.04, 0.01, 0.03, 0.3, 0.05, 0.004, 0.03, 0.02, 0.02, 0.1, 0.01)
        .finished();

struct Scene {
  Release release;
  double laydown_s = 1.0;
};

Scene Moved(const Scene& scene, const ReleaseVector& d) {
  Scene s = scene;
  s.release.laydown_x += d[0];
  s.release.laydown_y += d[1];
  s.release.speed += d[2];
  s.release.launch_deg += d[3];
  s.release.rpm += d[4];
  s.release.rotation_deg += d[5];
  s.release.mu_oil *= std::exp(d[6] * 0.5);
  s.release.mu_out *= std::exp(d[6] * 0.5);
  s.release.mu_dry *= std::exp(d[7]);
  s.release.transition_ft *= std::exp(d[8]);
  s.release.oil_ft += d[9];
  s.release.impact += d[10];
  s.laydown_s += d[11];
  s.release.mu_out *= std::exp(d[12]);
  s.release.uneven_sin += d[13];
  s.release.uneven_cos += d[14];
  s.release.out_boards += d[15];
  s.release.bounce += d[16];
  return s;
}

Scene RandomScene(std::mt19937& random) {
  std::uniform_real_distribution<double> u;
  const auto between = [&](double a, double b) { return a + (b - a) * u(random); };
  for (;;) {
    Scene s;
    Release& r = s.release;
    r.speed = lane::MetresPerSecondFromMph(between(14, 19));
    r.rpm = between(180, 450);
    r.rotation_deg = between(20, 65);
    r.launch_deg = between(0.5, 3.5);
    r.laydown_x = between(-0.25, 0.25);
    // The hand opens near the line, somewhat above the lane: where the ball lands and how hard belong together.
    const double height = lane::MetresFromInches(u(random) < 0.75 ? between(0.3, 3) : between(3, 9));
    const double climb = lane::MetresPerSecondFromMph(u(random) < 0.7 ? between(-0.6, 0.4) : between(0.4, 1.6));
    r.impact = std::sqrt(climb * climb + 2 * lane::kStandardGravity * height);
    r.laydown_y = MetresFromFeet(between(-1.2, 0.6)) + r.speed * (climb + r.impact) / lane::kStandardGravity;
    if (r.laydown_y < MetresFromFeet(0.2) || r.laydown_y > MetresFromFeet(2.5)) continue;
    r.k = between(0.33, 0.40);
    // Lanes as clips are made with (synth/random_scenario.cc).
    r.mu_oil = between(0.028, 0.055);
    r.mu_out = r.mu_oil + between(0, 0.07);
    r.mu_dry = between(0.13, 0.24);
    r.oil_ft = between(34, 46);
    r.transition_ft = between(2, 11);
    r.out_boards = between(6, 11);
    // No lane is even: some per cent over some metres.
    r.uneven_m = between(3, 8);
    r.uneven_sin = between(-0.12, 0.12);
    r.uneven_cos = between(-0.12, 0.12);
    const TrueShot shot = Roll(r);
    bool on_lane = shot.roll_y.has_value() && *shot.roll_y < MetresFromFeet(55);
    for (const State& t : shot.states) on_lane = on_lane && (t.t < 0 || std::abs(t.x) < 0.5);
    if (on_lane) return s;
  }
}

// Where friction is told, by the name it is judged under.
using Zones = std::map<std::string, FrictionZone>;

// Mean of the logarithm of the friction along the way, as the program gives it.
double LogFriction(const Release& r, const TrueShot& shot, const FrictionZone& zone) {
  constexpr int kPlaces = 50;
  double sum = 0;
  for (int i = 0; i < kPlaces; ++i) {
    const double y = MetresFromFeet(zone.from_ft + (zone.to_ft - zone.from_ft) * (i + 0.5) / kPlaces);
    sum += std::log(r.Mu(shot.AtY(y).x, y));
  }
  return sum / kPlaces;
}

// Of the friction that the ball meets, but for the waves in it, ft.
double SkidEnd(Release r, const TrueShot& shot) {
  r.uneven_sin = r.uneven_cos = 0;
  std::vector<lane::FrictionMet> way;
  for (const State& s : shot.states)
    if (s.t >= 0) way.push_back({s.y, r.Mu(s.x, s.y)});
  return lane::FeetFromMetres(lane::RiseOn(way).half_way_y.value_or(MetresFromFeet(r.oil_ft)));
}

// Names and values of what is judged, from the truth, on a lane that wide; of friction the logarithm.
std::map<std::string, double> Truth(const Scene& scene, const Zones& zones, double width = lane::kNominalWidth) {
  const Release& r = scene.release;
  const TrueShot shot = Roll(r);
  const auto at = [&](double ft) { return shot.AtY(MetresFromFeet(ft)); };
  const auto board = [width](const State& s) { return lane::BoardFromX(s.x, width, lane::Hand::kRight); };
  const auto mph = [](const State& s) { return lane::MphFromMetresPerSecond(std::hypot(s.vx, s.vy, s.vz)); };
  constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
  State entry = at(59.5);
  for (int i = 0; i < 4 && std::abs(entry.x) < kTouch; ++i)
    entry = shot.AtY(std::min(lane::kEntryY, lane::kHeadPinY - std::sqrt(kTouch * kTouch - entry.x * entry.x)));
  const State a = at(3), b = at(10);
  const double w = r.rpm / 60 * 2 * lane::kPi * lane::kBallDiameter / 2,
               turn = lane::RadiansFromDegrees(r.rotation_deg);
  std::map<std::string, double> truth = {
      {"board_at_15ft", board(at(15))},
      {"board_at_40ft", board(at(40))},
      {"entry_board", board(entry)},
      {"entry_angle_deg", lane::DegreesFromRadians(std::atan2(-entry.vx, entry.vy))},
      {"launch_angle_deg", lane::DegreesFromRadians(std::atan2(b.x - a.x, b.y - a.y))},
      {"speed_release_mph", mph(at(2))},
      {"speed_arrows_mph", mph(at(15))},
      {"speed_entry_mph", mph(at(59))},
      {"speed_mean_mph", lane::MphFromMetresPerSecond(entry.y / (entry.t - at(0).t))},
      {"slip_angle_deg", lane::DegreesFromRadians(std::atan2(w * std::sin(turn), r.speed - w * std::cos(turn)))},
      {"skid_end_ft", SkidEnd(r, shot)},
      {"roll_start_ft", lane::FeetFromMetres(shot.roll_y.value_or(20))},
      {"path_turn_deg", r.rotation_deg},
      {"path_rev_rpm", r.rpm},
      {"laydown_board", board(shot.At(0))},
      {"laydown_ft", lane::FeetFromMetres(r.laydown_y)}};
  for (const auto& [name, zone] : zones) truth[name] = LogFriction(r, shot, zone);
  return truth;
}

struct Kind {
  const char* name;
  int width, height;
  double rate, noise_px;
  double first_y;  // m: not seen before
};

std::optional<Eigen::Vector2d> SeenAt(const LaneSetup& setup, const TrueShot& shot, double since_laydown) {
  const State s = shot.At(since_laydown);
  return camera::ImageFromLane(setup.camera, {s.x, s.y, lane::kBallDiameter / 2 + std::max(s.height, 0.0)});
}

// Least variances of the truth's numbers.
std::map<std::string, double> Bound(const Scene& scene, const Zones& zones, const LaneSetup& setup, const Track& track,
                                    const Filming& f) {
  constexpr int n = kReleaseParameters + kSetupParameters;
  const auto sights = static_cast<Eigen::Index>(track.sights.size());
  Eigen::MatrixXd j(2 * sights, n);
  std::map<std::string, Eigen::VectorXd> gradients;
  for (int i = 0; i < kReleaseParameters; ++i) {
    ReleaseVector d = ReleaseVector::Zero();
    d[i] = kSteps[i];
    const Scene up = Moved(scene, d), down = Moved(scene, -d);
    const TrueShot a = Roll(up.release), b = Roll(down.release);
    for (Eigen::Index k = 0; k < sights; ++k) {
      const double t = track.sights[static_cast<std::size_t>(k)].time_s;
      const auto u = SeenAt(setup, a, t - up.laydown_s), v = SeenAt(setup, b, t - down.laydown_s);
      j.block<2, 1>(2 * k, i) = u && v ? Eigen::Vector2d((*u - *v) / 2) : Eigen::Vector2d(0, 0);
    }
    const auto ta = Truth(up, zones), tb = Truth(down, zones);
    for (const auto& [name, value] : ta) {
      auto& slope = gradients[name];
      if (slope.size() == 0) slope = Eigen::VectorXd::Zero(n);
      slope[i] = (value - tb.at(name)) / 2;
    }
  }
  const TrueShot shot = Roll(scene.release);
  const SetupVector p0 = camera::ParametersOf(setup);
  const SetupVector sd = setup.covariance.diagonal().cwiseSqrt();
  for (int i = 0; i < kSetupParameters; ++i) {
    SetupVector p = p0, q = p0;
    p[i] += sd[i] * 0.05;
    q[i] -= sd[i] * 0.05;
    const LaneSetup up = camera::WithParameters(setup, p), down = camera::WithParameters(setup, q);
    for (Eigen::Index k = 0; k < sights; ++k) {
      const double t = track.sights[static_cast<std::size_t>(k)].time_s - scene.laydown_s;
      const auto u = SeenAt(up, shot, t), v = SeenAt(down, shot, t);
      j.block<2, 1>(2 * k, kReleaseParameters + i) =
          u && v ? Eigen::Vector2d((*u - *v) / (0.1 * sd[i])) : Eigen::Vector2d(0, 0);
    }
    const auto ta = Truth(scene, zones, up.lane.width), tb = Truth(scene, zones, down.lane.width);
    for (auto& [name, slope] : gradients) slope[kReleaseParameters + i] = (ta.at(name) - tb.at(name)) / (0.1 * sd[i]);
  }
  // Noise: white, and lasting with its own correlation.
  Eigen::MatrixXd noise = Eigen::MatrixXd::Zero(2 * sights, 2 * sights);
  for (Eigen::Index a = 0; a < sights; ++a) {
    for (Eigen::Index b = 0; b < sights; ++b) {
      const BallSight &sa = track.sights[static_cast<std::size_t>(a)], &sb = track.sights[static_cast<std::size_t>(b)];
      const double both = LastingError(f, sa.radius_px) * LastingError(f, sb.radius_px) *
                          std::exp(-std::abs(sa.time_s - sb.time_s) / f.bias_s);
      for (int c = 0; c < 2; ++c) noise(2 * a + c, 2 * b + c) = both + (a == b ? f.noise_px * f.noise_px : 0);
    }
  }
  Eigen::MatrixXd information = j.transpose() * noise.ldlt().solve(j);
  information.bottomRightCorner<kSetupParameters, kSetupParameters>() += setup.covariance.inverse();
  for (int i = 0; i < kReleaseParameters; ++i)
    if (kPriors[i] > 0) information(i, i) += kSteps[i] * kSteps[i] / (kPriors[i] * kPriors[i]);
  // The later it lands, the harder.
  const motion::PathFitOptions fit;
  const double v = scene.release.speed, g = lane::kStandardGravity;
  Eigen::VectorXd fall = Eigen::VectorXd::Zero(n);
  fall[kImpactSpeed] = kSteps[kImpactSpeed];
  fall[kLaydownY] = -g / v * kSteps[kLaydownY];
  fall /= std::hypot(fit.climb_sd, g * MetresFromFeet(fit.hand_sd_ft) / v);
  information += fall * fall.transpose();
  const Eigen::VectorXd scale = information.diagonal().cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd scaled = scale.asDiagonal() * information * scale.asDiagonal();
  const Eigen::MatrixXd covariance =
      scale.asDiagonal() * scaled.ldlt().solve(Eigen::MatrixXd::Identity(n, n)) * scale.asDiagonal();
  std::map<std::string, double> out;
  for (const auto& [name, slope] : gradients) out[name] = slope.dot(covariance * slope);
  const double first_y = shot.At(track.sights.front().time_s - scene.laydown_s).y;
  const ReleaseMatrix of_release = covariance.topLeftCorner<kReleaseParameters, kReleaseParameters>();
  std::mt19937 random(1);
  std::vector<double> drawn;
  for (int i = 0; i < 400 && drawn.size() < 100; ++i) {
    const Scene other = Moved(scene, Draw<kReleaseParameters>(of_release, random).cwiseProduct(kSteps));
    if ((other.release.laydown_y > first_y) != (scene.release.laydown_y > first_y) || other.release.impact < 0 ||
        other.release.bounce < 0)
      continue;
    const State at = Roll(other.release).AtY(MetresFromFeet(2));
    drawn.push_back(lane::MphFromMetresPerSecond(std::hypot(at.vx, at.vy, at.vz)));
  }
  double mean = 0, variance = 0;
  for (const double d : drawn) mean += d / static_cast<double>(drawn.size());
  for (const double d : drawn) variance += (d - mean) * (d - mean) / static_cast<double>(drawn.size() - 1);
  if (drawn.size() > 20) out["speed_release_mph"] = variance;
  return out;
}

// The first zone, and the last where it lies beyond the change.
Zones ZonesOf(const Path& path, const lane::LaneSpec& lane, double oil_ft) {
  const auto all = measure::MeasureFriction(path, lane);
  Zones out;
  if (!all.empty()) out["friction_front"] = all.front();
  if (all.size() > 1 && all.back().from_ft >= oil_ft) out["friction_back"] = all.back();
  return out;
}

// What the program says of a name that is judged.
Measure Told(const std::string& name, const Measures& measures, const Zones& zones) {
  if (const auto zone = zones.find(name); zone != zones.end())
    return Measure::Of(std::log(zone->second.value), zone->second.sd / zone->second.value);
  const auto info =
      std::find_if(kMeasureTable.begin(), kMeasureTable.end(), [&](const auto& k) { return k.key == name; });
  return measures.all[static_cast<std::size_t>(info - kMeasureTable.begin())];
}

constexpr double kFromHandY = -1.2;  // m: nobody's hand opens before
constexpr double kInAir = 0.012;     // m above the lane, from where on a tracker sees it

struct Tally {
  std::vector<double> error, sd, bound;
  int missing = 0;
};

int Run(int tracks, int seed, const Kind& kind) {
  std::mt19937 random(static_cast<unsigned>(seed));
  std::uniform_real_distribution<double> u;
  std::map<std::string, Tally> tallies;
  int failed = 0;
  for (int i = 0; i < tracks; ++i) {
    const Scene scene = RandomScene(random);
    LaneSetup truth;
    truth.camera = CameraAt(-0.6 + 1.2 * u(random), -MetresFromFeet(10 + 10 * u(random)),
                            MetresFromFeet(4 + 3 * u(random)), 0, 9, 0.73 * kind.width, kind.width, kind.height);
    truth.covariance = SetupCovariance(truth, 0.15);
    LaneSetup doubted =
        camera::WithParameters(truth, camera::ParametersOf(truth) + Draw<kSetupParameters>(truth.covariance, random));
    doubted.covariance = truth.covariance;
    Filming f;
    f.rate = kind.rate;
    f.noise_px = kind.noise_px;
    f.first_y = kind.first_y;
    LastingAsMeasured(f);
    const TrueShot shot = Roll(scene.release);
    Track track = Film(shot, truth.camera, f, random, scene.laydown_s);
    for (BallSight& sight : track.sights) sight.in_air = shot.At(sight.time_s - scene.laydown_s).height > kInAir;
    motion::PathFitOptions options;
    options.readout.sd_s = 0;
    options.ball_radius_sd_m = 0;
    const auto path = motion::FitPath(track, doubted, options);
    if (!path.ok()) {
      ++failed;
      continue;
    }
    measure::MeasureOptions m;
    m.ball_k = scene.release.k;
    m.ball_k_sd = 0;
    const Measures got = measure::MeasurePath(*path, track, doubted.lane, lane::Hand::kRight, m);
    const Zones zones = ZonesOf(*path, doubted.lane, scene.release.oil_ft);
    const auto bound = Bound(scene, zones, truth, track, f);
    for (const auto& [name, value] : Truth(scene, zones)) {
      if (name.starts_with("laydown") && kind.first_y > 0) continue;  // before the first sight
      Tally& t = tallies[name];
      const Measure measured = Told(name, got, zones);
      if (!measured.value) {
        ++t.missing;
        continue;
      }
      t.error.push_back(*measured.value - value);
      t.sd.push_back(measured.sd);
      t.bound.push_back(bound.at(name));
    }
  }
  std::printf(
      "\n%s, %d tracks, %d without a path\n\n| quantity | n | not told | error rms | bound | error/sd rms | efficiency "
      "|\n"
      "| --- | --- | --- | --- | --- | --- | --- |\n",
      kind.name, tracks, failed);
  bool passes = true;
  for (const auto& [name, t] : tallies) {
    double squares = 0, whitened = 0, by_bound = 0, bounds = 0;
    const auto n = static_cast<double>(t.error.size());
    for (std::size_t i = 0; i < t.error.size(); ++i) {
      squares += t.error[i] * t.error[i];
      whitened += t.error[i] * t.error[i] / (t.sd[i] * t.sd[i]);
      by_bound += t.error[i] * t.error[i] / t.bound[i];
      bounds += t.bound[i];
    }
    const double rms = std::sqrt(whitened / n), efficiency = n / by_bound;
    const bool ok = rms > 0.8 && rms < 1.25 && efficiency > 0.7;
    passes = passes && ok;
    std::printf("| `%s` | %zu | %d | %.4f | %.4f | %.2f | %.2f%s |\n", name.c_str(), t.error.size(), t.missing,
                std::sqrt(squares / n), std::sqrt(bounds / n), rms, efficiency, ok ? "" : " FALLS SHORT");
  }
  return passes ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  int tracks = 200, seed = 1;
  CLI::App app("fit_quality: error over sd and efficiency of the path's fit over simulated tracks");
  app.add_option("--tracks", tracks, "how many");
  app.add_option("--seed", seed, "of the random numbers");
  CLI11_PARSE(app, argc, argv);
  const double first_y = Filming().first_y;
  const Kind kinds[] = {{"1080p60", 1920, 1080, 60, 0.12, first_y},
                        {"720p30", 1280, 720, 30, 0.15, first_y},
                        {"1080p60, seen from the hand", 1920, 1080, 60, 0.12, kFromHandY}};
  int short_of = 0;
  for (const Kind& kind : kinds) short_of += Run(tracks, seed, kind);
  return short_of > 0 ? 1 : 0;
}
