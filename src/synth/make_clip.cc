#include "synth/make_clip.h"

#include <chrono>

#include "core/whole_file.h"
#include "media/clip_writer.h"
#include "synth/render.h"
#include "synth/truth.h"

namespace hookline::synth {
namespace {

double Seconds(std::chrono::steady_clock::time_point from) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

std::string BaseName(const std::string& file) {
  const std::size_t slash = file.find_last_of('/');
  return slash == std::string::npos ? file : file.substr(slash + 1);
}

}  // namespace

Status MakeOptions::Check() const {
  if (repeats < 1 || repeats > 1000)
    return {StatusCode::kBadUse, "repeats is " + std::to_string(repeats) + ", it must lie in 1 .. 1000."};
  return Status::Ok();
}

std::string TruthFileOf(const std::string& clip_file) {
  const std::size_t dot = clip_file.find_last_of('.'), slash = clip_file.find_last_of('/');
  const bool ending = dot != std::string::npos && (slash == std::string::npos || dot > slash);
  return (ending ? clip_file.substr(0, dot) : clip_file) + ".truth.json";
}

Result<MakeReport> MakeClip(const Scenario& scenario, const std::string& clip_file, const MakeOptions& options,
                            const ProgressFn& progress, const StopToken* stop) {
  Status status = options.Check();
  if (status.ok()) status = scenario.Check();
  if (!status.ok()) return status;
  const VideoSpec& v = scenario.video;
  media::ClipWriterOptions writer_options;
  writer_options.width = v.width;
  writer_options.height = v.height;
  writer_options.codec = v.codec;
  writer_options.bit_rate = static_cast<std::int64_t>(v.bit_rate_kbps) * 1000;
  writer_options.quality = v.quality;
  writer_options.gop = v.gop;
  writer_options.rotation_deg = v.rotation_deg;
  writer_options.nominal_rate = v.fps;
  auto writer = media::ClipWriter::Open(clip_file, writer_options);
  if (!writer.ok()) return writer.status();

  MakeReport report;
  auto clock = std::chrono::steady_clock::now();
  if (progress) progress("casting the hall", -1);
  const Scene scene(scenario);
  Renderer renderer(scene);
  report.still_s = Seconds(clock);

  clock = std::chrono::steady_clock::now();
  const std::vector<double> times = FrameTimes(scenario);
  const double period = times.back() + 1 / v.fps;
  cv::Mat picture;
  for (int pass = 0; pass < options.repeats; ++pass) {
    for (double t : times) {
      if (stop != nullptr && stop->stop_requested())
        return Status(StatusCode::kStopped, "Stopped; no clip was written.");
      renderer.Render(t, static_cast<std::uint32_t>(report.frames), picture);
      status = (*writer)->Add(picture, pass * period + t);
      if (!status.ok()) return status;
      ++report.frames;
      if (progress)
        progress("making pictures",
                 static_cast<double>(report.frames) / (static_cast<double>(times.size()) * options.repeats));
    }
  }
  report.frames_s = Seconds(clock);

  clock = std::chrono::steady_clock::now();
  std::string truth;
  if (options.truth) {
    if (progress) progress("writing the truth", -1);
    truth = TruthJson(scene, times, BaseName(clip_file));
  }
  status = (*writer)->Finish();
  if (!status.ok()) return status;
  if (options.truth) {
    report.truth_file = TruthFileOf(clip_file);
    status = WriteWholeFile(report.truth_file, truth);
    if (!status.ok()) return status;
  }
  report.truth_s = Seconds(clock);
  return report;
}

}  // namespace hookline::synth
