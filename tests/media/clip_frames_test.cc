#include "media/clip_frames.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "media_fixture.h"

namespace hookline::media {
namespace {

ClipWriterOptions Small(const std::string& codec = "h264") {
  ClipWriterOptions options;
  options.width = 192;
  options.height = 128;
  options.codec = codec;
  options.nominal_rate = 30;
  options.gop = 12;
  return options;
}

std::unique_ptr<ClipFrames> OpenListed(const std::string& file) {
  auto frames = ClipFrames::Open(file);
  INFO(frames.status().sentence());
  REQUIRE(frames.ok());
  const StopToken stop;
  const Status listed = (*frames)->ListTimes(stop);
  INFO(listed.sentence());
  REQUIRE(listed.ok());
  return std::move(*frames);
}

// Uneven steps, as phones write them.
std::vector<double> UnevenTimes(int count) {
  std::vector<double> times;
  for (int i = 0; i < count; ++i) times.push_back(i / 30.0 + (i % 3 == 1 ? 0.006 : 0.0) + (i > 40 ? 0.25 : 0.0));
  return times;
}

void CheckAnyOrder(const std::string& file, int count) {
  CAPTURE(file);
  const ReadClip all = ReadAll(file);
  const auto frames = OpenListed(file);
  REQUIRE(frames->times_s().size() == all.pictures.size());
  REQUIRE(static_cast<int>(all.pictures.size()) == count);
  for (std::size_t i = 0; i < all.pictures.size(); ++i)
    CHECK(frames->times_s()[i] == doctest::Approx(all.pictures[i].time_s).epsilon(1e-9));
  for (const std::size_t wanted : {std::size_t{50}, std::size_t{3}, std::size_t{77}, std::size_t{24}, std::size_t{23},
                                   std::size_t{0}, all.pictures.size() - 1}) {
    CAPTURE(wanted);
    CHECK(frames->KeyBefore(wanted) <= wanted);
    std::optional<Picture> picture;
    // libavcodec 59 does not give the very last key frame of an open group when it begins there, nor does ffmpeg -ss.
    for (int earlier = 0; earlier < 2 && !picture; ++earlier) {
      REQUIRE(frames->GoToKeyOf(wanted, earlier));
      do {
        picture = frames->Next();
      } while (picture && picture->index < static_cast<std::int64_t>(wanted));
    }
    REQUIRE(picture);
    CHECK(picture->index == static_cast<std::int64_t>(wanted));
    CHECK(picture->time_s == doctest::Approx(all.pictures[wanted].time_s).epsilon(1e-9));
    CHECK(SamePixels(picture->luma, all.pictures[wanted].luma));
    CHECK(SamePixels(picture->cb, all.pictures[wanted].cb));
  }
}

TEST_CASE("any picture is had by its place, pixel for pixel as read in order") {
  const TempFolder folder;
  const std::vector<double> times = UnevenTimes(90);
  for (const char* name : {"a.mp4", "a.mov", "a.mkv"}) {
    WriteClip(folder / name, Small(), times);
    CheckAnyOrder(folder / name, 90);
  }
  WriteClip(folder / "v.webm", Small("vp9"), times);
  CheckAnyOrder(folder / "v.webm", 90);
  // Pictures stored in another order than shown, with key frames that later ones reach over (open groups).
  Run("ffmpeg -v error -y -i " + (folder / "a.mp4") + " -vf fps=30 -c:v libx264 -bf 3 -g 12 -x264-params open-gop=1 " +
      (folder / "open.mp4"));
  CheckAnyOrder(folder / "open.mp4", static_cast<int>(ReadAll(folder / "open.mp4").pictures.size()));
  // No time stamps at all: all of it is decoded to list them.
  Run("ffmpeg -v error -y -i " + (folder / "open.mp4") + " -c copy -f h264 " + (folder / "bare.h264"));
  CheckAnyOrder(folder / "bare.h264", static_cast<int>(ReadAll(folder / "bare.h264").pictures.size()));
}

TEST_CASE("an edit list that cuts away the beginning gives the same pictures in any order") {
  const TempFolder folder;
  WriteClip(folder / "a.mp4", Small(), EvenTimes(100, 30));
  Run("ffmpeg -v error -y -ss 0.5 -i " + (folder / "a.mp4") + " -c copy " + (folder / "cut.mp4"));
  CheckAnyOrder(folder / "cut.mp4", static_cast<int>(ReadAll(folder / "cut.mp4").pictures.size()));
}

TEST_CASE("what is to be done with the stored planes is told") {
  const TempFolder folder;
  for (const int turn : {0, 90, 180, 270}) {
    CAPTURE(turn);
    ClipWriterOptions options = Small();
    options.rotation_deg = turn;
    WriteClip(folder / "turned.mp4", options, EvenTimes(5, 30));
    const auto frames = OpenListed(folder / "turned.mp4");
    CHECK(frames->info().width == 192);
    CHECK(frames->info().height == 128);
    CHECK(frames->form().transpose == (turn == 90 || turn == 270));
    CHECK(frames->form().stored_width == (turn % 180 == 0 ? 192 : 128));
    CHECK(frames->form().matrix == ColourMatrix::kBt709);  // as the writer marks it
    CHECK_FALSE(frames->form().full_range);
    // Doing it gives the picture as ClipReader shows it.
    cv::Mat luma = frames->first().luma;
    if (frames->form().transpose) luma = luma.t();
    if (frames->form().flip_x) cv::flip(luma, luma, 1);
    if (frames->form().flip_y) cv::flip(luma, luma, 0);
    CHECK(SamePixels(luma, ReadAll(folder / "turned.mp4").pictures.front().luma));
  }
  WriteClip(folder / "full.mov", Small("mjpeg"), EvenTimes(5, 30));
  CHECK(OpenListed(folder / "full.mov")->form().full_range);
  // Colour as ffmpeg marks it.
  Run("ffmpeg -v error -y -f lavfi -i testsrc=size=320x240:rate=30 -t 0.3 -pix_fmt yuv420p -colorspace smpte170m " +
      (folder / "sd.mp4"));
  CHECK(OpenListed(folder / "sd.mp4")->form().matrix == ColourMatrix::kBt601);
  Run("ffmpeg -v error -y -f lavfi -i testsrc=size=320x240:rate=30 -t 0.3 -pix_fmt yuv420p -colorspace bt2020nc " +
      (folder / "uhd.mp4"));
  CHECK(OpenListed(folder / "uhd.mp4")->form().matrix == ColourMatrix::kBt2020);
}

TEST_CASE("a file that is no clip is refused with its sentence") {
  const auto frames = ClipFrames::Open("/nowhere/clip.mp4");
  REQUIRE_FALSE(frames.ok());
  CHECK(frames.status().code() == StatusCode::kBadFile);
}

}  // namespace
}  // namespace hookline::media
