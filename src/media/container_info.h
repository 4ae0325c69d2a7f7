// What a container says of its video before all of it was read. Internal to this room.
#pragma once

#include <string>

#include "media/frame_planes.h"
#include "media/video_source.h"
#include "model/picture.h"

namespace hookline::media {

// frames and variable_rate are first guesses: edit lists and damage take from them.
ClipInfo InfoOfContainer(const std::string& file, const VideoSource& source, const PictureMaker& maker);

}  // namespace hookline::media
