#include "viewer/software_gl.h"

#include <GL/gl.h>

#include <string_view>

namespace hookline::viewer {

bool DrawsOnCpu() {
  const auto* words = reinterpret_cast<const char*>(glGetString(GL_RENDERER));
  const std::string_view name = words ? words : "";
  for (const char* one : {"llvmpipe", "softpipe", "swrast", "SWR"}) {
    if (name.find(one) != std::string_view::npos) return true;
  }
  return false;
}

}  // namespace hookline::viewer
