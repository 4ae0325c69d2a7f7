#include "viewer/window.h"

#define GL_GLEXT_PROTOTYPES
#define GLFW_INCLUDE_GLEXT
#include <GLFW/glfw3.h>
#include <backends/imgui_impl_glfw.h>
#include <backends/imgui_impl_opengl3.h>
#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <mutex>

#include "viewer/damage.h"
#include "viewer/software_gl.h"

namespace hookline::viewer {
namespace {

// px of a line of text on a screen of ordinary density.
constexpr float kFontPx = 16;

// Latin with its accents, Greek (angles), dashes and quotes, arrows, and the few signs used in buttons.
constexpr ImWchar kGlyphs[] = {0x0020, 0x017f, 0x0370, 0x03ff, 0x2010, 0x2044, 0x2190, 0x21ff, 0x2200, 0x22ff,
                               0x2300, 0x23ff, 0x25a0, 0x25ff, 0x2600, 0x2610, 0x2700, 0x27bf, 0};

class GlfwWindow final : public Window {
 public:
  explicit GlfwWindow(const WindowOptions& options)
      : theme_(options.theme), font_scale_(options.font_scale), next_theme_(theme_), next_font_scale_(font_scale_) {}

  ~GlfwWindow() override {
    if (context_) {
      ImGui_ImplOpenGL3_Shutdown();
      ImGui_ImplGlfw_Shutdown();
      ImGui::DestroyContext(context_);
    }
    if (window_) glfwDestroyWindow(window_);
    if (started_) glfwTerminate();
  }

  Status Start(const WindowOptions& options) {
    if (!glfwInit())
      return {StatusCode::kInternal, "No window can be opened: there is no display. Start it in a desktop session."};
    started_ = true;
    glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
    glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 3);
    glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
    glfwWindowHintString(GLFW_X11_CLASS_NAME, "hookline-viewer");
    window_ = glfwCreateWindow(options.width, options.height, options.title.c_str(), nullptr, nullptr);
    if (!window_)
      return {StatusCode::kInternal,
              "No window can be opened: this display has no OpenGL 3.3. Install or update its graphics driver."};
    glfwMakeContextCurrent(window_);
    glfwSwapInterval(1);
    show_part_ = FindShowPart();
    glfwSetWindowUserPointer(window_, this);
    // Before ImGui's backend, which passes on to what it finds.
    glfwSetDropCallback(window_, [](GLFWwindow* w, int count, const char** paths) {
      Own(w).dropped_.insert(Own(w).dropped_.end(), paths, paths + count);
      Own(w).AskForFrames();
    });
    glfwSetWindowRefreshCallback(window_, [](GLFWwindow* w) {
      Own(w).damage_.All();
      Own(w).AskForFrames();
    });
    glfwSetFramebufferSizeCallback(window_, [](GLFWwindow* w, int, int) { Own(w).AskForFrames(); });
    glfwSetWindowFocusCallback(window_, [](GLFWwindow* w, int) { Own(w).AskForFrames(); });
    glfwSetCursorEnterCallback(window_, [](GLFWwindow* w, int) { Own(w).AskForFrames(); });
    glfwSetCursorPosCallback(window_, [](GLFWwindow* w, double, double) { Own(w).AskForFrames(); });
    glfwSetMouseButtonCallback(window_, [](GLFWwindow* w, int, int, int) { Own(w).AskForFrames(); });
    glfwSetScrollCallback(window_, [](GLFWwindow* w, double, double) { Own(w).AskForFrames(); });
    glfwSetKeyCallback(window_, [](GLFWwindow* w, int key, int, int action, int mods) {
      Own(w).AskForFrames();
      if (action != GLFW_RELEASE)
        Own(w).keys_.push_back(
            {key, (mods & GLFW_MOD_CONTROL) != 0, (mods & GLFW_MOD_SHIFT) != 0, action == GLFW_REPEAT});
    });
    glfwSetCharCallback(window_, [](GLFWwindow* w, unsigned) { Own(w).AskForFrames(); });
    IMGUI_CHECKVERSION();
    context_ = ImGui::CreateContext();
    ImGuiIO& io = ImGui::GetIO();
    io.IniFilename = nullptr;  // no file is written into the folder one happens to be in
    if (!ImGui_ImplGlfw_InitForOpenGL(window_, true) || !ImGui_ImplOpenGL3_Init("#version 330 core"))
      return {StatusCode::kInternal, "The window's drawing could not be started; update the graphics driver."};
    return Status::Ok();
  }

