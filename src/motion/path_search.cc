#include "motion/path_search.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <future>
#include <iterator>
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <utility>

#include "lane/lane_spec.h"
#include "motion/path_start.h"

namespace hookline::motion {
namespace {

using lane::MetresFromFeet;

constexpr double kBallRadius = lane::kBallDiameter / 2;

// Mean square of whitened residuals, of so many sights on each side, beyond which their neighbourhood disagrees: among
// 11 honest sights one in ten thousand times.
constexpr double kDisagree = 2.5;
constexpr std::size_t kDisagreeBeside = 5;

// A way whose cost is more than this above another's, or its log weight below, counts for nothing beside it (e^-20),
// also where the determinants of their doubts differ.
constexpr double kBeyondDoubt = 40;
// What a step of friction instead of a free one may gain one way over another.
constexpr double kStepGains = 60;

constexpr double kLandsBeforeFt = 9;   // farther than anybody lofts
constexpr double kHopsEndFt = 4;       // first sights beyond this are of a ball whose hops are over, or of a loft
constexpr double kHopFt = 1.3;         // half of the first hop of a lofted ball
constexpr double kJustAfterFt = 0.15;  // the first sight: a landing there
constexpr double kOneLandingM = 0.08;  // searches whose landings are closer have found the same one
constexpr double kOneRollM = 0.1;      // the same of where the roll begins
// Of log weight, or of cost: ways beyond do not count beside the heaviest.
constexpr double kCloseKind = 6, kCloseLanding = 6, kLandingsGiveUp = 15;

// Robust variance factor: 1 when the sights' own covariances are right. A few sights cannot say much against them.
double VarianceFactor(const PathProblem& problem, const std::vector<bool>& used, const Eigen::VectorXd& parameters,
                      double spent) {
  double sum = 0, n = 0;
  const ShapedCurve shaped(problem, parameters);
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    if (!used[i]) continue;
    sum += SightResidual(problem, i, 1, parameters, shaped, nullptr, nullptr).squaredNorm();
    n += 2;
  }
  constexpr double kPriorWeight = 10;
  return std::max((kPriorWeight + sum) / (kPriorWeight + std::max(n - spent, 1.0)), 0.05);
}

std::vector<bool> Inliers(const PathProblem& problem, const Eigen::VectorXd& parameters, double variance, double gate) {
  std::vector<bool> used(problem.sights.size());
  const ShapedCurve shaped(problem, parameters);
  for (std::size_t i = 0; i < used.size(); ++i)
    used[i] = SightResidual(problem, i, variance, parameters, shaped, nullptr, nullptr).norm() < gate;
  return used;
}

// Logarithm of the chance that what is normal about `mean` lies below `limit`; not less than that of one in a million.
double LogBelow(double limit, double mean, double sd) {
  return std::log(std::max(0.5 * std::erfc((mean - limit) / sd / std::sqrt(2.0)), 1e-6));
}

// How much more than stated the sights around each one are off the path, as a factor of their covariance, 1 or more:
// where the tracker mistook something else for the ball now and then (its image in the gloss, somebody's arm), the
// sights in between are not as sure as they say either.
std::vector<double> Disagreement(const PathProblem& problem, const std::vector<bool>& used, double variance,
                                 const Eigen::VectorXd& parameters) {
  const ShapedCurve shaped(problem, parameters);
  std::vector<std::size_t> at;
  std::vector<double> squares;
  for (std::size_t i = 0; i < used.size(); ++i) {
    if (!used[i]) continue;
    at.push_back(i);
    squares.push_back(SightResidual(problem, i, variance, parameters, shaped, nullptr, nullptr).squaredNorm() / 2);
  }
  std::vector<double> factor(used.size(), 1.0);
  for (std::size_t k = 0; k < at.size(); ++k) {
    const std::size_t from = k - std::min(k, kDisagreeBeside), to = std::min(at.size(), k + kDisagreeBeside + 1);
    double sum = 0;
    for (std::size_t m = from; m < to; ++m) sum += squares[m];
    const double mean = sum / static_cast<double>(to - from);
    if (mean > kDisagree) factor[at[k]] = mean;
  }
  return factor;
}

// Where a search begins.
struct Start {
  const PathProblem* problem = nullptr;
  Eigen::VectorXd parameters;
};

// Two searches at a time, each by what was known before the two, so that results are the same on any machine: one shot
// keeps two cores at work. Calls before() for each two, then keep(start, search(start)) in the order of the starts.
template <typename Before, typename Search, typename Keep>
void InPairs(const std::vector<Start>& starts, const Before& before, const Search& search, const Keep& keep) {
  for (std::size_t i = 0; i < starts.size(); i += 2) {
    before();
    std::future<decltype(search(starts[i]))> second;
    if (i + 1 < starts.size()) second = std::async(std::launch::async, search, std::cref(starts[i + 1]));
    auto first = search(starts[i]);
    if (second.valid()) second.wait();  // it may read what keep() changes
    keep(starts[i], std::move(first));
    if (second.valid()) keep(starts[i + 1], second.get());
  }
}

class WaySearch {
 public:
  WaySearch(const Track& track, const LaneSetup& setup, const SelectedSights& selected, const PathFitOptions& options);
  // The steps of it, in this order.
  Status LookFirst();
  Status Settle();
  void RollByHands();
  Status FreeFriction();
  void TwoFrictions();
  void Landings();
  void RollsAfterAll();
  PathWays Take() { return std::move(out_); }

