// Like work on many things, each by itself.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <future>
#include <thread>
#include <vector>

namespace hookline {

// Calls work(i) for each i below `count`, many at once, and returns when all are done; rethrows what one threw. Twice
// as many threads as cores: three long pieces on two cores share them, where the third would else be done by one core
// alone while the other waits.
template <typename Work>
void ForEachAtOnce(std::size_t count, const Work& work) {
  const std::size_t threads = std::min<std::size_t>(count, 2 * std::max(1U, std::thread::hardware_concurrency()));
  std::atomic<std::size_t> next = 0;
  std::vector<std::future<void>> workers;
  for (std::size_t k = 0; k < threads; ++k)
    workers.push_back(std::async(std::launch::async, [&] {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    }));
  for (auto& w : workers) w.get();
}

}  // namespace hookline
