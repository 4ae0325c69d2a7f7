// How many whole paths a second the forward model of a ball makes on one core (bar: 20000). Prints the median of the
// runs and their spread, for friction in two zones and for friction that varies smoothly along and across.

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <thread>
#include <vector>

#include "lane/lane_spec.h"
#include "motion/ball_motion.h"

using namespace hookline;
using namespace hookline::motion;

namespace {

constexpr int kRuns = 9, kPaths = 20000;

void Measure(const char* name, const FrictionField& friction) {
  std::vector<double> rates;
  double sum = 0;
  for (int run = 0; run < kRuns; ++run) {
    const auto start = std::chrono::steady_clock::now();
    for (int i = 0; i < kPaths; ++i) {
      BallAtRelease b;
      b.v = {0.2 + 1e-5 * i, 7.5};
      b.spin = 40;
      b.axis_rotation = 0.8;
      b.side = -1;
      sum += SimulateBall(b, friction, lane::kHeadPinY).states().back().p.x();
    }
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    rates.push_back(kPaths / took.count());
  }
  std::sort(rates.begin(), rates.end());
  std::printf("%-28s %9.0f paths/s (%.0f to %.0f, %d runs of %d; mean end %.3f m)\n", name, rates[kRuns / 2],
              rates.front(), rates.back(), kRuns, kPaths, sum / (kRuns * kPaths));
}

}  // namespace

int main() {
  std::printf("%u cores seen, one used\n", std::thread::hardware_concurrency());
  Measure("two zones", FrictionField::Zones({12.2}, {0.04, 0.2}));
  FrictionField smooth;
  smooth.at = [](double x, double y) {
    return 0.04 + 0.16 / (1 + std::exp(-(y - 12.2) / 0.35)) + 0.04 / (1 + std::exp((0.32 - std::abs(x)) / 0.03));
  };
  Measure("smooth, along and across", smooth);
  return 0;
}
