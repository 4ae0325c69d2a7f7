#include "track/chain.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace hookline::track {
namespace {

constexpr std::size_t kMaxCandidates = 12;
constexpr double kStartScore = 2.0;                // of DiscScore (cap 36): what a new place must have
constexpr double kFollowScore = 1.2;               // ... and what is enough where a ball is expected
constexpr double kMinSpeed = 2.2, kMaxSpeed = 16;  // m/s down the lane; balls roll at 4 to 13
constexpr double kMaxSlant = 0.28;                 // |vx| / vy; launch and entry angles stay below 10 degrees = 0.18
constexpr double kCoast = 0.6;                     // s without a sight before a chain ends
constexpr double kWatch = 0.25, kMinWay = 1.6;     // s, m/s: slower than this over that time is standing
constexpr double kSwingY = 6;                      // m, by here every ball has left the hand
// From so many sights and so far down the lane on the chain looks at the rim.
constexpr int kRollsHits = 6;
constexpr double kRollsWay = 0.6;                      // m
constexpr double kRimSeen = 0.6, kRimContrast = 2;     // of DiscFit
constexpr double kRimSigmaPx = 0.4, kRimSigma = 0.03;  // px, of the radius
constexpr int kRimPatience = 4, kRimSeldom = 4;  // looks without a rim, after which only each fourth frame is looked at
constexpr double kBoxDoubt = 3;                  // of a place without its rim, over that of a free ball's
constexpr double kPinsLookY = lane::kHeadPinY - 2.5;

double ScaleOf(const Corridor& c) { return c.scale(); }

Eigen::Vector2d CellFromPx(const Corridor& c, const Eigen::Vector2d& p) {
  const double s = ScaleOf(c), half = (s - 1) / 2;
  return {(p.x() - c.roi().x - half) / s, (p.y() - c.roi().y - half) / s};
}

Eigen::Vector2d PxFromCell(const Corridor& c, double u, double v) {
  const double s = ScaleOf(c), half = (s - 1) / 2;
  return {c.roi().x + s * u + half, c.roi().y + s * v + half};
}

// Vertex of the parabola through three values, within half a step.
double Vertex(double a, double b, double c) {
  const double d = a - 2 * b + c;
  return d < -1e-9 ? std::clamp(0.5 * (a - c) / d, -0.5, 0.5) : 0;
}

double FoundSigma(const Corridor& c, double radius) { return std::max(0.4 * ScaleOf(c), 0.08 * radius); }

}  // namespace

std::vector<Candidate> FindCandidates(const FrameView& view, const Corridor& corridor) {
  struct Hit {
    const GridSpot* spot;
    double score;
  };
  std::vector<Hit> hits;
  for (const GridSpot& s : corridor.spots()) {
    // A cheap look first: the middle of the disc.
    const int h = std::max(1, static_cast<int>(0.5f * s.radius));
    const int u = static_cast<int>(s.u + 0.5f), v = static_cast<int>(s.v + 0.5f);
    if (view.Mean(u - h, v - h, u + h + 1, v + h + 1) < kStartScore) continue;
    const double score = DiscScore(view, s.u, s.v, s.radius);
    if (score >= kStartScore) hits.push_back({&s, score});
  }
  std::sort(hits.begin(), hits.end(), [](const Hit& a, const Hit& b) { return a.score > b.score; });
  std::vector<Candidate> best;
  std::vector<const GridSpot*> taken;
  for (const Hit& h : hits) {
    bool free = true;
    for (const GridSpot* t : taken)
      if (std::hypot(t->u - h.spot->u, t->v - h.spot->v) < std::max(t->radius, h.spot->radius)) free = false;
    if (!free) continue;
    taken.push_back(h.spot);
    const double s = ScaleOf(corridor);
    const Candidate c = SearchDisc(view, corridor, {h.spot->x, h.spot->y}, std::max(0.4 * h.spot->radius, 1.0) * s,
                                   std::max(0.4 * h.spot->radius, 1.0) * s);
    if (c.score > 0) best.push_back(c);
    if (best.size() >= kMaxCandidates) break;
  }
  return best;
}

