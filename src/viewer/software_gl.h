// Whether OpenGL is carried out by the CPU: then every pixel filled and every look-up into a texture counts, and the
// window draws in another way (damage.h, shown_pixels.h).
#pragma once

namespace hookline::viewer {

// Of the current context, by the renderer's name.
bool DrawsOnCpu();

}  // namespace hookline::viewer
