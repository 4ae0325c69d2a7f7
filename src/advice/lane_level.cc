#include "advice/lane_level.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "lane/units.h"

namespace hookline::advice {
namespace {

enum State { kFront = 0, kSkid = 1, kBack = 2, kSlope = 3, kRollOffset = 4 };

}  // namespace

Status LaneOptions::Check() const {
  if (!(more_chance > 0) || !(less_chance > 0) || !(more_chance + less_chance < 0.5)) {
    return {StatusCode::kBadUse, "more_chance and less_chance must be above 0 and below 0.5 together."};
  }
  if (!(odd_chance > 0) || !(odd_chance < 0.5) || !(odd_times > 1) || window < 1) {
    return {StatusCode::kBadUse, "odd_chance must be in 0 to 0.5, odd_times above 1 and window at least 1."};
  }
  return Status::Ok();
}

LaneLevel::LaneLevel(const LaneOptions& options) : o_(options) {
  assert(o_.Check().ok());
  Branch first;
  first.mean = Vector::Zero(kFixed);
  first.mean << std::log(0.045), 40, std::log(0.17), o_.slope, 0;
  first.cov = Matrix::Zero(kFixed, kFixed);
  first.cov.diagonal() << 0.25, 36, 0.16, o_.slope_sd * o_.slope_sd, 16;
  branches_.push_back(first);
}

// Measures one after another (their noises are independent); returns the log of the likelihood.
double LaneLevel::Update(Branch& b, const LaneSight& s, int ball, double times) const {
  double log_likelihood = 0;
  const auto measure = [&](const Vector& h, double innovation, double sd) {
    const Vector ph = b.cov * h;
    const double noise = sd * sd * times * times, total = h.dot(ph) + noise;
    log_likelihood -= 0.5 * (innovation * innovation / total + std::log(2 * lane::kPi * total));
    b.mean += ph * (innovation / total);
    b.cov -= ph * ph.transpose() / total;
  };
  const auto n = b.mean.size();
  const double outward = -s.line_board, off = std::abs(s.off_line);
  if (s.front) {
    Vector h = Vector::Zero(n);
    h[kFront] = 1;
    h[kSlope] = outward;
    if (ball >= 0) h[kFixed + ball] = 1;
    // A log of a friction measured badly is skewed; its doubt is taken no larger than a half.
    const double sd = std::min(0.5, s.front->sd / s.front->value);
    measure(h, std::log(s.front->value) - h.dot(b.mean),
            std::hypot(std::hypot(sd, o_.swing_log), o_.off_line_log * off));
  }
  if (s.back) {
    Vector h = Vector::Zero(n);
    h[kBack] = 1;
    if (ball >= 0) h[kFixed + ball] = 1;
    measure(h, std::log(s.back->value) - h.dot(b.mean),
            std::hypot(std::min(0.5, s.back->sd / s.back->value), o_.swing_log));
  }
  if (s.skid_end_ft) {
    Vector h = Vector::Zero(n);
    h[kSkid] = 1;
    measure(h, s.skid_end_ft->value - h.dot(b.mean),
            std::hypot(std::hypot(s.skid_end_ft->sd, o_.swing_ft), o_.off_line_ft * off));
  }
  if (s.roll_start_ft && s.speed_mph && s.turn_deg && s.rev_rpm) {
    const auto roll = [&](const Vector& x, double v, double turn, double rev) {
      const double grip = ball >= 0 ? x[kFixed + ball] : 0;
      return RollStartFt(v, turn, rev, std::exp(x[kFront] + grip + x[kSlope] * outward), x[kSkid],
                         std::exp(x[kBack] + grip)) +
             x[kRollOffset];
    };
    const double v = s.speed_mph->value, r = s.turn_deg->value, w = s.rev_rpm->value, at = roll(b.mean, v, r, w);
    Vector h = Vector::Zero(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const double step = i == kSkid || i == kRollOffset ? 0.1 : 0.01;
      Vector x = b.mean;
      x[i] += step;
      h[i] = (roll(x, v, r, w) - at) / step;
    }
    const double by_v = (roll(b.mean, v + 0.1, r, w) - at) / 0.1 * s.speed_mph->sd;
    const double by_r = (roll(b.mean, v, r + 1, w) - at) * s.turn_deg->sd;
    const double by_w = (roll(b.mean, v, r, w + 10) - at) / 10 * s.rev_rpm->sd;
    const double sd = std::sqrt(s.roll_start_ft->sd * s.roll_start_ft->sd + by_v * by_v + by_r * by_r + by_w * by_w +
                                2 * o_.swing_ft * o_.swing_ft + o_.off_line_ft * o_.off_line_ft * off * off);
    measure(h, s.roll_start_ft->value - at, sd);
  }
  return log_likelihood;
}

void LaneLevel::Merge(Branch& a, const Branch& b) {
  const double top = std::max(a.log_weight, b.log_weight);
  const double wa = std::exp(a.log_weight - top), wb = std::exp(b.log_weight - top), sum = wa + wb;
  const double share = wb / sum;
  const Vector d = b.mean - a.mean;
  a.cov = (1 - share) * a.cov + share * b.cov + share * (1 - share) * (d * d.transpose());
  a.mean += share * d;
  const double e = b.before - a.before;
  a.before_var = (1 - share) * a.before_var + share * b.before_var + share * (1 - share) * e * e;
  a.before += share * e;
  a.log_weight = top + std::log(sum);
}

LaneLevel::Verdict LaneLevel::Learn(const LaneSight& s) {
  int ball = -1;
  if (const auto known = balls_.find(s.ball); known != balls_.end()) {
    ball = known->second;
  } else if (!balls_.empty()) {
    ball = std::min(static_cast<int>(balls_.size()) - 1, kBalls - 1);
    balls_[s.ball] = ball;
  } else {
    balls_[s.ball] = -1;
  }
  for (Branch& b : branches_) {
    if (const auto n = b.mean.size(); ball >= 0 && n <= kFixed + ball) {
      b.mean.conservativeResize(n + 1);
      b.mean[n] = 0;
      b.cov.conservativeResize(n + 1, n + 1);
      b.cov.row(n).setZero();
      b.cov.col(n).setZero();
      b.cov(n, n) = o_.grip_sd * o_.grip_sd;
    }
    if (started_) {
      b.cov(kFront, kFront) += o_.drift_log * o_.drift_log + (s.new_line ? o_.move_log * o_.move_log : 0);
      b.cov(kSkid, kSkid) += o_.drift_ft * o_.drift_ft + (s.new_line ? o_.move_ft * o_.move_ft : 0);
    }
    if (b.sign != 0 && ++b.ago >= o_.window) b.sign = b.ago = 0;
  }
  std::vector<Branch> next;
  const auto put = [&](Branch&& b) {
    for (Branch& known : next) {
      if (known.sign == b.sign && known.ago == b.ago) return Merge(known, b);
    }
    next.push_back(std::move(b));
  };
  for (const Branch& b : branches_) {
    for (const int sign : {0, 1, -1}) {
      if (sign != 0 && !started_) continue;
      const double chance = sign > 0 ? o_.more_chance : sign < 0 ? o_.less_chance : 1 - o_.more_chance - o_.less_chance;
      for (const bool odd : {false, true}) {
        Branch child = b;
        if (sign != 0) {
          child.sign = sign;
          child.ago = 0;
          child.before = b.mean[kFront];
          child.before_var = b.cov(kFront, kFront);
          child.mean[kFront] += sign * o_.jump_log;
          child.mean[kSkid] -= sign * o_.jump_ft;
          child.cov(kFront, kFront) += o_.jump_log_sd * o_.jump_log_sd;
          child.cov(kSkid, kSkid) += o_.jump_ft_sd * o_.jump_ft_sd;
          child.cov(kBack, kBack) += o_.jump_back_sd * o_.jump_back_sd;
        }
        child.log_weight += std::log(chance) + std::log(odd ? o_.odd_chance : 1 - o_.odd_chance);
        child.log_weight += Update(child, s, ball, odd ? o_.odd_times : 1);
        put(std::move(child));
      }
    }
  }
  started_ = true;
  double top = -1e300, sum = 0;
  for (const Branch& b : next) top = std::max(top, b.log_weight);
  for (Branch& b : next) sum += std::exp(b.log_weight -= top);
  std::erase_if(next, [&](const Branch& b) { return std::exp(b.log_weight) / sum < 1e-6; });
  branches_ = std::move(next);

  Verdict v;
  double second = 0, best = 0;
  for (Branch& b : branches_) {
    b.log_weight -= std::log(sum);
    const double w = std::exp(b.log_weight);
    (b.sign > 0 ? v.more : v.less) += b.sign == 0 ? 0 : w;
    v.level += w * b.mean[kFront];
    second += w * (b.cov(kFront, kFront) + b.mean[kFront] * b.mean[kFront]);
    if (b.sign != 0 && w > best) {
      best = w;
      const double ratio = std::exp(b.mean[kFront] - b.before);
      v.front_change = Estimate{ratio - 1, ratio * std::sqrt(b.cov(kFront, kFront) + b.before_var)};
      v.shots_ago = b.ago;
    }
  }
  v.level_sd = std::sqrt(std::max(0.0, second - v.level * v.level));
  return v;
}

}  // namespace hookline::advice