Candidate SearchDisc(const FrameView& view, const Corridor& corridor, const Eigen::Vector2d& contact, double window_u,
                     double window_v) {
  Candidate best;
  const auto p = corridor.Disc(contact);
  if (!p) return best;
  const double scale = ScaleOf(corridor), radius = corridor.RadiusPx(contact) / scale;
  const Eigen::Vector2d centre = CellFromPx(corridor, *p);
  const double wu = std::max(window_u / scale, 1.0), wv = std::max(window_v / scale, 1.0);
  // Coarse steps for large discs, then single cells around the best.
  const int coarse = std::max(1, static_cast<int>(radius / 4));
  const auto value = [&](double u, double v) {
    const double du = (u - centre.x()) / wu, dv = (v - centre.y()) / wv;
    const double s = DiscScore(view, u, v, radius);
    return s <= 0 ? 0 : s - du * du - dv * dv;
  };
  double bu = centre.x(), bv = centre.y(), bs = value(bu, bv);
  const int nu = static_cast<int>(wu / coarse), nv = static_cast<int>(wv / coarse);
  for (int i = -nv; i <= nv; ++i)
    for (int j = -nu; j <= nu; ++j) {
      const double u = centre.x() + j * coarse, v = centre.y() + i * coarse, s = value(u, v);
      if (s > bs) bs = s, bu = u, bv = v;
    }
  if (bs <= 0) return best;
  for (int step = coarse; step > 1;) {
    step = std::max(1, step / 2);
    const double cu = bu, cv = bv;
    for (int i = -1; i <= 1; ++i)
      for (int j = -1; j <= 1; ++j) {
        const double s = value(cu + j * step, cv + i * step);
        if (s > bs) bs = s, bu = cu + j * step, bv = cv + i * step;
      }
  }
  const double fu = Vertex(value(bu - 1, bv), bs, value(bu + 1, bv)),
               fv = Vertex(value(bu, bv - 1), bs, value(bu, bv + 1));
  best.p = PxFromCell(corridor, bu + fu, bv + fv);
  const auto found = corridor.Contact(best.p);
  if (!found) return {};
  best.contact = *found;
  best.radius = radius * scale;
  best.score = DiscScore(view, bu, bv, radius);
  return best;
}

Chain::Chain(const Corridor& corridor, const ChangeMap& map,
             const std::vector<std::pair<const FrameView*, Candidate>>& places, const std::deque<FrameView>& views)
    : corridor_(&corridor), map_(&map) {
  // Straight line through the places by least squares, weighted alike: they span a tenth of a second.
  const double t1 = places.back().first->time_s;
  Eigen::Matrix2d a = Eigen::Matrix2d::Zero();
  Eigen::Matrix2d b = Eigen::Matrix2d::Zero();
  for (const auto& [view, c] : places) {
    const Eigen::Vector2d row(1, view->time_s - t1);
    a += row * row.transpose();
    b += row * c.contact.transpose();
  }
  const Eigen::Matrix2d fit = a.ldlt().solve(b);
  state_ << fit(0, 0), fit(0, 1), fit(1, 0), fit(1, 1);
  Eigen::Matrix2d image = Eigen::Matrix2d::Identity() * 0.01;
  if (const auto j = corridor.ContactJacobian(places.back().second.p)) {
    const double s = FoundSigma(corridor, places.back().second.radius);
    image = s * s * *j * j->transpose();
  }
  const double span = std::max(0.05, t1 - places.front().first->time_s);
  covariance_.setZero();
  covariance_.topLeftCorner<2, 2>() = image;
  covariance_.bottomRightCorner<2, 2>() = image * (6 / (span * span)) + Eigen::Matrix2d::Identity() * 0.04;
  for (const auto& [view, c] : places) mean_score_ += c.score;
  mean_score_ /= static_cast<double>(places.size());
  std::size_t next = 0;
  for (const FrameView& view : views) {
    if (next >= places.size() || view.time_s < places[next].first->time_s) {
      if (next == 0 || next >= places.size()) continue;
      // Between two places: on the line through them.
      const auto& [v0, c0] = places[next - 1];
      const auto& [v1, c1] = places[next];
      const double t = (view.time_s - v0->time_s) / (v1->time_s - v0->time_s);
      const Eigen::Vector2d contact = c0.contact + t * (c1.contact - c0.contact);
      const double w = 0.2 * c1.radius + 1.5;
      const Candidate found = SearchDisc(view, corridor, contact, w, w);
      const bool hit = found.score >= std::max(kFollowScore, 0.12 * mean_score_);
      steps_.push_back(Make(view, hit ? &found : nullptr, hit ? found.contact : contact));
      hits_ += hit;
      continue;
    }
    const Candidate& c = places[next].second;
    steps_.push_back(Make(view, &c, c.contact));
    ++hits_;
    ++next;
  }
  last_hit_s_ = t1;
}