 private:
  // Problems in pairs, one that rolls and one that slides on.
  enum Pair : std::size_t { kFree = 0, kClose = 2, kLoose = 4 };
  PathProblem& Rolling(Pair of) { return out_.problems[of]; }
  PathProblem& Sliding(Pair of) { return out_.problems[of + 1]; }
  const PathProblem& RollingOf(const PathProblem& sliding) const;

  struct Found {
    const PathProblem* problem = nullptr;
    PathSolution solution;
  };
  // Adds what searches find to `found`: one of each place where the roll begins; beyond the first look also of each
  // landing.
  void Look(const std::vector<Start>& starts, bool first, std::vector<Found>& found) const;
  static Found& LowestOf(std::vector<Found>& found);

  void Add(const std::vector<Start>& starts);
  std::optional<PathWay> Search(const Start& start, double bound) const;
  // A way already known that is the same but for how far each search went. roll_sd_s: the way's own, 0 if not known.
  std::optional<std::size_t> SameAs(const PathWay& way, double roll_sd_s) const;
  bool NoBetter(const PathWay& way, std::optional<std::size_t> known) const {
    return known && way.solution.cost > out_.ways[*known].solution.cost - 0.01;
  }
  std::vector<Start> FromFree(Pair of);
  double MostWeight() const { return out_.heaviest().component.log_weight; }
  double CurveTimeAt(double ft) const { return RoughTimeAt(selected_, MetresFromFeet(ft)) - origin_s_; }
  bool LandsInSights(const Eigen::VectorXd& parameters) const { return parameters[kLaydown] > first_s_; }
  double MetresBetweenLandings(const Eigen::VectorXd& a, const Eigen::VectorXd& b) const {
    return std::abs(a[kLaydown] - b[kLaydown]) * speeds_.front;
  }

