// In which pictures of a clip each place is seen without the people who stand before it.
//
// A bowler who waits before the lane for most of a clip is what a pixel's median shows. Who is in front of whom is
// told by the outline: where a picture begins to differ from another, the one that holds the person has an edge there,
// and the one without goes on as beside it. So the still scene grows from places that are always alike into the
// contested ones: of the values seen at a place (clusters of its pictures) the one that continues its decided
// neighbours, and that was seen in the same pictures as theirs, is taken; the most decisive place first.
//
//   cost of a value = sum over decided neighbours of  min(|difference|, T) / T + 1 - shared / min(own, neighbour's)
//
// with the last two the numbers of pictures. Where all that was chosen against the median in one piece has no less of
// an outline than the median has there, the median stays: the scene's own edges led astray. Small things that mostly
// stand there (pins: a rack with its deck is less than 0.15 of the picture's width wherever the foul line is seen too)
// belong to the scene; people are larger. Limits: what fewer than two pictures show is not known; a person is not told
// from texture that has the person's own brightness and colour all around.
//
// Where the lanes lie, once that is known, has the last word: at one distance a lane's surface, or its neighbour's,
// looks much alike from edge to edge, and no shirt does. Of the values of a contested place on it the one that looks so
// is the scene's where the others do not.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

struct ClearView {
  int cell = 0;                         // px, side of a cell; even
  int columns = 0, rows = 0;            // whole cells
  std::vector<std::uint64_t> pictures;  // per cell, bit k: picture k shows the scene; 0: as the median has it
  cv::Mat shown;  // CV_8UC1, per cell: how many of them do, also where the median is right; 0: not told
};

// Precondition: up to 64 pictures of one size, camera motion taken out. Fewer than 5, or a picture of less than a few
// cells: nothing is told, `pictures` is empty. `lanes` where they are known, in the pictures' frame; may be null.
ClearView FindClearView(const std::vector<Picture>& pictures, const LaneSetup* lanes = nullptr);

}  // namespace hookline::setup
