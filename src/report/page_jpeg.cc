#include "report/page_jpeg.h"

#include <turbojpeg.h>

namespace hookline::report {

Result<std::string> JpegFromBgr(const cv::Mat& bgr, int quality) {
  assert(bgr.type() == CV_8UC3 && !bgr.empty());
  const tjhandle handle = tjInitCompress();
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  const bool done = handle && tjCompress2(handle, bgr.data, bgr.cols, static_cast<int>(bgr.step), bgr.rows, TJPF_BGR,
                                          &bytes, &size, TJSAMP_420, quality, TJFLAG_ACCURATEDCT) == 0;
  std::string out;
  if (done) out.assign(reinterpret_cast<const char*>(bytes), size);
  if (bytes) tjFree(bytes);
  if (handle) tjDestroy(handle);
  if (!done) return Status(StatusCode::kInternal, "A picture could not be packed for the page.");
  return out;
}

}  // namespace hookline::report