  const SelectedSights& selected_;
  const PathFitOptions& options_;
  RoughSpeeds speeds_;
  double origin_s_ = 0;             // stream time of the curve's
  double first_s_ = 0, end_s_ = 0;  // of the first sight, of the curve's last knot; in the curve's time
  double first_ft_ = 0;             // where the first sight is
  std::vector<Found> found_;        // of free friction
  std::vector<Found> on_lane_;      // close to two frictions
  Eigen::Vector2d by_hands_ = Eigen::Vector2d::Zero();  // mean and sd of where hands make balls roll, s
  std::size_t free_ways_ = 0;
  double give_up_ = kBeyondDoubt;
  PathWays out_;
};

Status Undetermined() {
  return {StatusCode::kNotDetermined, "The sights of the ball do not determine a path: too few or too close together."};
}

WaySearch::WaySearch(const Track& track, const LaneSetup& setup, const SelectedSights& selected,
                     const PathFitOptions& options)
    : selected_(selected), options_(options), speeds_(RoughSpeedsOf(selected)) {
  PathProblem problem;
  problem.setup = &setup;
  problem.options = &options;
  problem.ball_radius = kBallRadius;
  problem.sights = selected.sights;
  origin_s_ = RoughTimeAt(selected, MetresFromFeet(-1));
  const double length_s = RoughTimeAt(selected, MetresFromFeet(60)) - origin_s_;
  problem.grid.origin_s = origin_s_;
  problem.grid.knots = std::clamp(static_cast<int>(std::lround(length_s / options.knot_spacing_s)) + 1, 6, 48);
  problem.grid.spacing_s = length_s / (problem.grid.knots - 1);
  problem.bias_knots = std::clamp(static_cast<int>(std::lround(length_s / (options.centre_bias_s / 2))) + 1, 3, 30);
  problem.bias_spacing_s = length_s / (problem.bias_knots - 1);
  if (track.pin_touched && track.pin_contact_s) {
    constexpr double kPinPlacedSd = 0.01;  // m, of a pin on its spot and of the radii
    problem.touch = {*track.pin_contact_s - origin_s_, *track.pin_touched,
                     std::hypot(kPinPlacedSd, speeds_.back * track.pin_contact_sd_s)};
  }
  first_s_ = selected.sights.front().time_s - origin_s_;
  first_ft_ = lane::FeetFromMetres(selected.rough.At(selected.sights.front().time_s).y());
  end_s_ = problem.grid.spacing_s * (problem.grid.knots - 1);
  problem.roll_mean = CurveTimeAt(options.roll_start_ft);
  problem.roll_sd = MetresFromFeet(options.roll_start_sd_ft) / speeds_.back;
  for (const bool rolls : {true, false}) {
    problem.rolls = rolls;
    SetPriors(selected, problem);
    out_.problems.push_back(problem);
  }
  for (const LaneSight& sight : problem.sights) out_.used.push_back(sight.near_rough_path || sight.in_air);
}

const PathProblem& WaySearch::RollingOf(const PathProblem& sliding) const {
  const auto is_it = [&](const PathProblem& p) { return &p == &sliding; };
  return *std::prev(std::find_if(out_.problems.begin(), out_.problems.end(), is_it));
}

WaySearch::Found& WaySearch::LowestOf(std::vector<Found>& found) {
  return *std::min_element(found.begin(), found.end(),
                           [](const Found& a, const Found& b) { return a.solution.cost < b.solution.cost; });
}

void WaySearch::Look(const std::vector<Start>& starts, bool first, std::vector<Found>& found) const {
  double bound = std::numeric_limits<double>::infinity();
  const auto before = [&] {
    for (const Found& f : found) bound = std::min(bound, f.solution.cost + kBeyondDoubt);
  };
  const auto search = [&](const Start& start) {
    return SolvePath(*start.problem, out_.used, out_.variance, options_.robust_scale, first, start.parameters, bound);
  };
  const auto keep = [&](const Start& start, PathSolution s) {
    if (!s.usable) return;
    const auto same = std::find_if(found.begin(), found.end(), [&](const Found& f) {
      return f.problem == start.problem &&
             std::abs(f.solution.parameters[kRoll] - s.parameters[kRoll]) * speeds_.back < kOneRollM &&
             (first || MetresBetweenLandings(f.solution.parameters, s.parameters) < kOneLandingM);
    });
    if (same == found.end())
      found.push_back({start.problem, std::move(s)});
    else if (s.cost < same->solution.cost)
      same->solution = std::move(s);
  };
  InPairs(starts, before, search, keep);
}

// Where the roll begins, the cost has several minima: each is tried. A ball that comes down where the sights have begun
// already, at once or later, has a second set of them.
Status WaySearch::LookFirst() {
  std::vector<Start> starts;
  for (const double roll_ft : {16.0, 40.0, 53.0})
    starts.push_back({&Rolling(kFree), FirstGuess(Rolling(kFree), selected_, roll_ft, options_.laydown_ft)});
  starts.push_back({&Sliding(kFree), FirstGuess(Sliding(kFree), selected_, 70, options_.laydown_ft)});
  starts.back().parameters[kRoll] = NoRoll(Sliding(kFree).grid);
  Look(starts, true, found_);
  if (found_.empty()) return {StatusCode::kNotDetermined, "No path of a ball fits what was followed on the lane."};
  std::vector<double> landings = {first_ft_ + kJustAfterFt, 2.4, 3.2, 4.0, 5.0, 6.2, 7.6};
  std::erase_if(landings, [&](double ft) { return ft < first_ft_ || ft > kLandsBeforeFt; });
  // Or just before, and the sights begin in a hop.
  if (selected_.sights.front().in_air) landings.push_back(first_ft_ - kHopFt);
  // One after the other, each from the best so far.
  for (const double laydown_ft : landings) {
    const Found& from = LowestOf(found_);
    Start start{from.problem, from.solution.parameters};
    LandAt(*from.problem, selected_, laydown_ft, start.parameters);
    Look({start}, true, found_);
  }
  return Status::Ok();
}

// How well the sights agree, with each other and with what they state; those that do not are left out.
Status WaySearch::Settle() {
  Found& best = LowestOf(found_);
  for (const bool first : {true, false}) {
    const Eigen::VectorXd p = best.solution.parameters;
    const PathCovariance covariance = CovarianceOf(*best.problem, out_.used, out_.variance, options_.robust_scale, p);
    if (!covariance.determined) return Undetermined();
    PathProblem& any = Rolling(kFree);
    const double gate = options_.outlier_gate;
    out_.variance = VarianceFactor(any, Inliers(any, p, out_.variance, gate), p, covariance.spent);
    out_.used = Inliers(any, p, out_.variance, gate);
    const auto count = std::count(out_.used.begin(), out_.used.end(), true);
    if (count < options_.least_sights)
      return {StatusCode::kNotDetermined, "Only " + std::to_string(count) + " sights of the ball agree on one path; " +
                                              std::to_string(options_.least_sights) + " are needed."};
    if (first) {
      const std::vector<double> disagreement = Disagreement(*best.problem, out_.used, out_.variance, p);
      for (PathProblem& own : out_.problems)
        for (std::size_t i = 0; i < own.sights.size(); ++i) {
          own.sights[i].covariance *= disagreement[i];
          own.sights[i].lasting_sd *= std::sqrt(disagreement[i]);
        }
    }
    PathSolution s = SolvePath(*best.problem, out_.used, out_.variance, options_.robust_scale, false, p);
    if (s.usable) best.solution = std::move(s);
  }
  return Status::Ok();
}

std::optional<std::size_t> WaySearch::SameAs(const PathWay& way, double roll_sd_s) const {
  // Where it hardly matters for the cost, searches end here and there: closer than one sd they have found the same.
  const Eigen::VectorXd& p = way.component.parameters;
  for (std::size_t i = 0; i < out_.ways.size(); ++i) {
    const PathComponent& k = out_.ways[i].component;
    const double one = std::max(kOneRollM / speeds_.back, std::min(roll_sd_s, k.roll_sd()));
    if (k.kind == way.component.kind && std::abs(k.parameters[kRoll] - p[kRoll]) < one &&
        LandsInSights(k.parameters) == LandsInSights(p) && MetresBetweenLandings(k.parameters, p) < kOneLandingM)
      return i;
  }
  return std::nullopt;
}

std::optional<PathWay> WaySearch::Search(const Start& start, double bound) const {
  const PathProblem& own = *start.problem;
  PathWay way;
  way.problem = &own;
  way.solution = SolvePath(own, out_.used, out_.variance, options_.robust_scale, false, start.parameters, bound);
  const Eigen::VectorXd& p = way.solution.parameters;
  if (!way.solution.usable) return std::nullopt;
  if (own.rolls && p[kRoll] > end_s_) return std::nullopt;  // told by the search that slides on
  PathComponent& component = way.component;
  component.kind = own.two_friction() ? own.deviation : 0;
  component.parameters = own.Curve(p);
  if (NoBetter(way, SameAs(way, 0))) return std::nullopt;
  PathCovariance c = CovarianceOf(own, out_.used, out_.variance, options_.robust_scale, p);
  if (!c.determined) return std::nullopt;
  way.spent = c.spent;
  component.covariance = std::move(c.of_curve);
  component.by_considered = std::move(c.by_considered);
  const double share = own.two_friction() ? (1 - options_.free_share) / 2 : options_.free_share;
  component.log_weight = std::log(share) - way.solution.cost - c.log_determinant / 2;
  // A roll that may as well begin beyond the pins: that share of it is the slide's.
  component.log_weight += own.rolls ? LogOfSpin(own.grid, component.parameters, first_s_) +
                                          LogBelow(end_s_, component.parameters[kRoll], component.roll_sd())
                                    : LogBelow(-end_s_, -by_hands_[0], by_hands_[1]);
  return way;
}

void WaySearch::Add(const std::vector<Start>& starts) {
  double bound = std::numeric_limits<double>::infinity();
  const auto search = [&](const Start& start) { return Search(start, bound); };
  const auto keep = [&](const Start&, std::optional<PathWay> way) {
    if (!way) return;
    const auto known = SameAs(*way, way->component.roll_sd());
    if (NoBetter(*way, known)) return;
    if (known)
      out_.ways[*known] = std::move(*way);
    else
      out_.ways.push_back(std::move(*way));
  };
  InPairs(
      starts,
      [&] {
        for (const PathWay& k : out_.ways) bound = std::min(bound, k.solution.cost + give_up_);
      },
      search, keep);
}

// Where hands make balls roll: friction that goes from one value to another, as a lane's does, tells it. Free friction
// goes back to what is usual where nothing asks for it, after its roll or in place of one.
void WaySearch::RollByHands() {
  const Found& best = LowestOf(found_);
  for (const double deviation : {options_.close_deviation, 1.0}) {
    for (const bool rolls : {true, false}) {
      PathProblem stepped = rolls ? Rolling(kFree) : Sliding(kFree);
      stepped.deviation = deviation;
      HoldKnots(best.solution.parameters, stepped);
      SetPriors(selected_, stepped);
      out_.problems.push_back(std::move(stepped));
    }
  }
  const PathProblem& close = Rolling(kClose);
  std::vector<Start> starts;
  for (const Found& f : found_)
    if (f.problem->rolls && f.solution.cost < best.solution.cost + kStepGains)
      starts.push_back({&close, SteppedStart(close, f.solution.parameters)});
  // Free friction can hide where the roll begins; a usual lane is tried too.
  for (const double roll_ft : {46.0, 52.0}) {
    Start start{&close, SteppedStart(close, best.solution.parameters)};
    start.parameters[close.shape_at() + kChangeY] = MetresFromFeet(options_.change_ft);
    start.parameters[close.shape_at() + kLogBack] = LogExcess(options_.friction_back);
    start.parameters[kRoll] = CurveTimeAt(roll_ft);
    starts.push_back(std::move(start));
  }
  Look(starts, false, on_lane_);
  Eigen::VectorXd curve = best.solution.parameters;
  if (!on_lane_.empty()) {
    const PathSolution& like_a_lane = LowestOf(on_lane_).solution;
    if (like_a_lane.cost < best.solution.cost + kStepGains) curve = close.Curve(like_a_lane.parameters);
  }
  by_hands_ = RollBySpin(options_, close.grid, curve, first_s_);
  for (PathProblem& own : out_.problems) {
    own.roll_mean = by_hands_[0], own.roll_sd = by_hands_[1];
    SetPriors(selected_, own);
  }
}

Status WaySearch::FreeFriction() {
  std::vector<Start> starts;
  for (const Found& f : found_) starts.push_back({f.problem, f.solution.parameters});
  Add(starts);
  // All that was tried rolled, but by what hands give it does so beyond the pins, if at all.
  const bool slid = std::any_of(out_.ways.begin(), out_.ways.end(), [](const PathWay& w) { return !w.problem->rolls; });
  if (!slid && (out_.ways.empty() || by_hands_[0] > end_s_)) {
    Start start{&Sliding(kFree), LowestOf(found_).solution.parameters};
    start.parameters[kRoll] = NoRoll(Sliding(kFree).grid);
    Add({start});
  }
  free_ways_ = out_.ways.size();
  return out_.ways.empty() ? Undetermined() : Status::Ok();
}

std::vector<Start> WaySearch::FromFree(Pair of) {
  double most = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < free_ways_; ++i) most = std::max(most, out_.ways[i].component.log_weight);
  std::vector<Start> starts;
  for (std::size_t i = 0; i < free_ways_; ++i) {
    const PathWay& way = out_.ways[i];
    if (way.component.log_weight < most - kStepGains) continue;
    const PathProblem& own = way.problem->rolls ? Rolling(of) : Sliding(of);
    starts.push_back({&own, SteppedStart(own, way.solution.parameters)});
  }
  return starts;
}