void Chain::Predict(double dt) {
  if (dt <= 0) return;
  Eigen::Matrix4d f = Eigen::Matrix4d::Identity();
  f(0, 2) = f(1, 3) = dt;
  // White acceleration of 2 m/s^2 holding for a fifth of a second. In the gutter the height is no longer known, which
  // shifts y.
  const bool off = std::abs(state_.x()) > corridor_->half_width() - 0.02;
  const double qx = 0.6, qy = off ? 6.0 : 0.8;
  Eigen::Matrix4d q = Eigen::Matrix4d::Zero();
  for (int k = 0; k < 2; ++k) {
    const double s = k == 0 ? qx : qy;
    q(k, k) = s * dt * dt * dt / 3;
    q(k, k + 2) = q(k + 2, k) = s * dt * dt / 2;
    q(k + 2, k + 2) = s * dt;
  }
  state_ = f * state_;
  covariance_ = f * covariance_ * f.transpose() + q;
}

void Chain::Update(const Eigen::Vector2d& p, double sigma_px) {
  const auto contact = corridor_->Contact(p);
  const auto j = corridor_->ContactJacobian(p);
  if (!contact || !j) return;
  const Eigen::Matrix2d r = sigma_px * sigma_px * *j * j->transpose();
  const Eigen::Matrix2d s = covariance_.topLeftCorner<2, 2>() + r;
  const Eigen::Matrix<double, 4, 2> k = covariance_.leftCols<2>() * s.inverse();
  state_ += k * (*contact - state_.head<2>());
  covariance_ -= k * covariance_.topRows<2>();
  covariance_ = 0.5 * (covariance_ + covariance_.transpose()).eval();
}

