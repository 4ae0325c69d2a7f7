// A clip's picture on the GPU: three planes as textures, uploaded as they were stored, and one rectangle drawn with the
// shaders of shaders/, which turn, straighten and colour them. Where OpenGL itself is carried out by the CPU the
// window's pixels are made by shown_pixels.h and copied, unless the lens is to be straightened. Belongs to the window's
// thread; needs its OpenGL context for as long as it lives.
#pragma once

#include <memory>

#include "core/status.h"
#include "media/clip_frames.h"
#include "model/picture.h"
#include "viewer/picture_map.h"
#include "viewer/style.h"

struct ImDrawList;

namespace hookline::viewer {

class VideoView {
 public:
  // kInternal when the graphics driver refuses the shaders; the sentence holds its words.
  static Result<std::unique_ptr<VideoView>> Make();
  virtual ~VideoView() = default;

  // From now on this picture is drawn; its planes go up when it is. It is held until the next one.
  virtual void Upload(const std::shared_ptr<const Picture>& picture, const media::ShownForm& form,
                      const ClipInfo& info) = 0;
  // Puts the picture into the panel's draw list where `map` has it, and `around` it to the ends of the list's clip
  // rectangle; the view must live until the frame is drawn.
  virtual void Draw(ImDrawList& list, const PictureMap& map, Ink around) = 0;
  // Pictures that were really drawn so far, each counted once.
  virtual long uploads() const = 0;
};

}  // namespace hookline::viewer