// The same with friction that goes from one value to another; close to it first: the looser goes on from there.
void WaySearch::TwoFrictions() {
  std::vector<Start> starts;
  for (const Found& f : on_lane_) starts.push_back({f.problem, f.solution.parameters});
  for (Start& start : FromFree(kClose))
    if (!start.problem->rolls) starts.push_back(std::move(start));
  Add(starts);
  starts.clear();
  if (out_.ways.size() == free_ways_) starts = FromFree(kLoose);  // this lane is no such lane
  for (std::size_t i = free_ways_; i < out_.ways.size(); ++i) {
    const PathWay& way = out_.ways[i];
    if (way.component.log_weight < MostWeight() - kStepGains) continue;
    starts.push_back({way.problem->rolls ? &Rolling(kLoose) : &Sliding(kLoose), way.solution.parameters});
  }
  Add(starts);
}

// What looks like the end of the fall may be a hop after it, and the other way round, and each phase of a hop has a
// minimum of its own: the heaviest of each kind of friction that rolls, and that slides on, once more, the very
// heaviest from landings just after the first sight and some way before it, the others from where these have led: a
// roll and a slide are weighed fairly only with the same landings. Down the lane nobody lands unseen.
void WaySearch::Landings() {
  if (first_ft_ >= kHopsEndFt) return;
  std::map<const PathProblem*, const PathWay*> heaviest;
  for (const PathWay& way : out_.ways) {
    const PathWay*& known = heaviest[way.problem];
    if (!known || way.component.log_weight > known->component.log_weight) known = &way;
  }
  std::vector<PathWay> order;
  for (const auto& [own, way] : heaviest)
    if (way->component.log_weight > MostWeight() - kCloseKind) order.push_back(*way);
  std::sort(order.begin(), order.end(),
            [](const PathWay& a, const PathWay& b) { return a.component.log_weight > b.component.log_weight; });
  give_up_ = kLandingsGiveUp;

  const PathProblem& first = *order.front().problem;
  std::vector<double> tried = {first_ft_ + kJustAfterFt, first_ft_ - 0.2, first_ft_ - 0.5, first_ft_ - 0.9};
  if (options_.laydown_ft < first_ft_ - 1.3) tried.push_back(options_.laydown_ft);
  std::vector<Start> starts;
  for (const double landing_ft : tried) {
    starts.push_back({&first, order.front().solution.parameters});
    LandAt(first, selected_, landing_ft, starts.back().parameters);
  }
  Add(starts);
  std::vector<Eigen::VectorXd> landings;
  for (const PathWay& way : out_.ways)
    if (way.problem == &first && way.component.log_weight > MostWeight() - kCloseLanding)
      landings.push_back(way.solution.parameters);
  starts.clear();
  for (std::size_t i = 1; i < order.size(); ++i) {
    for (const Eigen::VectorXd& landing : landings) {
      Start start{order[i].problem, order[i].solution.parameters};
      if (MetresBetweenLandings(landing, start.parameters) < kOneLandingM) continue;
      for (const auto k : {kLaydown, kImpact, kBounce}) start.parameters[k] = landing[k];
      starts.push_back(std::move(start));
    }
  }
  Add(starts);
}