Step Chain::Make(const FrameView& view, const Candidate* found, const Eigen::Vector2d& contact) const {
  Step step;
  step.frame = view.frame;
  step.time_s = view.time_s;
  step.motion = view.motion;
  step.body = view.body;
  step.contact = contact;
  step.hit = found != nullptr;
  step.score = found ? found->score : 0;
  const auto disc = corridor_->Disc(contact);
  step.p = found ? found->p : disc ? *disc : Eigen::Vector2d(-1e6, -1e6);
  const double radius = corridor_->RadiusPx(contact), reach = 1.4 * radius + 9;
  const cv::Rect roi = corridor_->roi();
  const int l = static_cast<int>(std::floor(step.p.x() - reach)) & ~1,
            t = static_cast<int>(std::floor(step.p.y() - reach)) & ~1;
  const int size = (static_cast<int>(std::ceil(2 * reach)) + 2) & ~1;
  if (std::abs(step.p.x()) < 1e5 && std::abs(step.p.y()) < 1e5) {
    const cv::Rect box = cv::Rect(l, t, size, size) & roi;
    if (box.width >= 6 && box.height >= 6) {
      const cv::Rect in_view(box.x - roi.x, box.y - roi.y, box.width, box.height);
      const cv::Rect half(in_view.x / 2, in_view.y / 2, in_view.width / 2, in_view.height / 2);
      Patch& patch = step.patch;
      patch.frame = view.frame;
      patch.time_s = view.time_s;
      patch.box = box;
      patch.luma = view.luma(in_view).clone();
      if (!view.cb.empty()) patch.cb = view.cb(half).clone(), patch.cr = view.cr(half).clone();
      map_->BackgroundPatch(view, in_view, patch.back_luma, patch.back_cb, patch.back_cr);
      patch.gain = view.gain;
      patch.cb_shift = view.cb_shift;
      patch.cr_shift = view.cr_shift;
    }
  }
  if (contact.y() > kPinsLookY && corridor_->pins().area() > 0)
    step.pin_change = map_->PinChange(view, step.p, 1.5 * radius);
  return step;
}

// The boxes of the search are drawn to whatever changed most: a shadow, the image in the gloss, the edge of somebody's
// sleeve. The rim is where the ball is. The last step's place becomes the disc's that fits the picture best near the
// prediction, where one of the size a ball has there is seen well.
bool Chain::SeeRim(const FrameView& view, const Eigen::Vector2d& expected, double window_u, double window_v) {
  rolls_ = rolls_ || (hits_ >= kRollsHits && steps_.back().contact.y() - steps_.front().contact.y() > kRollsWay);
  if (!rolls_) return false;
  // What never shows a rim is an arm, a leg, a rake.
  ++rims_missed_;
  if (rims_missed_ > kRimPatience && rims_missed_ % kRimSeldom != 0) return false;
  const Eigen::Vector2d contact = state_.head<2>();
  const auto outline = corridor_->OutlineAt(contact);
  const auto j = corridor_->ContactJacobian(expected);
  if (!outline || !j || steps_.back().patch.luma.empty()) return false;
  DiscModel model;
  model.radius = outline->radius;
  model.round = outline->round;
  model.down = corridor_->Down(contact);
  model.rough = true;
  model.motion = 0.5 * (view.time_s - steps_[steps_.size() - 2].time_s) * (j->inverse() * state_.tail<2>());
  const DiscFit fit = FitDisc(steps_.back().patch, expected + outline->shift, model);
  if (!fit.ok || fit.seen_share < kRimSeen || fit.contrast < kRimContrast) return false;
  const Eigen::Vector2d p = fit.p - outline->shift;
  if (std::abs(p.x() - expected.x()) > window_u || std::abs(p.y() - expected.y()) > window_v) return false;
  const auto found = corridor_->Contact(p);
  if (!found) return false;
  Update(p, std::max(kRimSigmaPx, kRimSigma * model.radius));
  const Candidate c{p, *found, model.radius, steps_.back().score};
  steps_.back() = Make(view, &c, *found);
  steps_.back().rim = true;
  rims_missed_ = 0;
  return true;
}