  bool Wait(double seconds) override {
    if (frames_due_ > 0 || seconds == 0) {
      glfwPollEvents();
    } else if (seconds < 0) {
      glfwWaitEvents();
    } else {
      glfwWaitEventsTimeout(seconds);
    }
    std::vector<std::function<void()>> work;
    {
      const std::lock_guard lock(mutex_);
      work.swap(posted_);
    }
    for (const auto& f : work) f();
    if (!work.empty()) frames_due_ = std::max(frames_due_, kFramesPerEvent);
    return !glfwWindowShouldClose(window_);
  }

  bool wants_frame() const override { return frames_due_ > 0; }
  void AskForFrames() override { frames_due_ = kFramesPerEvent; }

  void BeginFrame() override {
    if (frames_due_ > 0) --frames_due_;
    float x_scale = 1, y_scale = 1;
    glfwGetWindowContentScale(window_, &x_scale, &y_scale);
    int width = 0, height = 0, pixel_width = 0, pixel_height = 0;
    glfwGetWindowSize(window_, &width, &height);
    glfwGetFramebufferSize(window_, &pixel_width, &pixel_height);
    // Where the screen's units are not pixels ImGui scales by itself.
    const float own = width > 0 ? static_cast<float>(pixel_width) / static_cast<float>(width) : 1;
    const float px = std::round(kFontPx * next_font_scale_ * std::max(1.0f, x_scale / own));
    if (px != font_px_ || next_theme_ != theme_ || style_.ground == 0) {
      if (px != font_px_) LoadFont(px);
      theme_ = next_theme_;
      font_scale_ = next_font_scale_;
      style_ = MakeStyle(theme_, px);
      ApplyStyle(style_);
      damage_.All();
    }
    ImGui_ImplOpenGL3_NewFrame();
    ImGui_ImplGlfw_NewFrame();
    ImGui::NewFrame();
  }

  void EndFrame() override {
    ImGui::Render();
    int width = 0, height = 0;
    glfwGetFramebufferSize(window_, &width, &height);
    if (width <= 0 || height <= 0) return;
    if (width != drawn_width_ || height != drawn_height_) damage_.All();
    drawn_width_ = width;
    drawn_height_ = height;
    const std::vector<ImVec4> damaged = damage_.Take(*ImGui::GetDrawData());
    if (damaged.empty()) return;
    if (!show_part_.show) {
      DrawWithin({0, 0, ImGui::GetIO().DisplaySize.x, ImGui::GetIO().DisplaySize.y}, width, height);
      glfwSwapBuffers(window_);
      return;
    }
    for (const ImVec4& place : damaged) {
      const PixelRect r = DrawWithin(place, width, height);
      show_part_.show(show_part_.display(), show_part_.window(), r.left, r.bottom, r.width, r.height);
    }
  }

  void Post(std::function<void()> work) override {
    {
      const std::lock_guard lock(mutex_);
      posted_.push_back(std::move(work));
    }
    glfwPostEmptyEvent();
  }
  void Wake() override { glfwPostEmptyEvent(); }

  void SetLook(Theme theme, float font_scale) override {
    AskForFrames();
    next_theme_ = theme;
    next_font_scale_ = std::clamp(font_scale, 0.75f, 2.5f);
  }
  const Style& style() const override { return style_; }
  void SetTitle(const std::string& title) override { glfwSetWindowTitle(window_, title.c_str()); }
  void Close() override { glfwSetWindowShouldClose(window_, GLFW_TRUE); }
  void GetSize(int* width, int* height) const override { glfwGetWindowSize(window_, width, height); }
  std::vector<KeyPress> TakeKeys() override { return std::exchange(keys_, {}); }
  std::vector<std::string> TakeDropped() override { return std::exchange(dropped_, {}); }

 private:
  // ImGui needs another frame or two after an event until hovering and popups have settled.
  static constexpr int kFramesPerEvent = 3;
  static GlfwWindow& Own(GLFWwindow* w) { return *static_cast<GlfwWindow*>(glfwGetWindowUserPointer(w)); }

