#include "viewer/video_view.h"

#define GL_GLEXT_PROTOTYPES
#include <GL/gl.h>
#include <GL/glext.h>
#include <imgui.h>

#include <array>
#include <deque>
#include <string>

#include "viewer/colour_matrix.h"
#include "viewer/shaders.h"

namespace hookline::viewer {
namespace {

constexpr std::array<const char*, 3> kPlaneNames = {"luma", "cb", "cr"};

class GlVideoView final : public VideoView {
 public:
  ~GlVideoView() override {
    glDeleteTextures(3, textures_.data());
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
    ++uploads_;
    form_ = form;
    width_ = info.width;
    height_ = info.height;
    glPixelStorei(GL_UNPACK_ALIGNMENT, 1);
    for (std::size_t i = 0; i < 3; ++i) {
      const cv::Mat& plane = i == 0 ? picture->luma : i == 1 ? picture->cb : picture->cr;
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

  void Draw(ImDrawList& list, const PictureMap& map) override {
    if (!uploaded_) return;
    // The draw list is carried out later in the frame; a view may be asked to draw in two places.
    if (ImGui::GetFrameCount() != frame_) places_.clear();
    frame_ = ImGui::GetFrameCount();
    places_.push_back({this, map});
    list.AddCallback(
        [](const ImDrawList*, const ImDrawCmd* command) {
          const auto* place = static_cast<const Place*>(command->UserCallbackData);
          place->view->DrawNow(place->map, command->ClipRect);
        },
        &places_.back());
    list.AddCallback(ImDrawCallback_ResetRenderState, nullptr);
  }

  long uploads() const override { return uploads_; }

 private:
  struct Place {
    GlVideoView* view;
    PictureMap map;
  };

  GLint Uniform(const char* name) const { return glGetUniformLocation(program_, name); }

  void DrawNow(const PictureMap& map, const ImVec4& clip) {
    const ImGuiIO& io = ImGui::GetIO();
    const ImVec2 display = io.DisplaySize, px = io.DisplayFramebufferScale;
    glScissor(static_cast<GLint>(clip.x * px.x), static_cast<GLint>((display.y - clip.w) * px.y),
              static_cast<GLsizei>((clip.z - clip.x) * px.x), static_cast<GLsizei>((clip.w - clip.y) * px.y));
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
  long uploads_ = 0;
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
