// How the lanes of a clip look from the camera. At one distance a lane's surface, or its neighbour's, looks much alike
// from edge to edge, and nobody who stands before it looks so: by that people are told from lanes, and lanes from
// people in the still background.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

using Pixel = std::array<std::uint8_t, 3>;  // luma, cb, cr

float Difference(const Pixel& a, const Pixel& b);  // grey levels, summed over all planes

class LaneLooks {
 public:
  static constexpr double kStep = 0.08;  // distances from the camera that differ by less are one
  static constexpr float kReach = 40;    // grey levels over all planes: what is no farther off a lane's look is like it

  // Of two places at one distance the same; precondition: in front of the camera, m.
  static int StepAt(double from_camera);
  void Add(int step, const Pixel& look) { looks_[step].push_back(look); }
  // How far a colour is off the nearest looks at that distance, one in `one_in` of them: more than one place must look
  // so, somebody who never moves is among them, too. Nothing where fewer than 7 places tell.
  std::optional<float> Off(int step, const Pixel& colour, std::size_t one_in) const;

 private:
  std::map<int, std::vector<Pixel>> looks_;  // by step
};

// Share of the lane from the foul line to the pins, 0 to 1, where the background looks unlike what one in four places
// of it and its neighbours looks like at that distance. Places outside the picture do not count.
double ShareUnlikeLanes(const Background& background, const LaneSetup& setup);

}  // namespace hookline::setup
