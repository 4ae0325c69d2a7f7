// A clip's picture on the GPU: three planes as textures, uploaded as they were stored, and one rectangle drawn with the
// shaders of shaders/, which turn, straighten and colour them. Belongs to the window's thread; needs its OpenGL context
// for as long as it lives.
#pragma once

#include <memory>

#include "core/status.h"
#include "media/clip_frames.h"
#include "model/picture.h"
#include "viewer/picture_map.h"

struct ImDrawList;

namespace hookline::viewer {

class VideoView {
 public:
  // kInternal when the graphics driver refuses the shaders; the sentence holds its words.
  static Result<std::unique_ptr<VideoView>> Make();
  virtual ~VideoView() = default;

  // Does nothing when this very picture is there already. The picture may be let go afterwards.
  virtual void Upload(const std::shared_ptr<const Picture>& picture, const media::ShownForm& form,
                      const ClipInfo& info) = 0;
  // Puts the picture into the panel's draw list where `map` has it; the view must live until the frame is drawn.
  virtual void Draw(ImDrawList& list, const PictureMap& map) = 0;
  // Pictures uploaded so far.
  virtual long uploads() const = 0;
};

}  // namespace hookline::viewer