void Chain::Advance(const FrameView& view) {
  if (over_) return;
  const double dt = view.time_s - last_time();
  if (dt <= 0) return;
  Predict(dt);
  const Eigen::Vector2d contact = state_.head<2>();
  const auto disc = corridor_->Disc(contact);
  if (!disc || contact.y() > kLastY || std::abs(contact.x()) > corridor_->outer_x() + 0.1 || state_[3] < 0.8) {
    over_ = true;
    return;
  }
  const double radius = corridor_->RadiusPx(contact);
  double wu = 0.3 * radius + 1.5, wv = wu;
  if (const auto j = corridor_->ContactJacobian(*disc)) {
    const Eigen::Matrix2d inverse = j->inverse();
    const Eigen::Matrix2d image = inverse * covariance_.topLeftCorner<2, 2>() * inverse.transpose();
    // Never so small that a chain a third of a ball off cannot find back.
    const double least = std::max(1.5 * ScaleOf(*corridor_), 0.4 * radius);
    wu = std::clamp(3 * std::sqrt(std::max(0.0, image(0, 0))) + 1, least, 0.9 * radius + 2);
    wv = std::clamp(3 * std::sqrt(std::max(0.0, image(1, 1))) + 1, least, 0.9 * radius + 2);
  }
  Candidate found = SearchDisc(view, *corridor_, contact, wu, wv);
  const double ask = std::max(kFollowScore, 0.12 * mean_score_);
  const bool hit =
      found.score >= ask && std::abs(found.p.x() - disc->x()) <= wu + 1 && std::abs(found.p.y() - disc->y()) <= wv + 1;
  if (hit) {
    steps_.push_back(Make(view, &found, found.contact));
    if (!SeeRim(view, *disc, wu, wv)) Update(found.p, (rolls_ ? kBoxDoubt : 1) * FoundSigma(*corridor_, found.radius));
    ++hits_;
    last_hit_s_ = view.time_s;
    mean_score_ += 0.1 * (found.score - mean_score_);
  } else {
    steps_.push_back(Make(view, nullptr, contact));
    if (view.time_s - last_hit_s_ > kCoast) over_ = true;
  }
  // What stands is no ball. (In the gutter the height is unknown and the apparent way may halt.)
  if (std::abs(state_.x()) < corridor_->half_width() - 0.05) {
    std::size_t k = steps_.size() - 1;
    while (k > 0 && view.time_s - steps_[k].time_s < kWatch) --k;
    const double took = view.time_s - steps_[k].time_s;
    if (took >= kWatch && steps_.back().contact.y() - steps_[k].contact.y() < kMinWay * took) over_ = true;
  }
}

void Chain::ExtendBack(const std::deque<FrameView>& views) {
  // Straight back from the oldest hits; a hidden ball ends it after a quarter of a second.
  std::vector<Step> before;
  double last_hit = steps_.front().time_s;
  for (auto view = views.rbegin(); view != views.rend(); ++view) {
    if (view->time_s >= steps_.front().time_s) continue;
    if (last_hit - view->time_s > 0.25) break;
    // Line through the oldest hits known by now.
    Eigen::Matrix2d a = Eigen::Matrix2d::Zero(), b = Eigen::Matrix2d::Zero();
    int n = 0;
    double newest = 0;
    const auto use = [&](const Step& s) {
      if (!s.hit || n >= 12) return;
      const Eigen::Vector2d row(1, s.time_s - view->time_s);
      a += row * row.transpose();
      b += row * s.contact.transpose();
      newest = row[1];
      ++n;
    };
    for (auto s = before.rbegin(); s != before.rend(); ++s) use(*s);
    for (const Step& s : steps_) use(s);
    if (n < 3 || newest <= 0) break;
    const Eigen::Matrix2d fit = a.ldlt().solve(b);
    const Eigen::Vector2d contact = fit.row(0);
    if (contact.y() < kFirstY || !corridor_->Disc(contact)) break;
    const double radius = corridor_->RadiusPx(contact), w = 0.25 * radius + 1.5;
    const Candidate found = SearchDisc(*view, *corridor_, contact, w, w);
    const bool hit = found.score >= std::max(kFollowScore, 0.12 * mean_score_);
    before.push_back(Make(*view, hit ? &found : nullptr, hit ? found.contact : contact));
    if (hit) last_hit = view->time_s, ++hits_;
  }
  while (!before.empty() && !before.back().hit) before.pop_back();
  steps_.insert(steps_.begin(), std::make_move_iterator(before.rbegin()), std::make_move_iterator(before.rend()));
}

