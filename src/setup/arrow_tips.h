// Where the seven arrows of a lane really are: the rule book leaves them four feet of freedom along the lane (12 to 16
// ft), so what can be seen is measured. A house paints its lanes alike, so marks on the next lanes fill in for those a
// person hides.
#pragma once

#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "model/lane_setup.h"
#include "setup/evidence.h"

namespace hookline::setup {

// y of the far tips of the arrows on boards 5, 10 .. 35 counted from the right, m past the foul line. pictures: of one
// scene at different times, the reference first. nullopt when fewer than four boards show a mark that agrees with the
// others: marks of one kind (all darker or all lighter than the lane) on one V, y = a - b |board - 20| with 0 <= b.
// Boards without a mark of their own get the V's place.
std::optional<std::array<double, 7>> MeasureArrowTips(const std::vector<cv::Mat>& pictures, const LaneSetup& setup);

// Where across the lane the arrows lie in the picture, as points on their boards: arrows are inlaid in the middle of
// boards 5, 10 .. 35, so they tell where the lane lies even where its edges have the gutters' own colour. The setup's
// arrow_tip_y must have been measured and the setup be right to about a board there. lanes: which to look at.
std::vector<EdgePoint> MeasureArrowBoards(const std::vector<cv::Mat>& pictures, const LaneSetup& setup,
                                          const std::vector<LaneInView>& lanes);

}  // namespace hookline::setup