// Where it lands bears on where it rolls: if it slides to the pins in the heaviest of all, that one again with a roll.
void WaySearch::RollsAfterAll() {
  const PathWay& heaviest = out_.heaviest();
  if (heaviest.problem->rolls) return;
  std::vector<Start> starts;
  for (const double roll_ft : {44.0, 49.0, 54.0}) {
    starts.push_back({&RollingOf(*heaviest.problem), heaviest.solution.parameters});
    starts.back().parameters[kRoll] = CurveTimeAt(roll_ft);
  }
  Add(starts);
}

}  // namespace

const PathWay& PathWays::heaviest() const {
  return *std::max_element(ways.begin(), ways.end(), [](const PathWay& a, const PathWay& b) {
    return a.component.log_weight < b.component.log_weight;
  });
}

Result<PathWays> FindPathWays(const Track& track, const LaneSetup& setup, const SelectedSights& selected,
                              const PathFitOptions& options) {
  WaySearch search(track, setup, selected, options);
  if (Status s = search.LookFirst(); !s.ok()) return s;
  if (Status s = search.Settle(); !s.ok()) return s;
  search.RollByHands();
  if (Status s = search.FreeFriction(); !s.ok()) return s;
  search.TwoFrictions();
  search.Landings();
  search.RollsAfterAll();
  return search.Take();
}

}  // namespace hookline::motion