void Chain::DropSwing() {
  // From where it certainly rolls, back as long as every stretch of kWatch goes down the lane.
  std::size_t k = steps_.size();
  while (k > 0 && !(steps_[k - 1].hit && steps_[k - 1].contact.y() < kSwingY)) --k;
  if (k == 0) return;
  std::size_t first = k - 1, ahead = steps_.size() - 1;
  for (std::size_t i = k; i-- > 0;) {
    if (!steps_[i].hit) continue;
    while (ahead > i + 1 && steps_[ahead].time_s - steps_[i].time_s > kWatch) --ahead;
    std::size_t to = ahead;
    while (to > i && !steps_[to].hit) --to;
    const double took = steps_[to].time_s - steps_[i].time_s;
    if (took > 0.5 * kWatch && steps_[to].contact.y() - steps_[i].contact.y() < kMinWay * took) break;
    first = i;
  }
  hits_ -= static_cast<int>(std::count_if(steps_.begin(), steps_.begin() + static_cast<std::ptrdiff_t>(first),
                                          [](const Step& s) { return s.hit; }));
  steps_.erase(steps_.begin(), steps_.begin() + static_cast<std::ptrdiff_t>(first));
}

Chain Chain::Between(double from_s, double to_s) const {
  Chain part = *this;
  std::erase_if(part.steps_, [&](const Step& s) { return s.time_s <= from_s || s.time_s >= to_s; });
  part.hits_ =
      static_cast<int>(std::count_if(part.steps_.begin(), part.steps_.end(), [](const Step& s) { return s.hit; }));
  return part;
}

std::optional<double> Chain::MirrorOf(const Chain& other) const {
  const double began = other.steps_.front().time_s;
  if (steps_.front().time_s >= began - 0.25) return std::nullopt;
  int both = 0, mirror = 0;
  auto o = other.steps_.begin();
  for (const Step& s : steps_) {
    while (o != other.steps_.end() && o->frame < s.frame) ++o;
    if (o == other.steps_.end()) break;
    if (o->frame != s.frame || !o->hit || s.contact.y() > lane::kHeadPinY) continue;
    ++both;
    const double radius = corridor_->RadiusPx(o->contact);
    const Eigen::Vector2d down = corridor_->Down(o->contact), off = (s.p - o->p) / radius;
    // Centres a diameter apart for a ball seen along the lane, a little less from above.
    const double below = off.dot(down), side = std::abs(off.x() * down.y() - off.y() * down.x());
    mirror += below > 1.2 && below < 3.2 && side < 1.3;
  }
  if (both < 8 || mirror < 0.7 * both) return std::nullopt;
  return began;
}

bool Chain::Near(const Candidate& c) const {
  const Step& s = steps_.back();
  return (s.p - c.p).norm() < 1.6 * c.radius + 2;
}

double Chain::quality() const {
  double sum = 0;
  for (const Step& s : steps_) sum += s.hit ? s.score : 0;
  return sum;
}

double Chain::Roughness() const {
  std::vector<const Step*> hit;
  for (const Step& s : steps_)
    if (s.hit) hit.push_back(&s);
  std::vector<double> off;
  for (std::size_t i = 2; i + 2 < hit.size(); ++i) {
    // Straight between neighbours two before and two after, in the picture.
    const double t = (hit[i]->time_s - hit[i - 2]->time_s) / (hit[i + 2]->time_s - hit[i - 2]->time_s);
    const Eigen::Vector2d line = hit[i - 2]->contact + t * (hit[i + 2]->contact - hit[i - 2]->contact);
    const auto disc = corridor_->Disc(line);
    const double r = corridor_->RadiusPx(hit[i]->contact);
    if (disc) off.push_back((hit[i]->p - *disc).norm() / (0.5 * ScaleOf(*corridor_) + 0.08 * r));
  }
  if (off.size() < 4) return 0;
  std::nth_element(off.begin(), off.begin() + static_cast<std::ptrdiff_t>(off.size() / 2), off.end());
  return off[off.size() / 2];
}

