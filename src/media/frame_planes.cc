#include "media/frame_planes.h"

#include <cmath>
#include <cstdlib>
#include <opencv2/core/hal/intrin.hpp>
#include <opencv2/imgproc.hpp>

extern "C" {
#include <libavutil/display.h>
#include <libavutil/pixdesc.h>
}

namespace hookline::media {
namespace {

// Lets a cv::Mat own a reference to a decoder's frame: the last Mat that looks at the plane gives the frame back. This
// is the way in which OpenCV's own bindings share memory with other owners.
class FrameAllocator final : public cv::MatAllocator {
 public:
  cv::UMatData* allocate(int dims, const int* sizes, int type, void* data, size_t* step, cv::AccessFlag flags,
                         cv::UMatUsageFlags usage) const override {
    return cv::Mat::getStdAllocator()->allocate(dims, sizes, type, data, step, flags, usage);
  }
  bool allocate(cv::UMatData* data, cv::AccessFlag flags, cv::UMatUsageFlags usage) const override {
    return cv::Mat::getStdAllocator()->allocate(data, flags, usage);
  }
  void deallocate(cv::UMatData* data) const override {
    AVFrame* frame = static_cast<AVFrame*>(data->userdata);
    av_frame_free(&frame);
    delete data;
  }
};

cv::Mat PlaneView(const AVFrame& frame, int plane, cv::Size size, int type) {
  static const FrameAllocator allocator;
  AVFrame* reference = av_frame_clone(&frame);
  cv::Mat view(size, type, frame.data[plane], static_cast<size_t>(frame.linesize[plane]));
  if (!reference) return view.clone();
  auto* data = new cv::UMatData(&allocator);
  data->data = data->origdata = frame.data[plane];
  data->size = view.step[0] * static_cast<size_t>(view.rows);
  data->userdata = reference;
  data->refcount = 1;
  view.u = data;
  return view;
}

cv::Size HalfOf(cv::Size s) { return {(s.width + 1) / 2, (s.height + 1) / 2}; }

// INTER_AREA averages the pixels that fall into one, exact for 2:1; widening wants interpolation.
cv::Mat Resized(const cv::Mat& plane, cv::Size size) {
  if (plane.size() == size) return plane;
  const bool narrower = size.width <= plane.cols && size.height <= plane.rows;
  cv::Mat out;
  cv::resize(plane, out, size, 0, 0, narrower ? cv::INTER_AREA : cv::INTER_LINEAR);
  return out;
}

// Sixteen rows of sixteen pixels become columns: four rounds of interleaving row i with row i + 8.
void TransposeBlock(const std::uint8_t* from[16], std::uint8_t* to[16]) {
#if CV_SIMD128
  cv::v_uint8x16 a[16], b[16];
  for (int i = 0; i < 16; ++i) a[i] = cv::v_load(from[i]);
  for (int round = 0; round < 2; ++round) {
    for (int i = 0; i < 8; ++i) cv::v_zip(a[i], a[i + 8], b[2 * i], b[2 * i + 1]);
    for (int i = 0; i < 8; ++i) cv::v_zip(b[i], b[i + 8], a[2 * i], a[2 * i + 1]);
  }
  for (int i = 0; i < 16; ++i) cv::v_store(to[i], a[i]);
#else
  for (int i = 0; i < 16; ++i) {
    for (int j = 0; j < 16; ++j) to[i][j] = from[j][i];
  }
#endif
}

// Transposed, then mirrored, in one pass. Portrait clips are common, and a pixel at a time this costs as much as
// decoding.
cv::Mat Transposed(const cv::Mat& in, bool flip_x, bool flip_y) {
  cv::Mat out(in.cols, in.rows, CV_8UC1);
  const auto source = [&](int row) { return in.ptr<std::uint8_t>(flip_x ? in.rows - 1 - row : row); };
  const auto target = [&](int row) { return out.ptr<std::uint8_t>(flip_y ? out.rows - 1 - row : row); };
  const int whole_x = in.cols / 16 * 16, whole_y = in.rows / 16 * 16;
  for (int x = 0; x < whole_x; x += 16) {
    for (int y = 0; y < whole_y; y += 16) {
      const std::uint8_t* from[16];
      std::uint8_t* to[16];
      for (int i = 0; i < 16; ++i) from[i] = source(y + i) + x, to[i] = target(x + i) + y;
      TransposeBlock(from, to);
    }
  }
  for (int x = 0; x < in.cols; ++x) {
    std::uint8_t* to = target(x);
    for (int y = x < whole_x ? whole_y : 0; y < in.rows; ++y) to[y] = source(y)[x];
  }
  return out;
}

// A chroma plane of a picture with an odd side is mirrored half a chroma pixel off its luma; phones record even sizes
// only.
cv::Mat Oriented(const cv::Mat& plane, const Orientation& o) {
  if (o.transpose) return Transposed(plane, o.flip_x, o.flip_y);
  if (!o.flip_x && !o.flip_y) return plane;
  cv::Mat out;
  cv::flip(plane, out, o.flip_x && o.flip_y ? -1 : (o.flip_x ? 1 : 0));
  return out;
}

// Samples of more than 8 bit, in the low or (P010 and its kin) the high bits of a word.
cv::Mat EightBit(const cv::Mat& plane, const AVComponentDescriptor& c) {
  if (plane.depth() == CV_8U) return plane;
  cv::Mat out;
  plane.convertTo(out, CV_8U, 1.0 / (1 << (c.shift + c.depth - 8)));
  return out;
}

// The rows of one half picture (0: the even ones) where they are, those between them as the mean of their neighbours.
cv::Mat OneField(const cv::Mat& plane, int field) {
  if (plane.rows < 3) return plane;
  cv::Mat out(plane.size(), plane.type());
  for (int row = field; row < plane.rows; row += 2) plane.row(row).copyTo(out.row(row));
  for (int row = 1 - field; row < plane.rows; row += 2) {
    const int above = row > 0 ? row - 1 : row + 1, below = row + 1 < plane.rows ? row + 1 : row - 1;
    cv::addWeighted(plane.row(above), 0.5, plane.row(below), 0.5, 0, out.row(row));
  }
  return out;
}

const std::int32_t* DisplayMatrixOf(const AVStream& stream, const AVFrame& frame) {
  const AVFrameSideData* of_frame = av_frame_get_side_data(&frame, AV_FRAME_DATA_DISPLAYMATRIX);
  if (of_frame && of_frame->size >= 9 * sizeof(std::int32_t))
    return reinterpret_cast<const std::int32_t*>(of_frame->data);
  size_t size = 0;
  const std::uint8_t* data = av_stream_get_side_data(&stream, AV_PKT_DATA_DISPLAYMATRIX, &size);
  return data && size >= 9 * sizeof(std::int32_t) ? reinterpret_cast<const std::int32_t*>(data) : nullptr;
}

}  // namespace

int Orientation::clockwise_deg() const {
  // Clockwise on a screen (y down) takes right (1,0) to down (0,1), so the turn by 90 degrees is a transpose and a
  // mirror of x.
  if (transpose) return flip_x ? 90 : 270;
  return flip_x && flip_y ? 180 : 0;
}

Orientation OrientationOf(const std::int32_t m[9]) {
  // ISO/IEC 14496-12: (x', y') = (a x + c y, b x + d y) with a, b, c, d at 0, 1, 3, 4.
  Orientation o;
  const auto size = [&m](int i) { return std::abs(static_cast<double>(m[i])); };
  o.transpose = size(1) + size(3) > size(0) + size(4);
  o.flip_x = (o.transpose ? m[3] : m[0]) < 0;
  o.flip_y = (o.transpose ? m[1] : m[4]) < 0;
  return o;
}

PictureMaker::PictureMaker(const AVStream& stream, AVFormatContext& format, const AVFrame& first, bool chroma)
    : chroma_(chroma), stored_size_(first.width, first.height), square_size_(stored_size_) {
  if (const std::int32_t* matrix = DisplayMatrixOf(stream, first)) orientation_ = OrientationOf(matrix);
  // libav's guess only reads its arguments; its signature is older than const.
  const AVRational shape =
      av_guess_sample_aspect_ratio(&format, const_cast<AVStream*>(&stream), const_cast<AVFrame*>(&first));
  const double wide = shape.num > 0 && shape.den > 0 ? av_q2d(shape) : 1.0;
  // Beyond these bounds no camera's pixel lies: the field holds rubbish.
  if (wide != 1.0 && wide > 0.2 && wide < 5.0) {
    square_size_.width = std::max(1, static_cast<int>(std::lround(stored_size_.width * wide)));
  }
}

cv::Size PictureMaker::shown_size() const {
  return orientation_.transpose ? cv::Size(square_size_.height, square_size_.width) : square_size_;
}

Picture PictureMaker::Make(const AVFrame& frame) {
  size_changed_ = size_changed_ || cv::Size(frame.width, frame.height) != stored_size_;
  std::array<cv::Mat, 3> planes = Planes(frame);
  const auto finish = [this](const cv::Mat& plane, cv::Size size) {
    return Oriented(Resized(plane, size), orientation_);
  };
  Picture picture;
  picture.luma = finish(planes[0], square_size_);
  if (chroma_) {
    picture.cb = finish(planes[1], HalfOf(square_size_));
    picture.cr = finish(planes[2], HalfOf(square_size_));
  }
  return picture;
}

Picture PictureMaker::MakeStored(const AVFrame& frame) {
  size_changed_ = size_changed_ || cv::Size(frame.width, frame.height) != stored_size_;
  const std::array<cv::Mat, 3> planes = Planes(frame);
  Picture picture;
  picture.luma = Resized(planes[0], stored_size_);
  if (chroma_) {
    picture.cb = Resized(planes[1], HalfOf(stored_size_));
    picture.cr = Resized(planes[2], HalfOf(stored_size_));
  }
  return picture;
}

std::array<cv::Mat, 3> PictureMaker::Planes(const AVFrame& frame) {
  const AVPixFmtDescriptor* format = av_pix_fmt_desc_get(static_cast<AVPixelFormat>(frame.format));
  const std::uint64_t foreign = AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BITSTREAM |
                                AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_FLOAT;
  if (!format || (format->flags & foreign) || frame.linesize[0] <= 0) return PlanesByScaler(frame);
  const AVComponentDescriptor& y = format->comp[0];
  const int bytes = y.depth > 8 ? 2 : 1;
  const bool grey = format->nb_components < 3;
  const bool planar =
      grey || (format->comp[1].plane == 1 && format->comp[2].plane == 2 && format->comp[1].step == bytes);
  const bool paired =
      !grey && format->comp[1].plane == 1 && format->comp[2].plane == 1 && format->comp[1].step == 2 * bytes;
  const bool big_endian = bytes == 2 && (format->flags & AV_PIX_FMT_FLAG_BE);
  if (y.plane != 0 || y.step != bytes || y.offset != 0 || y.depth < 8 || y.depth > 16 || big_endian ||
      !(planar || paired)) {
    return PlanesByScaler(frame);
  }

  // Two half pictures of an interlaced one are a fiftieth of a second apart; only the first has the frame's time.
  if (frame.interlaced_frame) interlaced_ = true;
  const auto eight_bit = [&](const cv::Mat& plane, const AVComponentDescriptor& c) {
    const cv::Mat whole = EightBit(plane, c);
    return frame.interlaced_frame ? OneField(whole, frame.top_field_first ? 0 : 1) : whole;
  };

  const int depth = bytes == 2 ? CV_16U : CV_8U;
  const cv::Size size(frame.width, frame.height);
  std::array<cv::Mat, 3> planes;
  planes[0] = eight_bit(PlaneView(frame, 0, size, CV_MAKETYPE(depth, 1)), y);
  if (!chroma_) return planes;
  if (grey) {
    if (grey_chroma_.size() != HalfOf(size)) grey_chroma_ = cv::Mat(HalfOf(size), CV_8UC1, cv::Scalar(128));
    planes[1] = planes[2] = grey_chroma_;
    return planes;
  }
  const cv::Size chroma_size(AV_CEIL_RSHIFT(size.width, format->log2_chroma_w),
                             AV_CEIL_RSHIFT(size.height, format->log2_chroma_h));
  if (planar) {
    for (int i : {1, 2}) {
      planes[static_cast<size_t>(i)] =
          eight_bit(PlaneView(frame, i, chroma_size, CV_MAKETYPE(depth, 1)), format->comp[i]);
    }
  } else {
    const cv::Mat both = PlaneView(frame, 1, chroma_size, CV_MAKETYPE(depth, 2));
    for (int i : {1, 2}) {
      cv::Mat one;
      cv::extractChannel(both, one, format->comp[i].offset / bytes);
      planes[static_cast<size_t>(i)] = eight_bit(one, format->comp[i]);
    }
  }
  for (int i : {1, 2}) planes[static_cast<size_t>(i)] = Resized(planes[static_cast<size_t>(i)], HalfOf(size));
  return planes;
}

std::array<cv::Mat, 3> PictureMaker::PlanesByScaler(const AVFrame& frame) {
  const cv::Size size(frame.width, frame.height);
  std::array<cv::Mat, 3> planes = {cv::Mat(size, CV_8UC1), cv::Mat(HalfOf(size), CV_8UC1),
                                   cv::Mat(HalfOf(size), CV_8UC1)};
  scaler_.reset(sws_getCachedContext(scaler_.release(), frame.width, frame.height,
                                     static_cast<AVPixelFormat>(frame.format), frame.width, frame.height,
                                     AV_PIX_FMT_YUV420P, SWS_AREA | SWS_ACCURATE_RND, nullptr, nullptr, nullptr));
  if (!scaler_) {
    // A format that libswscale does not know: say so by a picture without content rather than by memory not written.
    for (cv::Mat& plane : planes) plane.setTo(128);
    return planes;
  }
  const int* rows = sws_getCoefficients(SWS_CS_ITU709);
  sws_setColorspaceDetails(scaler_.get(), rows, frame.color_range == AVCOL_RANGE_JPEG, rows, 0, 0, 1 << 16, 1 << 16);
  std::uint8_t* to[4] = {planes[0].data, planes[1].data, planes[2].data, nullptr};
  const int steps[4] = {static_cast<int>(planes[0].step[0]), static_cast<int>(planes[1].step[0]),
                        static_cast<int>(planes[2].step[0]), 0};
  sws_scale(scaler_.get(), frame.data, frame.linesize, 0, frame.height, to, steps);
  return planes;
}

}  // namespace hookline::media
