#include "viewer/video_view.h"

#define GL_GLEXT_PROTOTYPES
#include <GL/gl.h>
#include <GL/glext.h>
#include <imgui.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <functional>
#include <string>
#include <utility>

#include "viewer/colour_matrix.h"
#include "viewer/damage.h"
#include "viewer/shaders.h"
#include "viewer/shown_pixels.h"
#include "viewer/software_gl.h"

namespace hookline::viewer {
namespace {

constexpr std::array<const char*, 3> kPlaneNames = {"luma", "cb", "cr"};

class GlVideoView final : public VideoView {
 public:
  ~GlVideoView() override {
    glDeleteTextures(3, textures_.data());
    if (pixels_) glDeleteTextures(1, &pixels_);
    if (pixels_frame_) glDeleteFramebuffers(1, &pixels_frame_);
    if (program_) glDeleteProgram(program_);
    if (vertices_) glDeleteVertexArrays(1, &vertices_);
  }

  Status Start() {
    program_ = glCreateProgram();
    for (const auto& [kind, text] : {std::pair{GL_VERTEX_SHADER, kVideoVert}, {GL_FRAGMENT_SHADER, kVideoFrag}}) {
      const GLuint shader = glCreateShader(static_cast<GLenum>(kind));
      glShaderSource(shader, 1, &text, nullptr);
      glCompileShader(shader);
      GLint good = 0;
      glGetShaderiv(shader, GL_COMPILE_STATUS, &good);
      if (!good) {
        std::array<char, 2000> words{};
        glGetShaderInfoLog(shader, static_cast<GLsizei>(words.size()), nullptr, words.data());
        return {StatusCode::kInternal,
                std::string("The graphics driver refuses the picture's shader; update it. ") + words.data()};
      }
      glAttachShader(program_, shader);
      glDeleteShader(shader);
    }
    glLinkProgram(program_);
    GLint good = 0;
    glGetProgramiv(program_, GL_LINK_STATUS, &good);
    if (!good) return {StatusCode::kInternal, "The graphics driver refuses the picture's shaders; update it."};
    on_cpu_ = DrawsOnCpu();
    glGenVertexArrays(1, &vertices_);
    glGenTextures(3, textures_.data());
    for (const GLuint texture : textures_) {
      glBindTexture(GL_TEXTURE_2D, texture);
      glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_LINEAR);
      glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_LINEAR);
      glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_S, GL_CLAMP_TO_EDGE);
      glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_WRAP_T, GL_CLAMP_TO_EDGE);
    }
    return Status::Ok();
  }

  void Upload(const std::shared_ptr<const Picture>& picture, const media::ShownForm& form,
              const ClipInfo& info) override {
    if (!picture || picture == uploaded_) return;
    uploaded_ = picture;
    ++version_;
    form_ = form;
    width_ = info.width;
    height_ = info.height;
    planes_there_ = pixels_there_ = false;
  }

  void Draw(ImDrawList& list, const PictureMap& map, Ink around) override {
    if (!uploaded_) return;
    // The draw list is carried out later in the frame; a view may be asked to draw in two places.
    if (ImGui::GetFrameCount() != frame_) places_.clear();
    frame_ = ImGui::GetFrameCount();
    places_.push_back({{StampOf(map)}, this, map, around});
    list.AddCallback(
        [](const ImDrawList*, const ImDrawCmd* command) {
          const auto* place = static_cast<const Place*>(static_cast<const Stamped*>(command->UserCallbackData));
          place->view->DrawNow(place->map, place->around, command->ClipRect);
        },
        static_cast<Stamped*>(&places_.back()));
    list.AddCallback(ImDrawCallback_ResetRenderState, nullptr);
  }

  long uploads() const override { return uploads_; }

 private:
  struct Place : Stamped {
    GlVideoView* view;
    PictureMap map;
    Ink around;
  };

  std::uint64_t StampOf(const PictureMap& map) const {
    std::uint64_t stamp = version_ << 1 | (map.lens() ? 1 : 0);
    const auto mix = [&stamp](double v) { stamp = (stamp ^ std::hash<double>()(v)) * 0x9fb21c651e98df25ULL; };
    for (const double v : map.window_rect()) mix(v);
    for (const double v : map.picture_rect()) mix(v);
    if (map.lens()) mix(map.lens()->focal_px), mix(map.lens()->k1), mix(map.lens()->k2);
    return stamp;
  }

  GLint Uniform(const char* name) const { return glGetUniformLocation(program_, name); }

  void UploadPlanes() {
    if (std::exchange(planes_there_, true)) return;
    glPixelStorei(GL_UNPACK_ALIGNMENT, 1);
    for (std::size_t i = 0; i < 3; ++i) {
      const cv::Mat& plane = i == 0 ? uploaded_->luma : i == 1 ? uploaded_->cb : uploaded_->cr;
      glBindTexture(GL_TEXTURE_2D, textures_[i]);
      // Decoders pad their rows; the GPU skips the rest of each by itself.
      glPixelStorei(GL_UNPACK_ROW_LENGTH, static_cast<GLint>(plane.step[0]));
      if (plane.size() != sizes_[i]) {
        glTexImage2D(GL_TEXTURE_2D, 0, GL_R8, plane.cols, plane.rows, 0, GL_RED, GL_UNSIGNED_BYTE, plane.data);
        sizes_[i] = plane.size();
      } else {
        glTexSubImage2D(GL_TEXTURE_2D, 0, 0, 0, plane.cols, plane.rows, GL_RED, GL_UNSIGNED_BYTE, plane.data);
      }
    }
    glPixelStorei(GL_UNPACK_ROW_LENGTH, 0);
    glBindTexture(GL_TEXTURE_2D, 0);
  }

  // The window's own pixels made here and copied, without a shader.
  void CopyNow(const PictureMap& map, const ImVec4& clip) {
    const ImGuiIO& io = ImGui::GetIO();
    const double px = io.DisplayFramebufferScale.x, py = io.DisplayFramebufferScale.y;
    const Eigen::Vector4d w = map.window_rect(), p = map.picture_rect();
    const int left = static_cast<int>(std::lround(w[0] * px)), top = static_cast<int>(std::lround(w[1] * py));
    const cv::Size size(std::max(1, static_cast<int>(std::lround(w[2] * px)) - left),
                        std::max(1, static_cast<int>(std::lround(w[3] * py)) - top));
    if (!pixels_there_ || size != pixels_size_ || p != pixels_part_) {
      const cv::Mat& made = maker_.Make(*uploaded_, form_, {width_, height_}, p, size);
      if (!pixels_) glGenTextures(1, &pixels_), glGenFramebuffers(1, &pixels_frame_);
      glBindTexture(GL_TEXTURE_2D, pixels_);
      if (size != pixels_size_) {
        // Unsized, so that it is stored as a window is: copied in half a millisecond instead of seven.
        glTexImage2D(GL_TEXTURE_2D, 0, GL_RGBA, size.width, size.height, 0, GL_BGRA, GL_UNSIGNED_BYTE, made.data);
        glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_NEAREST);
      } else {
        glTexSubImage2D(GL_TEXTURE_2D, 0, 0, 0, size.width, size.height, GL_BGRA, GL_UNSIGNED_BYTE, made.data);
      }
      glBindTexture(GL_TEXTURE_2D, 0);
      pixels_there_ = true;
      pixels_size_ = size;
      pixels_part_ = p;
    }
    GLint frame = 0;
    glGetIntegerv(GL_DRAW_FRAMEBUFFER_BINDING, &frame);
    glBindFramebuffer(GL_READ_FRAMEBUFFER, pixels_frame_);
    glFramebufferTexture2D(GL_READ_FRAMEBUFFER, GL_COLOR_ATTACHMENT0, GL_TEXTURE_2D, pixels_, 0);
    // Cut by hand: a copy without a scissor is a plain one. The picture's first row is its top one, as windows are
    // stored; OpenGL counts both from below.
    const auto cut = [](double v, int from, int length) {
      return std::clamp(static_cast<int>(std::lround(v)) - from, 0, length);
    };
    const int x0 = cut(clip.x * px, left, size.width), x1 = cut(clip.z * px, left, size.width);
    const int y0 = cut(clip.y * py, top, size.height), y1 = cut(clip.w * py, top, size.height);
    const int above = static_cast<int>(std::lround(io.DisplaySize.y * py)) - top;
    glDisable(GL_SCISSOR_TEST);
    if (x1 > x0 && y1 > y0)
      glBlitFramebuffer(x0, y0, x1, y1, left + x0, above - y0, left + x1, above - y1, GL_COLOR_BUFFER_BIT, GL_NEAREST);
    glEnable(GL_SCISSOR_TEST);
    glBindFramebuffer(GL_FRAMEBUFFER, static_cast<GLuint>(frame));
  }

  void DrawNow(const PictureMap& map, Ink around, const ImVec4& clip) {
    if (clip.z <= clip.x || clip.w <= clip.y) return;
    const ImGuiIO& io = ImGui::GetIO();
    const ImVec2 display = io.DisplaySize, px = io.DisplayFramebufferScale;
    glEnable(GL_SCISSOR_TEST);
    glScissor(static_cast<GLint>(clip.x * px.x), static_cast<GLint>((display.y - clip.w) * px.y),
              static_cast<GLsizei>((clip.z - clip.x) * px.x), static_cast<GLsizei>((clip.w - clip.y) * px.y));
    const ImVec4 ground = ImGui::ColorConvertU32ToFloat4(around);
    glClearColor(ground.x, ground.y, ground.z, 1);
    glClear(GL_COLOR_BUFFER_BIT);
    if (std::exchange(drawn_, version_) != version_) ++uploads_;
    if (on_cpu_ && !map.lens() && ShownPixels::Can(*uploaded_)) {
      CopyNow(map, clip);
      return;
    }
    UploadPlanes();
    glDisable(GL_BLEND);
    glUseProgram(program_);
    const Eigen::Vector4d w = map.window_rect(), p = map.picture_rect();
    const auto x = [&](double v) { return static_cast<float>(v / display.x * 2 - 1); };
    const auto y = [&](double v) { return static_cast<float>(1 - v / display.y * 2); };
    glUniform4f(Uniform("place"), x(w[0]), y(w[1]), x(w[2]), y(w[3]));
    const Eigen::Vector4f pf = p.cast<float>();
    glUniform4fv(Uniform("picture"), 1, pf.data());
    glUniform2f(Uniform("size"), static_cast<float>(width_), static_cast<float>(height_));
    glUniform3i(Uniform("orientation"), form_.transpose, form_.flip_x, form_.flip_y);
    glUniform2f(Uniform("chroma_part"), static_cast<float>(sizes_[0].width) / static_cast<float>(2 * sizes_[1].width),
                static_cast<float>(sizes_[0].height) / static_cast<float>(2 * sizes_[1].height));
    const ColourMatrix colour = ColourMatrixOf(form_.matrix, form_.full_range);
    const Eigen::Matrix3f m = colour.rgb_from_ycc.cast<float>();
    const Eigen::Vector3f zero = colour.ycc_zero.cast<float>();
    glUniformMatrix3fv(Uniform("rgb_from_ycc"), 1, GL_FALSE, m.data());
    glUniform3fv(Uniform("ycc_zero"), 1, zero.data());
    glUniform1i(Uniform("straighten"), map.lens().has_value());
    if (map.lens()) {
      // The shader counts from the picture's outer corner.
      const auto f = static_cast<float>(map.lens()->focal_px);
      glUniform4f(Uniform("lens"), f, f, static_cast<float>(map.lens()->centre_u + 0.5),
                  static_cast<float>(map.lens()->centre_v + 0.5));
      glUniform2f(Uniform("bend"), static_cast<float>(map.lens()->k1), static_cast<float>(map.lens()->k2));
    }
    for (std::size_t i = 0; i < 3; ++i) {
      glActiveTexture(static_cast<GLenum>(GL_TEXTURE0 + i));
      glBindTexture(GL_TEXTURE_2D, textures_[i]);
      glUniform1i(Uniform(kPlaneNames[i]), static_cast<GLint>(i));
    }
    glBindVertexArray(vertices_);
    glDrawArrays(GL_TRIANGLE_STRIP, 0, 4);
    glActiveTexture(GL_TEXTURE0);
  }

  GLuint program_ = 0, vertices_ = 0;
  std::array<GLuint, 3> textures_{};
  std::array<cv::Size, 3> sizes_;
  std::shared_ptr<const Picture> uploaded_;
  bool on_cpu_ = false;
  bool planes_there_ = false, pixels_there_ = false;  // of uploaded_
  GLuint pixels_ = 0, pixels_frame_ = 0;
  cv::Size pixels_size_;
  Eigen::Vector4d pixels_part_ = Eigen::Vector4d::Zero();
  ShownPixels maker_;
  long uploads_ = 0;
  std::uint64_t version_ = 0, drawn_ = 0;  // of uploaded_; 0: none
  media::ShownForm form_;
  int width_ = 1, height_ = 1;
  std::deque<Place> places_;
  int frame_ = -1;
};

}  // namespace

Result<std::unique_ptr<VideoView>> VideoView::Make() {
  auto view = std::make_unique<GlVideoView>();
  if (Status s = view->Start(); !s.ok()) return s;
  return std::unique_ptr<VideoView>(std::move(view));
}

}  // namespace hookline::viewer