bool Chain::Convincing() const {
  const Step* first = nullptr;
  const Step* last = nullptr;
  int hits = 0, asked = 0;
  for (const Step& s : steps_) {
    if (!s.hit) continue;
    if (!first) first = &s;
    last = &s;
    ++hits;
  }
  if (!first || hits < 8) return false;
  for (const Step& s : steps_) asked += s.time_s >= first->time_s && s.time_s <= last->time_s;
  const double travel = last->contact.y() - first->contact.y(), took = last->time_s - first->time_s;
  if (Roughness() > 1) return false;
  return travel > 4.0 && took > 0.25 && travel / took > 3.0 && hits >= 0.5 * asked;
}

std::vector<Chain> StartChains(const Corridor& corridor, const ChangeMap& map, const std::deque<FrameView>& searched,
                               const std::deque<std::vector<Candidate>>& candidates, const std::deque<FrameView>& views,
                               const std::vector<Chain>& existing) {
  std::vector<Chain> started;
  const std::size_t n = searched.size();
  if (n < 4) return started;
  const FrameView& now = searched[n - 1];
  // The earlier frame of the pair: some 0.13 s ago, four frames at least.
  std::size_t from = n - 4;
  while (from > 0 && now.time_s - searched[from].time_s < 0.13) --from;
  const double span = now.time_s - searched[from].time_s;
  if (span < 0.04 || span > 0.3) return started;
  struct Pair {
    const Candidate *a, *b;
    double score;
    std::vector<std::pair<const FrameView*, Candidate>> places;
  };
  std::vector<Pair> pairs;
  for (const Candidate& b : candidates[n - 1]) {
    bool held = false;
    for (const Chain& c : existing) held = held || (!c.over() && c.Near(b));
    if (held) continue;
    for (const Candidate& a : candidates[from]) {
      const Eigen::Vector2d v = (b.contact - a.contact) / span;
      const auto j = corridor.ContactJacobian(b.p);
      if (!j) continue;
      const double doubt = FoundSigma(corridor, b.radius) * j->row(1).norm() * 1.5 / span;
      if (v.y() < kMinSpeed - doubt || v.y() < 0.5 || v.y() > kMaxSpeed + doubt ||
          std::abs(v.x()) > kMaxSlant * v.y() + 0.3)
        continue;
      if ((b.p - a.p).norm() < 0.25 * b.radius) continue;  // not told from a thing that stands
      Pair pair{&a, &b, a.score + b.score, {{&searched[from], a}}};
      int frames = 0;
      for (std::size_t k = from + 1; k + 1 < n; ++k) {
        ++frames;
        const double t = (searched[k].time_s - searched[from].time_s) / span;
        const auto at = corridor.Disc(a.contact + t * (b.contact - a.contact));
        if (!at) continue;
        const Candidate* nearest = nullptr;
        double least = std::max(1.5 * corridor.scale(), 0.3 * b.radius);
        for (const Candidate& c : candidates[k]) {
          const double d = (c.p - *at).norm();
          if (d < least) least = d, nearest = &c;
        }
        if (nearest) pair.places.emplace_back(&searched[k], *nearest), pair.score += nearest->score;
      }
      if (static_cast<double>(pair.places.size()) - 1 < 0.7 * frames) continue;
      pair.places.emplace_back(&now, b);
      pair.score /= static_cast<double>(frames + 2);
      pairs.push_back(std::move(pair));
    }
  }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.score > b.score; });
  for (const Pair& p : pairs) {
    bool held = false;
    for (const Chain& c : started) held = held || c.Near(*p.b);
    if (held || started.size() >= 3) continue;
    started.emplace_back(corridor, map, p.places, views);
  }
  return started;
}

}  // namespace hookline::track