  // Without a GPU: what changed is drawn into the back buffer and copied to the screen from there. Unlike a swap that
  // leaves the back buffer as it is (GLX_MESA_copy_sub_buffer), so the rest need not be drawn.
  struct ShowPart {
    void* (*display)() = nullptr;
    unsigned long (*window)() = nullptr;
    void (*show)(void*, unsigned long, int, int, int, int) = nullptr;  // px from the lower left corner
  };
  static ShowPart FindShowPart() {
    ShowPart part;
    if (!DrawsOnCpu() || !glfwExtensionSupported("GLX_MESA_copy_sub_buffer")) return part;
    part.display = reinterpret_cast<void* (*)()>(glfwGetProcAddress("glXGetCurrentDisplay"));
    part.window = reinterpret_cast<unsigned long (*)()>(glfwGetProcAddress("glXGetCurrentDrawable"));
    if (part.display && part.window)
      part.show = reinterpret_cast<void (*)(void*, unsigned long, int, int, int, int)>(
          glfwGetProcAddress("glXCopySubBufferMESA"));
    return part;
  }

  struct PixelRect {
    int left, bottom, width, height;
  };
  // The frame again, but only where it has changed: every command cut to that place.
  PixelRect DrawWithin(const ImVec4& place, int width, int height) {
    ImDrawData& data = *ImGui::GetDrawData();
    const ImVec2 px = data.FramebufferScale;
    // Whole pixels, and cleared first, so that nothing is blended onto itself.
    const float left = std::floor(place.x * px.x), top = std::floor(place.y * px.y);
    const float right = std::ceil(place.z * px.x), bottom = std::ceil(place.w * px.y);
    glViewport(0, 0, width, height);
    glEnable(GL_SCISSOR_TEST);
    const PixelRect rect{static_cast<int>(left), height - static_cast<int>(bottom), static_cast<int>(right - left),
                         static_cast<int>(bottom - top)};
    glScissor(rect.left, rect.bottom, rect.width, rect.height);
    const ImVec4 ground = ImGui::ColorConvertU32ToFloat4(style_.ground);
    glClearColor(ground.x, ground.y, ground.z, 1);
    glClear(GL_COLOR_BUFFER_BIT);
    std::vector<ImVec4> before;
    for (int i = 0; i < data.CmdListsCount; ++i) {
      for (ImDrawCmd& c : data.CmdLists[i]->CmdBuffer) {
        before.push_back(c.ClipRect);
        c.ClipRect = {std::max(c.ClipRect.x, left / px.x), std::max(c.ClipRect.y, top / px.y),
                      std::min(c.ClipRect.z, right / px.x), std::min(c.ClipRect.w, bottom / px.y)};
      }
    }
    ImGui_ImplOpenGL3_RenderDrawData(&data);
    std::size_t k = 0;
    for (int i = 0; i < data.CmdListsCount; ++i) {
      for (ImDrawCmd& c : data.CmdLists[i]->CmdBuffer) c.ClipRect = before[k++];
    }
    return rect;
  }

  void LoadFont(float px) {
    ImGuiIO& io = ImGui::GetIO();
    io.Fonts->Clear();
    ImFontConfig config;
    config.OversampleH = 2;
    if (!io.Fonts->AddFontFromFileTTF(HOOKLINE_FONT, px, &config, kGlyphs)) {
      config.SizePixels = px;
      io.Fonts->AddFontDefault(&config);
    }
    io.Fonts->Build();
    if (font_px_ > 0) {
      ImGui_ImplOpenGL3_DestroyFontsTexture();
      ImGui_ImplOpenGL3_CreateFontsTexture();
    }
    font_px_ = px;
  }

  GLFWwindow* window_ = nullptr;
  ImGuiContext* context_ = nullptr;
  bool started_ = false;
  Theme theme_;
  float font_scale_;
  Theme next_theme_;
  float next_font_scale_;
  float font_px_ = 0;
  Style style_;
  int frames_due_ = kFramesPerEvent;
  Damage damage_;
  ShowPart show_part_;
  int drawn_width_ = 0, drawn_height_ = 0;
  std::vector<std::string> dropped_;
  std::vector<KeyPress> keys_;
  std::mutex mutex_;
  std::vector<std::function<void()>> posted_;
};

}  // namespace

Status WindowOptions::Check() const {
  if (width < 320 || height < 240)
    return {StatusCode::kBadUse, "A window of " + std::to_string(width) + " x " + std::to_string(height) +
                                     " is too small to show anything; it must be 320 x 240 or more."};
  if (!(font_scale >= 0.75f && font_scale <= 2.5f)) return {StatusCode::kBadUse, "font_scale must be 0.75 to 2.5."};
  return Status::Ok();
}

Result<std::unique_ptr<Window>> Window::Open(const WindowOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  auto window = std::make_unique<GlfwWindow>(options);
  if (Status s = window->Start(options); !s.ok()) return s;
  return std::unique_ptr<Window>(std::move(window));
}

}  // namespace hookline::viewer
