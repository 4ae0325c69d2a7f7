// Files as they come: trimmed, cut off, damaged, not films at all.
#include "media/clip_reader.h"

#include <unistd.h>

#include <algorithm>
#include <cmath>

#include "media_fixture.h"

namespace hookline::media {
namespace {

ClipWriterOptions Small(int gop = 0) {
  ClipWriterOptions options;
  options.width = 192;
  options.height = 128;
  options.nominal_rate = 30;
  options.gop = gop;
  return options;
}

Status OpenStatus(const std::string& file) {
  auto reader = ClipReader::Open(file);
  return reader.ok() ? Status::Ok() : reader.status();
}

// Name of the file, what is wrong, what to do: one sentence, one line.
void CheckRefused(const std::string& file, const std::string& what) {
  CAPTURE(file);
  for (const Status& s : {OpenStatus(file), [&] {
                            auto sampled = SamplePictures(file, 5);
                            return sampled.ok() ? Status::Ok() : sampled.status();
                          }()}) {
    CHECK(s.code() == StatusCode::kBadFile);
    const std::string& text = s.sentence();
    CAPTURE(text);
    CHECK(text.find("\"" + file + "\"") == 0);
    CHECK(text.find(what) != std::string::npos);
    CHECK(text.find(';') != std::string::npos);  // what to do follows
    CHECK(text.back() == '.');
    CHECK(text.find('\n') == std::string::npos);
  }
}

TEST_CASE("what is no clip is refused with a sentence") {
  const TempFolder folder;
  CheckRefused(folder / "missing.mp4", "does not exist");
  CheckRefused(folder.path().string(), "is a folder");
  WriteBytes(folder / "empty.mp4", "");
  CheckRefused(folder / "empty.mp4", "is empty");
  std::string noise;
  unsigned state = 12345;
  for (int i = 0; i < 200000; ++i) noise += static_cast<char>((state = state * 1664525u + 1013904223u) >> 24);
  WriteBytes(folder / "noise.mp4", noise);
  CheckRefused(folder / "noise.mp4", "");
  std::string text;
  for (int i = 0; i < 2000; ++i) text += "The quick brown fox, line " + std::to_string(i) + "\n";
  for (const char* name : {"text.mp4", "text.txt", "text.nfo"}) {
    WriteBytes(folder / name, text);
    CheckRefused(folder / name, "is not a video");
  }
  WriteBytes(folder / "list.m3u8",
             "#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nhttp://192.0.2.1/a.ts\n#EXT-X-ENDLIST\n");
  CheckRefused(folder / "list.m3u8", "");
  Run("ffmpeg -v error -f lavfi -i sine=d=1 " + (folder / "sound.wav"));
  CheckRefused(folder / "sound.wav", "holds no video");
  Run("ffmpeg -v error -f lavfi -i testsrc=s=64x64 -frames:v 1 " + (folder / "still.png"));
  CheckRefused(folder / "still.png", "is not a video");
  Run("ffmpeg -v error -f lavfi -i testsrc=s=64x64 -frames:v 1 " + (folder / "still.jpg"));
  CheckRefused(folder / "still.jpg", "is not a video");
  Run("ffmpeg -v error -i " + (folder / "sound.wav") + " -i " + (folder / "still.png") +
      " -map 0 -map 1 -c:v copy -disposition:v attached_pic " + (folder / "cover.mp3"));
  CheckRefused(folder / "cover.mp3", "holds no video");
  // The index of an MP4 file that was never finished is missing.
  WriteClip(folder / "whole.mp4", Small(), EvenTimes(30, 30));
  Run("ffmpeg -v error -i " + (folder / "whole.mp4") + " -c copy -movflags -faststart " + (folder / "index_last.mp4"));
  const std::string whole = ReadBytes(folder / "index_last.mp4");
  WriteBytes(folder / "unfinished.mp4", whole.substr(0, whole.size() / 2));
  CheckRefused(folder / "unfinished.mp4", "cut off before its index was written");
}

TEST_CASE("options out of range are named") {
  ClipReaderOptions options;
  options.threads = -1;
  auto reader = ClipReader::Open("any.mp4", options);
  REQUIRE_FALSE(reader.ok());
  CHECK(reader.status().code() == StatusCode::kBadUse);
  CHECK(reader.status().sentence().find("threads is -1") != std::string::npos);
  CHECK(SamplePictures("any.mp4", 0).status().code() == StatusCode::kBadUse);
}

TEST_CASE("a trimmed clip starts where its edit list says, as ffmpeg shows it") {
  const TempFolder folder;
  WriteClip(folder / "whole.mp4", Small(20), EvenTimes(90, 30));
  // Copied from 1.5 s on: the key frame before that is stored too, and an edit list hides what comes before 1.5 s.
  Run("ffmpeg -v error -ss 1.5 -i " + (folder / "whole.mp4") + " -c copy " + (folder / "trimmed.mp4"));
  const ReadClip clip = ReadAll(folder / "trimmed.mp4");
  // Outside source: the pictures that ffmpeg itself decodes and their stamps (framecrc lists one a line).
  const std::string listed =
      Run("ffmpeg -v error -i " + (folder / "trimmed.mp4") + " -vsync passthrough -copyts -f framecrc -");
  const auto shown = static_cast<size_t>(std::count(listed.begin(), listed.end(), '\n') -
                                         std::count(listed.begin(), listed.end(), '#'));
  CHECK(clip.pictures.size() == shown);
  REQUIRE(clip.pictures.size() == 45);
  CHECK(clip.warnings.empty());
  CHECK(clip.pictures[0].time_s == 0);
  for (size_t i = 0; i < clip.pictures.size(); ++i) {
    CHECK(NumberIn(clip.pictures[i]) == (static_cast<int>(i) + 45) % 64);
    CHECK(std::abs(clip.pictures[i].time_s - static_cast<double>(i) / 30) < 1e-5);
  }
  const auto sampled = SamplePictures(folder / "trimmed.mp4", 10);
  REQUIRE(sampled.ok());
  CHECK(sampled->size() >= 8);
  for (const Picture& p : *sampled) CHECK(NumberIn(p) == (45 + static_cast<int>(std::lround(p.time_s * 30))) % 64);
}

TEST_CASE("a track that starts late is timed from its first picture") {
  const TempFolder folder;
  WriteClip(folder / "whole.mp4", Small(), EvenTimes(30, 30));
  Run("ffmpeg -v error -itsoffset 2 -i " + (folder / "whole.mp4") +
      " -f lavfi -i sine=d=3 -map 0:v -map 1:a -c:v copy " + (folder / "late.mp4"));
  const auto probed = ProbedTimes(Probe(folder / "late.mp4"));
  const ReadClip clip = ReadAll(folder / "late.mp4");
  REQUIRE(clip.pictures.size() == 30);
  REQUIRE(probed.size() == 30);
  for (size_t i = 0; i < 30; ++i) {
    CHECK(std::abs(clip.pictures[i].time_s - probed[i]) < 1.5e-6);
    CHECK(std::abs(clip.pictures[i].time_s - static_cast<double>(i) / 30) < 1e-4);
  }
  CHECK(clip.warnings.empty());
}

TEST_CASE("sound longer than the picture does not make a clip cut off") {
  const TempFolder folder;
  WriteClip(folder / "whole.mp4", Small(), EvenTimes(30, 30));
  for (const char* ending : {"mp4", "mov", "mkv", "avi"}) {
    CAPTURE(std::string(ending));
    const std::string file = folder / (std::string("sound.") + ending);
    Run("ffmpeg -v error -i " + (folder / "whole.mp4") + " -f lavfi -i sine=d=1.3 -map 0:v -map 1:a -c:v copy " + file);
    const ReadClip clip = ReadAll(file);
    CHECK(clip.pictures.size() == 30);
    CHECK(clip.warnings.empty());
  }
}

TEST_CASE("a cut-off file gives what it holds and says so") {
  const TempFolder folder;
  // Noise in the picture so that the bytes are spread over the whole clip.
  Run("ffmpeg -v error -f lavfi -i testsrc2=r=30:s=192x128:d=4 -vf noise=alls=40:allf=t:all_seed=1 -c:v libx264 "
      "-preset veryfast -g 15 "
      "-pix_fmt yuv420p -movflags +faststart " +
      (folder / "whole.mp4"));
  for (const char* ending : {"mp4", "mkv", "avi"}) {
    CAPTURE(std::string(ending));
    const std::string file = folder / (std::string("file.") + ending);
    Run("ffmpeg -v error -i " + (folder / "whole.mp4") + " -c copy -movflags +faststart " + file);
    const ReadClip whole = ReadAll(file);
    REQUIRE(whole.pictures.size() == 120);
    CHECK(whole.warnings.empty());

    const std::string bytes = ReadBytes(file);
    WriteBytes(folder / (std::string("cut.") + ending), bytes.substr(0, bytes.size() * 6 / 10));
    const ReadClip cut = ReadAll(folder / (std::string("cut.") + ending));
    CHECK(cut.pictures.size() > 55);
    CHECK(cut.pictures.size() < 85);
    REQUIRE_FALSE(cut.warnings.empty());
    CHECK(cut.warnings[0].find("is cut off") != std::string::npos);
    CHECK(cut.info.frames == static_cast<std::int64_t>(cut.pictures.size()));
    CHECK(cut.info.duration_s == doctest::Approx(static_cast<double>(cut.pictures.size()) / 30).epsilon(0.03));
    for (size_t i = 0; i + 5 < cut.pictures.size(); ++i) {
      CHECK(cut.pictures[i].time_s == doctest::Approx(whole.pictures[i].time_s));
      CHECK(SamePixels(cut.pictures[i].luma, whole.pictures[i].luma));
    }
    const auto sampled = SamplePictures(folder / (std::string("cut.") + ending), 8);
    REQUIRE(sampled.ok());
    CHECK(sampled->size() >= 4);
  }
}

TEST_CASE("a damaged file gives what it holds, says so, and libav stays silent") {
  const TempFolder folder;
  Run("ffmpeg -v error -f lavfi -i testsrc2=r=30:s=192x128:d=4 -vf noise=alls=40:allf=t:all_seed=1 -c:v libx264 "
      "-preset veryfast -g 15 "
      "-pix_fmt yuv420p -movflags +faststart " +
      (folder / "whole.mp4"));
  std::string bytes = ReadBytes(folder / "whole.mp4");
  for (size_t at = bytes.size() / 2; at < bytes.size() / 2 + 20000; ++at)
    bytes[at] = static_cast<char>(at * 2654435761u >> 13);
  WriteBytes(folder / "damaged.mp4", bytes);

  std::fflush(stderr);
  const int terminal = dup(2);
  REQUIRE(freopen((folder / "stderr.txt").c_str(), "w", stderr) != nullptr);
  auto reader = ClipReader::Open(folder / "damaged.mp4");
  std::vector<double> times;
  if (reader.ok()) {
    while (auto picture = (*reader)->Next()) times.push_back(picture->time_s);
  }
  std::fflush(stderr);
  dup2(terminal, 2);
  close(terminal);

  REQUIRE(reader.ok());
  CHECK(ReadBytes(folder / "stderr.txt").empty());
  CHECK(times.size() > 90);
  for (size_t i = 1; i < times.size(); ++i) CHECK(times[i] > times[i - 1]);
  REQUIRE_FALSE((*reader)->warnings().empty());
  CHECK((*reader)->warnings()[0].find("is damaged") != std::string::npos);
}

TEST_CASE("a change of size on the way is brought to the first size, with a warning") {
  const TempFolder folder;
  Run("ffmpeg -v error -f lavfi -i testsrc2=r=30:s=192x128:d=1 -c:v libx264 -pix_fmt yuv420p " + (folder / "a.ts"));
  Run("ffmpeg -v error -f lavfi -i testsrc2=r=30:s=96x64:d=1 -c:v libx264 -pix_fmt yuv420p -output_ts_offset 1 " +
      (folder / "b.ts"));
  WriteBytes(folder / "both.ts", ReadBytes(folder / "a.ts") + ReadBytes(folder / "b.ts"));
  const ReadClip clip = ReadAll(folder / "both.ts");
  REQUIRE(clip.pictures.size() > 55);
  for (const Picture& p : clip.pictures) {
    CHECK(p.luma.size() == cv::Size(192, 128));
    CHECK(p.cr.size() == cv::Size(96, 64));
  }
  REQUIRE_FALSE(clip.warnings.empty());
  CHECK(clip.warnings.back().find("changes its picture size") != std::string::npos);
}

TEST_CASE("a reader may go away before the end") {
  const TempFolder folder;
  WriteClip(folder / "clip.mp4", Small(), EvenTimes(60, 30));
  for (int taken : {0, 1, 7}) {
    auto reader = ClipReader::Open(folder / "clip.mp4");
    REQUIRE(reader.ok());
    for (int i = 0; i < taken; ++i) CHECK((*reader)->Next().has_value());
    CHECK((*reader)->info().frames == 60);  // as the container says
  }
}

// Mean and longest gap of the sampled times, and every picture the one that a plain reading gives at that time.
void CheckSampled(const std::string& file, int count, double longest_gap_s, double within_s = 0) {
  CAPTURE(file);
  CAPTURE(count);
  const ReadClip all = ReadAll(file);
  const auto sampled = SamplePictures(file, count, within_s);
  REQUIRE(sampled.ok());
  CHECK(static_cast<int>(sampled->size()) >= std::min<int>(count * 3 / 4, static_cast<int>(all.pictures.size())));
  CHECK(static_cast<int>(sampled->size()) <= count);
  const double end = within_s > 0 ? within_s : all.pictures.back().time_s;
  double before = 0;
  for (size_t i = 0; i < sampled->size(); ++i) {
    const Picture& p = (*sampled)[i];
    CHECK(p.time_s <= end + 1e-6);
    if (i > 0) CHECK(p.time_s > before);
    CHECK(p.time_s - before <= longest_gap_s);
    before = p.time_s;
    const auto at = std::min_element(all.pictures.begin(), all.pictures.end(), [&](const Picture& a, const Picture& b) {
      return std::abs(a.time_s - p.time_s) < std::abs(b.time_s - p.time_s);
    });
    CHECK(std::abs(at->time_s - p.time_s) < 1e-9);
    CHECK(SamePixels(at->luma, p.luma));
    CHECK(SamePixels(at->cb, p.cb));
    CHECK(p.index == -1);
  }
  CHECK(end - before <= longest_gap_s);
}

TEST_CASE("sampling: short and long distances between key frames, every container, all pictures true") {
  const TempFolder folder;
  for (const char* ending : {"mp4", "mov", "mkv", "avi"}) {
    const auto file = [&](const char* name) { return folder / (std::string(name) + "." + ending); };
    WriteClip(file("short"), Small(10), EvenTimes(360, 30));
    CheckSampled(file("short"), 20, 1.1);
    CheckSampled(file("short"), 12, 1.8);
    CheckSampled(file("short"), 10, 1.0, 5.0);
    WriteClip(file("long"), Small(125), EvenTimes(360, 30));
    CheckSampled(file("long"), 20, 4.1);
    CheckSampled(file("long"), 12, 1.8, 5.0);
    WriteClip(file("one"), Small(1000), EvenTimes(360, 30));
    CheckSampled(file("one"), 20, 4.1);
  }
}

TEST_CASE("sampling: other codecs, few pictures, one picture, rotated") {
  const TempFolder folder;
  ClipWriterOptions options = Small();
  for (const char* codec : {"hevc", "vp9", "mjpeg", "ffv1"}) {
    options.codec = codec;
    const std::string file = folder / (std::string(codec) + ".mkv");
    WriteClip(file, options, EvenTimes(100, 30));
    CheckSampled(file, 12, 2.0);
  }
  options = Small();
  WriteClip(folder / "five.mp4", options, EvenTimes(5, 30));
  CheckSampled(folder / "five.mp4", 20, 0.1);
  WriteClip(folder / "one.mp4", options, EvenTimes(1, 30));
  CheckSampled(folder / "one.mp4", 20, 0.1);
  CheckSampled(folder / "one.mp4", 1, 0.1);
  options.rotation_deg = 90;
  WriteClip(folder / "turned.mp4", options, EvenTimes(60, 30));
  CheckSampled(folder / "turned.mp4", 6, 1.0);
  // No container, so neither key frames nor stamps to go by.
  Run("ffmpeg -v error -i " + (folder / "turned.mp4") + " -c copy -f h264 " + (folder / "bare.h264"));
  const auto bare = SamplePictures(folder / "bare.h264", 6);
  REQUIRE(bare.ok());
  CHECK(bare->size() == 6);
}

// Outside source: ffmpeg's filters tinterlace and overlay make an interlaced clip from 50 pictures a second in which a
// bright box moves 4 px each, so that the two half pictures of a frame show it 4 px apart. Left as they are, a ball's
// rim would be a comb as wide as the ball moves.
TEST_CASE("of an interlaced picture only the half that was taken first is shown, and that is said") {
  const TempFolder folder;
  for (const bool top_first : {true, false}) {
    CAPTURE(top_first);
    const std::string file = folder / (top_first ? "top.mpg" : "bottom.mpg");
    Run("ffmpeg -v error -f lavfi -i color=c=gray:s=320x240:r=50:d=1 -f lavfi -i color=c=white:s=40x80:r=50:d=1 "
        "-filter_complex \"[0][1]overlay=x='20+4*(n-1)':y=80:eval=frame,tinterlace=" +
        std::string(top_first ? "interleave_top" : "interleave_bottom") +
        "\" -c:v mpeg2video -q:v 1 -flags +ildct+ilme -top " + (top_first ? "1 " : "0 ") + file);
    auto reader = ClipReader::Open(file);
    REQUIRE(reader.ok());
    int n = 0;
    while (const auto picture = (*reader)->Next()) {
      // Both kinds of rows have the box where the first half picture has it: 8 px a frame.
      for (const int row : {120, 121}) {
        int edge = 0;
        while (edge < 319 && picture->luma.at<std::uint8_t>(row, edge) < 175) ++edge;
        CHECK(std::abs(edge - (20 + 8 * n)) <= 1);
      }
      ++n;
    }
    CHECK(n >= 24);
    REQUIRE((*reader)->warnings().size() == 1);
    CHECK((*reader)->warnings().front().find("interlaced") != std::string::npos);
  }
  Run("ffmpeg -v error -f lavfi -i testsrc=s=320x240:r=25:d=1 -c:v mpeg2video -q:v 1 " + (folder / "whole.mpg"));
  auto reader = ClipReader::Open(folder / "whole.mpg");
  REQUIRE(reader.ok());
  while ((*reader)->Next()) {
  }
  CHECK((*reader)->warnings().empty());
}

}  // namespace
}  // namespace hookline::media
