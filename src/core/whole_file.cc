#include "core/whole_file.h"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <system_error>

namespace hookline {

bool IsDeviceOrPipe(const std::string& file) {
  std::error_code failed;
  const auto status = std::filesystem::status(file, failed);
  return std::filesystem::exists(status) && !std::filesystem::is_regular_file(status) &&
         !std::filesystem::is_directory(status);
}

Status WriteWholeFile(const std::string& file, std::string_view content) {
  // A rename onto a device would put a plain file in its place, for every program of the machine when run by root.
  const bool direct = IsDeviceOrPipe(file);
  const std::string passing = direct ? file : file + ".part";
  std::error_code ignored;
  {
    std::ofstream out(passing, std::ios::binary | std::ios::trunc);
    out.write(content.data(), static_cast<std::streamsize>(content.size()));
    out.close();
    if (!out) {
      if (!direct) std::filesystem::remove(passing, ignored);
      return {StatusCode::kBadFile,
              file + " cannot be written; is the folder there, may you write to it, is the disk full?"};
    }
  }
  if (direct) return Status::Ok();
  std::error_code failed;
  std::filesystem::rename(passing, file, failed);
  if (failed) {
    std::filesystem::remove(passing, ignored);
    return {StatusCode::kBadFile, file + " cannot be written (" + failed.message() + ")."};
  }
  return Status::Ok();
}

Result<std::string> ReadWholeFile(const std::string& file) {
  std::error_code ignored;
  if (!std::filesystem::exists(file, ignored)) return Status(StatusCode::kBadFile, file + " does not exist.");
  if (std::filesystem::is_directory(file, ignored))
    return Status(StatusCode::kBadFile, file + " is a folder, not a file.");
  std::ifstream in(file, std::ios::binary);
  std::string content{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  if (!in) return Status(StatusCode::kBadFile, file + " cannot be read; may you read it?");
  return content;
}

}  // namespace hookline
